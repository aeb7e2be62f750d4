import SqliteDatabase from 'better-sqlite3';
import { checkLedger } from '../../server/check/checks.ts';
import { openLedger } from '../../server/context.ts';
import { Db } from '../../server/db/database.ts';
import { knowSeals } from '../../server/db/seals.ts';
import { clock } from '../helper.ts';

/**
 * Everything that is in a ledger, row by row of every table, with what the tables are: two ledgers with the same text
 * are the same to whoever reads them. Null when it cannot be read whole.
 */
export function everythingIn(file: string): string | null {
  try {
    const sqlite = new SqliteDatabase(file, { readonly: true });
    try {
      const made = sqlite.prepare('select type, name, sql from sqlite_master order by type, name').all() as {
        type: string;
        name: string;
      }[];
      const tables = made.filter(({ type }) => type === 'table').map(({ name }) => name);
      const rows = tables.map((name) => [name, sqlite.prepare(`select * from "${name}" not indexed`).raw().all()]);
      const version = sqlite.pragma('user_version');
      return JSON.stringify([version, made, rows], (_, cell) => (Buffer.isBuffer(cell) ? cell.toString('hex') : cell));
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
    knowSeals(sqlite);
    return checkLedger(openLedger(new Db(sqlite), clock)).filter(({ found }) => found.length > 0);
  } finally {
    sqlite.close();
  }
}
