import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import type { FastifyInstance } from 'fastify';
import { sql } from 'kysely';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { demoToday } from '../../seed/demo.ts';
import { closeToNetwork } from '../../server/access/acts.ts';
import { passphraseHash } from '../../server/access/queries.ts';
import { buildApp } from '../../server/app.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { writeExport } from '../../server/files/exports/names.ts';
import { onHand } from '../../server/files/exports/on-hand.ts';
import { settleIfDue } from '../../server/layers/settle.ts';
import { itemSharesOff, layersOff } from '../../server/layers/verify.ts';
import { rebuildGroups } from '../../server/reconciliation/queries.ts';
import { comparisonsAtYard, readKnownScales } from '../../server/scales/comparisons.ts';
import { day } from '../../server/units/day.ts';
import { get } from '../helper.ts';
import { contentOf, formats, keptFormats, type Shape, shapeOf, unpack } from '../ledgers/kept.ts';

// A ledger of every format that ever landed, as the Tarebook of that time wrote it, opened by this one.

/** Formats that landed together with the next one, so that no ledger was ever left at them. */
const NEVER_ALONE: readonly number[] = [6, 7, 9, 10];

test('every format has its ledger in the repository; tests/ledgers/README.md says how the newest gets its own', () => {
  expect(keptFormats).toEqual(formats.filter((format) => !NEVER_ALONE.includes(format)));
});

describe.each(keptFormats)('a ledger of format %i', (format) => {
  let folder: string;
  let before: { shape: Shape; content: Record<string, string[]>; bins: [string, number][] };
  let db: Db;
  let ledger: Ledger;
  let app: FastifyInstance;

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'tarebook-kept-'));
    const file = join(folder, 'ledger.sqlite');
    unpack(format, file);
    const plain = new Database(file, { readonly: true });
    expect(plain.pragma('user_version', { simple: true })).toBe(format);
    const shape = shapeOf(plain);
    before = { shape, content: contentOf(plain, shape), bins: binsIn(plain) };
    plain.close();
    db = openDb(file);
    ledger = openLedger(db, fixedClock(demoToday));
    app = await buildApp({ db, clock: fixedClock(demoToday) });
  });
  afterAll(async () => {
    await app.close();
    db.close();
    rmSync(folder, { recursive: true, force: true });
  });

  test('is of the newest format afterwards and holds every invariant', () => {
    expect(db.sqlite.pragma('user_version', { simple: true })).toBe(formats.at(-1));
    expect(checkLedger(ledger).filter((check) => check.found.length > 0)).toEqual([]);
  });

  test('has the layers of its bins after the next start, as if they had been kept all along', () => {
    settleIfDue(db);
    expect(db.many(sql`select account_id from layer_queue where stale_on is not null`)).toEqual([]);
    expect(db.many(sql`select account_id from layer_queue where rest <> '[]'`).length).toBeGreaterThan(0);
    expect([...layersOff(db), ...itemSharesOff(db)]).toEqual([]);
  });

  test('has every row as it was', () => {
    const count = Object.values(before.content).flat().length;
    expect(count).toBeGreaterThan(4000);
    for (const table of ['in_weight', 'recount', 'transfer', 'manifest', 'load_return', 'ticket', 'event', 'request']) {
      expect([table, (before.content[table] ?? []).length > 0]).toEqual([table, true]);
    }
    expect(contentOf(db.sqlite, before.shape)).toEqual(before.content);
  });

  test('shows in its files what its transfers added up to', () => {
    const rows = writeExport(ledger, onHand, { unit: 'g' }).trim().split('\r\n').slice(1);
    // A bin's code may hold commas and quotes; its weight is the last but three.
    const shown = rows.map((row) => row.split(',').at(-4));
    expect(before.bins.length).toBeGreaterThan(20);
    expect(shown).toEqual(before.bins.map(([, micrograms]) => (micrograms / 1_000_000).toFixed(4)));
  });

  test('keeps the sums for intervals that would have been kept all along', () => {
    const months = () =>
      db.sqlite.prepare('select * from sale_month order by month, grade_id, yard_id').all() as Record<
        string,
        unknown
      >[];
    const found = months();
    const undo = new Error('put back');
    expect(() =>
      db.transaction(() => {
        for (const id of db.sqlite.prepare('select id from manifest').pluck().all())
          rebuildGroups(ledger, id as number);
        expectAlmost(found, months());
        throw undo;
      }),
    ).toThrow(undo);
  });

  test('answers on its pages and gives all of its files', async () => {
    if (passphraseHash(db) !== undefined) closeToNetwork(ledger);
    for (const url of pagesOf(db)) {
      const { statusCode, body } = await get(app, url);
      expect([url, statusCode]).toEqual([url, 200]);
      expect([url, body.length > 0]).toEqual([url, true]);
    }
  });
});

/** The open bins and what is in them, from the transfers alone. */
const binsIn = (plain: Database.Database): [string, number][] =>
  plain
    .prepare(
      `select bin.code, coalesce((select sum(mass_ug) from transfer where to_account_id = account.id), 0)
          - coalesce((select sum(mass_ug) from transfer where from_account_id = account.id), 0)
        from bin join account on account.bin_id = bin.id where bin.closed_on is null order by bin.id`,
    )
    .raw()
    .all() as [string, number][];

function expectAlmost(found: Record<string, unknown>[], due: Record<string, unknown>[]): void {
  expect(found).toHaveLength(due.length);
  for (const [index, row] of found.entries()) {
    for (const [name, value] of Object.entries(row)) {
      const other = due[index]?.[name];
      if (typeof value !== 'number' || Number.isInteger(value)) expect([name, value]).toEqual([name, other]);
      else expect(Math.abs(value / (other as number) - 1)).toBeLessThan(1e-9);
    }
  }
}

function pagesOf(db: Db): string[] {
  // The newest ones have the hostile words; of the demo before them a few are enough.
  const each = (sql: string) =>
    (db.sqlite.prepare(sql).pluck().all() as (string | number)[]).filter(
      (_, at, { length }) => at % 8 === 0 || at > length - 12,
    );
  return [
    ...[
      '/',
      '/weigh-in',
      '/prices',
      '/manifests',
      '/tickets',
      '/in-weights',
      '/setup',
      '/setup/bins',
      '/trail',
      '/setup/tags',
    ],
    ...['/reports/realised-prices', '/reports/shrinkage', '/reports/scales', '/setup/files', '/find?q=copper'],
    ...each('select code from bin order by id').map((code) => `/bins/${encodeURIComponent(code)}`),
    ...each('select id from manifest').map((id) => `/manifests/${id}`),
    ...each('select id from ticket').map((id) => `/tickets/${id}`),
    ...['/items', '/setup/item-kinds', '/bench/wire', '/bench/stripping', '/reports/earnings', '/worth'],
    ...each('select id from item').flatMap((id) => [`/items/${id}`, `/items/${id}/sales`, `/items/${id}/worth`]),
    ...each("select id from item where status in ('waiting', 'taken apart')").map((id) => `/items/${id}/teardown`),
    ...each('select id from attachment').flatMap((id) => [`/files/${id}`, `/photos/${id}`]),
    ...each('select id from manifest').map((id) => `/manifests/${id}/sheet`),
    ...each('select id from grade').map((id) => `/prices/grades/${id}`),
    ...['in-weights', 'loads', 'ticket-lines', 'ticket-totals', 'reconciliation', 'quotes'].map(
      (name) => `/export/${name}.csv`,
    ),
    ...['items', 'item-kinds', 'earnings', 'item-earnings'].map((name) => `/export/${name}.csv`),
  ];
}

test('the weighings behind book weights are found where the first format kept none, and are those kept since', () => {
  const verdicts = (format: number) => {
    const folder = mkdtempSync(join(tmpdir(), 'tarebook-kept-'));
    unpack(format, join(folder, 'ledger.sqlite'));
    const db = openDb(join(folder, 'ledger.sqlite'));
    // Without a further scale for steel, which the first format did not know.
    db.sqlite.exec('delete from yard_scale_family');
    const period = { yardId: 1, from: day('2025-09-01'), until: day('2026-04-01') };
    const found = comparisonsAtYard(openLedger(db, fixedClock(demoToday)), readKnownScales(db), period);
    const kept = db.sqlite.prepare('select count(*) from load_weighing').pluck().get() as number;
    db.close();
    rmSync(folder, { recursive: true });
    return { kept, verdicts: found.map(({ ticketNumber, labels, verdict }) => [ticketNumber, labels, verdict]) };
  };
  const [first, second] = [verdicts(1), verdicts(2)];
  expect([first.kept, second.kept > 0]).toEqual([0, true]);
  expect(first.verdicts.length).toBeGreaterThan(10);
  expect(first.verdicts).toEqual(second.verdicts);
});
