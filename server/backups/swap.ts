import { existsSync, renameSync, rmSync } from 'node:fs';
import { dirname } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { lastEntryFile } from '../config.ts';
import { flushFolder, keepAside } from './files.ts';

/** How long to wait for a command that has the ledger open. */
const COMMAND_MS = 1000;

export interface Swap {
  /** The ledger; may be missing or damaged. */
  ledger: string;
  /** A checked ledger, plain and closed, in the same folder. */
  fresh: string;
  /** What the ledger is called afterwards, in the same folder. */
  aside: string;
}

/**
 * Puts a checked file in the place of the ledger, which nobody of this process has open, and keeps the ledger beside it
 * with everything that was ever entered. At each moment one of the two is in place: the ledger first gets its second
 * name, and then one renaming takes its first name from it.
 * @param onStep is told of each step, before the next one
 * @throws SqliteError SQLITE_BUSY when another program has the ledger open; then everything is as before
 */
export function swapIn({ ledger, fresh, aside }: Swap, onStep: (step: string) => void = () => undefined): void {
  const isThere = existsSync(ledger);
  const held = isThere ? settle(ledger) : null;
  onStep('settled');
  try {
    if (isThere) keepAside(ledger, aside);
    onStep('kept');
    // Of a ledger that is gone or could not be settled, the newest entries are in its helper file: they go along.
    if (held === null) moveHelpers(ledger, aside);
    // Windows renames over no file that is open; there, whoever opens it now makes the renaming fail instead.
    if (process.platform === 'win32') held?.close();
    renameSync(fresh, ledger);
    // What was the newest entry of the one is not that of the other.
    rmSync(lastEntryFile(ledger), { force: true });
    onStep('swapped');
    flushFolder(dirname(ledger));
  } finally {
    held?.close();
  }
}

/**
 * Takes all newest entries into the ledger's own file, so that nothing lies beside it, and keeps every other program
 * out until it is closed. One that has opened it and waits sees that the file was moved, and does not write to it.
 * @returns the open file, or null when it is too damaged for that
 */
function settle(ledger: string): SqliteDatabase.Database | null {
  if (!isReadable(ledger)) return null;
  const sqlite = new SqliteDatabase(ledger, { fileMustExist: true, timeout: COMMAND_MS });
  try {
    sqlite.pragma('journal_mode = DELETE');
    sqlite.exec('begin exclusive');
    return sqlite;
  } catch (error) {
    sqlite.close();
    if (isDamage(error)) return null;
    throw error;
  }
}

/** Looked at without being able to write: of a file that is damaged, closing it would throw its helper file away. */
function isReadable(ledger: string): boolean {
  try {
    const sqlite = new SqliteDatabase(ledger, { readonly: true, timeout: COMMAND_MS });
    try {
      sqlite.prepare('select count(*) from sqlite_master').get();
    } finally {
      sqlite.close();
    }
    return true;
  } catch (error) {
    return !isDamage(error);
  }
}

const isDamage = (error: unknown): boolean =>
  error instanceof SqliteDatabase.SqliteError && /^SQLITE_(CORRUPT|NOTADB|IOERR)/.test(error.code);

/** Nothing of an earlier ledger may be left beside the name of another one. */
function moveHelpers(ledger: string, aside: string): void {
  for (const ending of ['-wal', '-journal']) {
    if (existsSync(`${ledger}${ending}`)) renameSync(`${ledger}${ending}`, `${aside}${ending}`);
  }
  rmSync(`${ledger}-shm`, { force: true });
}
