import { mkdirSync } from 'node:fs';
import { dirname } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { Db } from './database.ts';
import { migrate } from './migrate.ts';
import { LedgerFileError } from './trouble.ts';

/**
 * Opens a ledger file, makes it when it is not there, and brings it up to date.
 * Durability is asserted, not assumed: better-sqlite3 is built with synchronous=NORMAL for WAL, under which a power
 * cut may drop weights that the page already confirmed.
 * @param file path, or ':memory:' for a ledger that lives as long as the process
 */
export function openDb(file: string): Db {
  if (file !== ':memory:') makeFolder(dirname(file));
  const sqlite = new SqliteDatabase(file, { timeout: 5000 });
  try {
    setUp(sqlite);
    migrate(sqlite, file);
  } catch (error) {
    sqlite.close();
    throw error;
  }
  return new Db(sqlite);
}

function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true });
  } catch {
    throw new LedgerFileError(`The folder ${folder} cannot be made here. TAREBOOK_DATA names another one.`);
  }
}

function setUp(sqlite: SqliteDatabase.Database): void {
  sqlite.pragma('journal_mode = WAL');
  sqlite.pragma('synchronous = FULL');
  sqlite.pragma('foreign_keys = ON');
  // Four megabytes: while an export reads, what is written meanwhile comes on top, and together it is to stay small. A
  // weigh-in writes about a dozen pages; larger figures were tried and gave no more weigh-ins.
  sqlite.pragma('wal_autocheckpoint = 1000');
  // What a large import left behind is cut off again.
  sqlite.pragma('journal_size_limit = 8388608');
  // What an act inside an act may have to take back is kept in memory, not in a file beside the ledger.
  sqlite.pragma('temp_store = MEMORY');
  const synchronous = sqlite.pragma('synchronous', { simple: true });
  if (synchronous !== 2) throw new Error(`SQLite runs with synchronous=${synchronous}, expected 2 (FULL).`);
}
