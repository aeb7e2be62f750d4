import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { fixedClock } from '../server/clock.ts';
import { type Ledger, openLedger } from '../server/context.ts';
import type { Db } from '../server/db/database.ts';
import { openDb } from '../server/db/open.ts';
import { importFile } from '../server/files/acts.ts';
import { findExport, writeExport } from '../server/files/exports/names.ts';
import { findImportKind } from '../server/files/imports/kinds.ts';
import { benchToday, setUp } from './fill.ts';
import { median } from './pages.ts';

const ROUNDS = 4;

/** What each kind of row becomes, in an order in which every reference is already there. */
const TABLES = {
  'in-weights': ['in_weight', 'transfer'],
  'ticket-lines': [
    'ticket',
    'ticket_line',
    'ticket_line_load',
    'transfer',
    'reconciliation_group',
    'reconciliation_share',
  ],
} as const;
type Kind = keyof typeof TABLES;

export interface ImportRates {
  kind: Kind;
  rows: number;
  importMs: number;
  bareMs: number;
  /** What the bare inserts take of the import's time, within a round. */
  share: number;
}

type Row = Record<string, unknown>;

const milliseconds = (act: () => void): number => {
  const begun = performance.now();
  act();
  return performance.now() - begun;
};

function bringIn(ledger: Ledger, name: string, text: string): void {
  const kind = findImportKind(name);
  if (kind === undefined) throw new Error(`no file of ${name}`);
  const { problems } = importFile(ledger, kind, Buffer.from(text), false);
  if (problems.length > 0) throw new Error(`${name}: ${problems[0]?.sentence}`);
}

const hasId = ({ sqlite }: Db, table: string): boolean =>
  sqlite.prepare("SELECT 1 FROM pragma_table_info(?) WHERE name = 'id'").get(table) !== undefined;

/** The newest id of a table; 0 of one that has none, which is empty before the import. */
const newest = (db: Db, table: string): number =>
  hasId(db, table) ? (db.sqlite.prepare(`SELECT coalesce(max(id), 0) FROM ${table}`).pluck().get() as number) : 0;

/** The rows of the tables from some id on, as lists of values under their insert. */
function rowsSince(db: Db, tables: readonly string[], since: ReadonlyMap<string, number>) {
  return tables.map((table) => {
    const newer = hasId(db, table) ? `WHERE id > ${since.get(table) ?? 0}` : '';
    const rows = db.sqlite.prepare(`SELECT * FROM ${table} ${newer}`).all() as Row[];
    // Not the seals: the other ledger puts its own on, as by its triggers it does everything else.
    for (const row of rows) delete row.seal;
    const columns = Object.keys(rows[0] ?? {});
    const insert = `INSERT INTO ${table} (${columns.join(', ')}) VALUES (${columns.map(() => '?').join(', ')})`;
    return { insert, rows: rows.map((row) => Object.values(row)) };
  });
}

/**
 * Brings a file in by its import, then the very rows that it became by bare prepared inserts into another ledger that
 * stands as the first one did, with the same triggers and indexes, in one transaction.
 */
function timeRound(folder: string, kind: Kind, files: Readonly<Record<string, string>>): ImportRates {
  const paths = [join(folder, 'import.sqlite'), join(folder, 'bare-import.sqlite')];
  const [db, bare] = paths.map((path) => openDb(path)) as [Db, Db];
  for (const each of [db, bare]) {
    setUp(each);
    const ledger = openLedger(each, fixedClock(benchToday));
    if (kind === 'ticket-lines') for (const name of ['in-weights', 'loads']) bringIn(ledger, name, files[name] ?? '');
  }
  const ledger = openLedger(db, fixedClock(benchToday));
  const since = new Map(TABLES[kind].map((table) => [table, newest(db, table)]));
  const text = files[kind] ?? '';
  const importMs = milliseconds(() => bringIn(ledger, kind, text));
  const inserts = rowsSince(db, TABLES[kind], since);
  const bareMs = milliseconds(() =>
    bare.transaction(() => {
      for (const { insert, rows } of inserts) {
        const statement = bare.sqlite.prepare(insert);
        for (const row of rows) statement.run(...row);
      }
    }),
  );
  for (const each of [db, bare]) each.close();
  for (const path of paths) for (const part of ['', '-wal', '-shm']) rmSync(path + part, { force: true });
  return { kind, rows: text.split('\r\n').length - 2, importMs, bareMs, share: bareMs / importMs };
}

/** Imports of in-weights and ticket lines of the usual ledger. */
export function timeImports(folder: string, usual: Db): ImportRates[] {
  const ledger = openLedger(usual, fixedClock(benchToday));
  const write = (name: string): [string, string] => {
    const file = findExport(name);
    return [name, file === undefined ? '' : writeExport(ledger, file, {})];
  };
  const files = Object.fromEntries(['in-weights', 'loads', 'ticket-lines'].map(write));
  return (['in-weights', 'ticket-lines'] as const).map((kind) => {
    const rounds = Array.from({ length: ROUNDS }, () => timeRound(folder, kind, files));
    const mid = (figure: (round: ImportRates) => number) => median(rounds.map(figure));
    return {
      kind,
      rows: rounds[0]?.rows ?? 0,
      importMs: mid((round) => round.importMs),
      bareMs: mid((round) => round.bareMs),
      share: mid((round) => round.share),
    };
  });
}
