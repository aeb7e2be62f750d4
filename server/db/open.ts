import { mkdirSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { Db } from './database.ts';
import { migrate } from './migrate.ts';
import { refuseForeign } from './recognise.ts';
import { DAMAGED, LedgerFileError } from './trouble.ts';

/** The smallest page that SQLite knows. */
const SMALLEST_LEDGER_BYTES = 512;

/** What the first ledger in memory was when it was new. To make the next one from nothing takes fifty times as long. */
let emptyLedger: Buffer | null = null;

/** Some network drives lack what two programs need to write to one file by turns. */
const NOT_HERE =
  'The ledger cannot be kept safely in this folder. TAREBOOK_DATA names another one, on a disk of this computer.';

/**
 * Opens a ledger file, makes it when it is not there, and brings it up to date.
 * Durability is asserted, not assumed: better-sqlite3 is built with synchronous=NORMAL for WAL, under which a power
 * cut may drop weights that the page already confirmed.
 * @param file path, or ':memory:' for a ledger that lives as long as the process
 * @param isCopy of a ledger that is kept elsewhere, which needs no backup before its format is changed
 */
export function openDb(file: string, { isCopy = false } = {}): Db {
  if (file !== ':memory:') {
    makeFolder(dirname(file));
    refuseScrap(file);
    refuseForeign(file);
  }
  const sqlite = new SqliteDatabase(file === ':memory:' ? (emptyLedger ?? file) : file, { timeout: 5000 });
  try {
    setUp(sqlite);
    migrate(sqlite, file, isCopy);
    if (file === ':memory:') emptyLedger ??= sqlite.serialize();
  } catch (error) {
    sqlite.close();
    throw error;
  }
  return new Db(sqlite);
}

/** Makes a folder where there is none. Throws LedgerFileError where that cannot be done. */
export function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true });
  } catch {
    throw new LedgerFileError(`The folder ${folder} cannot be made here. TAREBOOK_DATA names another one.`);
  }
}

/** SQLite takes the first bytes of a ledger for an empty file, and would write a new ledger over them. */
function refuseScrap(file: string): void {
  const found = statSync(file, { throwIfNoEntry: false });
  if (found?.isFile() && found.size > 0 && found.size < SMALLEST_LEDGER_BYTES) throw new LedgerFileError(DAMAGED);
}

function setUp(sqlite: SqliteDatabase.Database): void {
  const journal = sqlite.pragma('journal_mode = WAL', { simple: true });
  sqlite.pragma('synchronous = FULL');
  sqlite.pragma('foreign_keys = ON');
  // Four megabytes: while an export reads, what is written meanwhile comes on top, and together it is to stay small. A
  // weigh-in writes about a dozen pages; larger figures were tried and gave no more weigh-ins.
  sqlite.pragma('wal_autocheckpoint = 1000');
  // What a large import left behind is cut off again.
  sqlite.pragma('journal_size_limit = 8388608');
  // What an act inside an act may have to take back is kept in memory, not in a file beside the ledger.
  sqlite.pragma('temp_store = MEMORY');
  if (!sqlite.memory && journal !== 'wal') throw new LedgerFileError(NOT_HERE);
  const synchronous = sqlite.pragma('synchronous', { simple: true });
  if (synchronous !== 2) throw new Error(`SQLite runs with synchronous=${synchronous}, expected 2 (FULL).`);
}
