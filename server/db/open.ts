import { mkdirSync } from 'node:fs';
import { dirname } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { Db } from './database.ts';
import { migrate } from './migrate.ts';

/**
 * Opens a ledger file, makes it when it is not there, and brings it up to date.
 * Durability is asserted, not assumed: better-sqlite3 is built with synchronous=NORMAL for WAL, under which a power
 * cut may drop weights that the page already confirmed.
 * @param file path, or ':memory:' for a ledger that lives as long as the process
 */
export function openDb(file: string): Db {
  if (file !== ':memory:') mkdirSync(dirname(file), { recursive: true });
  const sqlite = new SqliteDatabase(file, { timeout: 5000 });
  sqlite.pragma('journal_mode = WAL');
  sqlite.pragma('synchronous = FULL');
  sqlite.pragma('foreign_keys = ON');
  const synchronous = sqlite.pragma('synchronous', { simple: true });
  if (synchronous !== 2) throw new Error(`SQLite runs with synchronous=${synchronous}, expected 2 (FULL).`);
  migrate(sqlite, file);
  return new Db(sqlite);
}
