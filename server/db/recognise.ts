import { existsSync } from 'node:fs';
import SqliteDatabase from 'better-sqlite3';
import { refuseNewer } from './migrate.ts';
import { LedgerFileError } from './trouble.ts';

/** Tables that every ledger has had since its first format. */
const ALWAYS_THERE = ['account', 'balance', 'in_weight', 'manifest_line', 'ticket_line', 'transfer'];

/**
 * Looks at a file before anything is set in it, and leaves one that is not to be used byte for byte as it is: one of
 * another program, or of a newer Tarebook. A file that is not there yet, or empty, may become a ledger.
 * Throws LedgerFileError.
 */
export function refuseForeign(file: string): void {
  if (!existsSync(file)) return;
  // What a stopped process left in the write-ahead log is taken into the file by the last one to close it, unless that
  // one may only read; and one that may only read leaves a new log lying there.
  const sqlite = new SqliteDatabase(file, { readonly: existsSync(`${file}-wal`), timeout: 5000 });
  try {
    // Nothing is written by it, but what lies in the log may be taken into the file when it is closed.
    sqlite.pragma('synchronous = FULL');
    if (!isOurs(sqlite)) {
      throw new LedgerFileError(
        `${file} is not a ledger but a file of another program. Nothing was changed in it. ` +
          'Move it elsewhere, or name another folder in TAREBOOK_DATA.',
      );
    }
    refuseNewer(sqlite);
  } finally {
    sqlite.close();
  }
}

function isOurs(sqlite: SqliteDatabase.Database): boolean {
  const number = (name: string) => sqlite.pragma(name, { simple: true }) as number;
  const tables = sqlite.prepare("SELECT name FROM sqlite_master WHERE type = 'table'").pluck().all() as string[];
  if (number('application_id') !== 0) return false;
  return tables.length === 0 || (number('user_version') > 0 && ALWAYS_THERE.every((name) => tables.includes(name)));
}
