import SqliteDatabase from 'better-sqlite3';

/** Why the ledger's file cannot be used at all, in one sentence for the person. */
export class LedgerFileError extends Error {}

/** What the ledger's file may suffer while it is in use, by the beginning of SQLite's code, and what to do about it. */
const TROUBLES: readonly (readonly [code: string, sentence: string])[] = [
  ['SQLITE_BUSY', 'The ledger is busy. Try again in a moment.'],
  ['SQLITE_FULL', 'There is no room left on the disk for the ledger. Make some room, then try again.'],
  ['SQLITE_READONLY', 'The ledger file may be read but not written here. Look at the rights of its folder.'],
  ['SQLITE_CANTOPEN', 'The ledger file cannot be opened. Look at the rights of its folder.'],
  ['SQLITE_IOERR', 'The disk did not take what was written. Nothing of it is in the ledger; look at the disk.'],
  ['SQLITE_NOTADB', 'The ledger file is damaged or not a ledger. Put a copy of it in its place.'],
  ['SQLITE_CORRUPT', 'The ledger file is damaged or not a ledger. Put a copy of it in its place.'],
];

/** One sentence about the ledger's file, or null for an error that is not about it. */
export function troubleOf(error: unknown): string | null {
  if (error instanceof LedgerFileError) return error.message;
  if (!(error instanceof SqliteDatabase.SqliteError)) return null;
  return TROUBLES.find(([code]) => error.code.startsWith(code))?.[1] ?? null;
}

/** Whether a row could not be deleted, or not added, because of what names it or what it names. */
export const isStillNamed = (error: unknown): boolean =>
  error instanceof SqliteDatabase.SqliteError && error.code === 'SQLITE_CONSTRAINT_FOREIGNKEY';
