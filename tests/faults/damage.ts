import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { fillDemo } from '../../seed/demo.ts';
import { keepFiles } from '../../server/attachments/acts.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { openLedger } from '../../server/context.ts';
import { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { clock } from '../helper.ts';
import { somePdf } from '../pictures.ts';
import type { Running } from './server.ts';

/** How the search keeps its words: read by way of what it finds, because how it is laid out says nothing to anybody. */
const LAID_OUT = ['found_data', 'found_idx'];

/** What the search finds, word by word and by the beginnings of words that it keeps apart. */
function everythingFound(sqlite: SqliteDatabase.Database): unknown[] {
  sqlite.exec("create virtual table temp.words using fts5vocab(main, 'found', 'instance')");
  const words = sqlite.prepare('select term, doc, col, offset from temp.words').raw().all() as [string][];
  const beginnings = new Set(words.flatMap(([word]) => [2, 3, 4].map((length) => [...word].slice(0, length).join(''))));
  const find = sqlite.prepare('select rowid from found where found match ? order by rowid').pluck();
  return [words, ...[...beginnings].sort().map((begin) => [begin, find.all(`"${begin}"*`)])];
}

/**
 * Everything that is in a ledger, row by row of every table, with what the tables are: two ledgers with the same text
 * are the same to whoever reads them. Null when it cannot be read whole. Sums of squares, from which intervals of three
 * digits come, are compared to six.
 */
export function everythingIn(file: string): string | null {
  try {
    const sqlite = new SqliteDatabase(file, { readonly: true });
    try {
      const made = sqlite.prepare('select type, name, sql from sqlite_master order by type, name').all() as {
        type: string;
        name: string;
      }[];
      const tables = made.filter(({ type, name }) => type === 'table' && !LAID_OUT.includes(name));
      const rows = tables.map(({ name }) => [name, sqlite.prepare(`select * from "${name}" not indexed`).raw().all()]);
      const version = sqlite.pragma('user_version');
      return JSON.stringify([version, made, rows, everythingFound(sqlite)], (_, cell) => {
        if (Buffer.isBuffer(cell)) return cell.toString('hex');
        return typeof cell === 'number' && !Number.isInteger(cell) ? cell.toPrecision(6) : cell;
      });
    } finally {
      sqlite.close();
    }
  } catch {
    return null;
  }
}

/** What the check finds broken in a ledger's file, by a connection that changes nothing of it. */
export function brokenIn(file: string): { name: string; found: string[] }[] {
  const sqlite = new SqliteDatabase(file, { readonly: true });
  try {
    return checkLedger(openLedger(new Db(sqlite), clock)).filter(({ found }) => found.length > 0);
  } finally {
    sqlite.close();
  }
}

export const DAMAGED =
  'The ledger file is damaged or not a ledger, and nothing is written to it. On the computer, stop Tarebook and bring ' +
  'the last good backup back: npm run restore.';

/** The bytes of a ledger that has something of everything, and all that is in it. */
export function soundLedger(): { good: Buffer; everything: string } {
  const folder = mkdtempSync(join(tmpdir(), 'tarebook-fixture-'));
  const file = join(folder, 'ledger.sqlite');
  const ledger = openLedger(openDb(file), clock);
  fillDemo(ledger.db);
  const bytes = somePdf('a paper', 20_000);
  const paper = { content: 'pdf', name: 'a.pdf', sha256: 'a'.repeat(64), width: null, height: null } as const;
  keepFiles(ledger, { kind: 'bin', ids: [1] }, [{ ...paper, whole: () => bytes, preview: null }], 'A caption');
  ledger.db.close();
  const everything = everythingIn(file) ?? '';
  const broken = brokenIn(file);
  const good = readFileSync(file);
  rmSync(folder, { recursive: true, force: true });
  if (broken.length > 0 || everything.length < 100_000) throw new Error('the ledger to damage is not sound itself');
  return { good, everything };
}

/** A ledger's folder for one test, and the server that runs on it. */
export class Victim {
  readonly folder = mkdtempSync(join(tmpdir(), 'tarebook-damaged-'));
  readonly file = join(this.folder, 'ledger.sqlite');
  server: Running | null = null;

  /** Puts a file in the place of the ledger, without anything of an earlier one beside it. */
  put(bytes: Uint8Array): void {
    rmSync(this.folder, { recursive: true, force: true });
    mkdirSync(this.folder);
    writeFileSync(this.file, bytes);
  }

  async remove(): Promise<void> {
    await this.server?.end();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
