import SqliteDatabase from 'better-sqlite3';

/** Why the ledger's file cannot be used at all, in one sentence for the person. */
export class LedgerFileError extends Error {}

const NO_ROOM = 'There is no room left on the disk for the ledger. Make some room, then try again.';
/** Said of a file that SQLite cannot read as one, or that ends too early to be one. */
export const DAMAGED =
  'The ledger file is damaged or not a ledger, and nothing is written to it. On the computer, stop Tarebook and bring ' +
  'the last good backup back: npm run restore.';

/**
 * What the ledger's file may suffer while it is in use, by the beginning of SQLite's code, and what to do about it. The
 * first that fits counts.
 */
const TROUBLES: readonly (readonly [code: string, sentence: string])[] = [
  ['SQLITE_BUSY', 'The ledger is busy. Try again in a moment.'],
  ['SQLITE_FULL', NO_ROOM],
  // What two programs share of the ledger lies in a file beside it, which could not grow.
  ['SQLITE_IOERR_SHMSIZE', NO_ROOM],
  ['SQLITE_READONLY', 'The ledger file may be read but not written here. Look at the rights of its folder.'],
  ['SQLITE_CANTOPEN', 'The ledger file cannot be opened. Look at the rights of its folder.'],
  ['SQLITE_IOERR_READ', 'The ledger cannot be read from the disk. Look at the disk, and copy what is on it.'],
  ['SQLITE_IOERR_SHORT_READ', DAMAGED],
  ['SQLITE_IOERR', 'The disk did not take what was written. Nothing of it is in the ledger; look at the disk.'],
  ['SQLITE_NOTADB', DAMAGED],
  ['SQLITE_CORRUPT', DAMAGED],
];

/** What the folder for temporary files may suffer, where the files of a form wait until all of them are read. */
function troubleOfTemporaryFiles(error: Error & { code?: unknown; syscall?: unknown }): string | null {
  if (error.code === 'ENOSPC' || error.code === 'EDQUOT') {
    return 'There is no room left on the disk for what was sent. Make some room, then send it again.';
  }
  if (error.syscall !== 'mkdtemp') return null;
  return 'The computer’s folder for temporary files cannot be written. Look at its rights, then send it again.';
}

const sqliteCode = (error: unknown): string | null => (error instanceof SqliteDatabase.SqliteError ? error.code : null);

/** One sentence about the ledger's file or the disk, or null for an error that is not about them. */
export function troubleOf(error: unknown): string | null {
  if (error instanceof LedgerFileError) return error.message;
  const code = sqliteCode(error);
  if (code !== null) return TROUBLES.find(([beginning]) => code.startsWith(beginning))?.[1] ?? null;
  return error instanceof Error ? troubleOfTemporaryFiles(error) : null;
}

/** The same where nothing else can be done with the ledger: whatever SQLite says of it is why. */
export function whyUnusable(error: unknown): string | null {
  const trouble = troubleOf(error);
  if (trouble !== null || !(error instanceof SqliteDatabase.SqliteError)) return trouble;
  return `The ledger cannot be used (${error.message}). If it could before, bring the last good backup back: npm run restore.`;
}

/** Whether another program is writing to the file, or holds it. */
export const isBusy = (error: unknown): boolean => sqliteCode(error)?.startsWith('SQLITE_BUSY') === true;

/** Whether the ledger's file itself is damaged, so that nothing more may be written to it. */
export function isDamage(error: unknown): boolean {
  const code = sqliteCode(error);
  return code !== null && TROUBLES.find(([beginning]) => code.startsWith(beginning))?.[1] === DAMAGED;
}

/** Whether a row could not be deleted, or not added, because of what names it or what it names. */
export const isStillNamed = (error: unknown): boolean => sqliteCode(error) === 'SQLITE_CONSTRAINT_FOREIGNKEY';
