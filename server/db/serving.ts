import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { makeFolder } from './open.ts';
import { isBusy } from './trouble.ts';

/** How long to wait for a server that is just closing. */
const CLOSING_MS = 500;

/** That this process, and no other, serves the ledger of a folder or puts another in its place. */
export interface ServingLock {
  release(): void;
}

/**
 * Takes the lock of a ledger's folder: a small file of its own that is held open in an exclusive transaction, so that
 * the operating system lets go of it when the process ends, however it ends.
 * @returns null when another process has it. Throws LedgerFileError or SqliteError when the folder cannot be used
 */
export function takeServingLock(folder: string): ServingLock | null {
  makeFolder(folder);
  const sqlite = new SqliteDatabase(join(folder, 'serving.sqlite'), { timeout: CLOSING_MS });
  try {
    sqlite.exec('begin exclusive');
    // A server that could not start after all leaves nothing of it behind.
    const close = () => void sqlite.close();
    process.once('exit', close);
    return {
      release() {
        process.off('exit', close);
        close();
      },
    };
  } catch (error) {
    sqlite.close();
    if (isBusy(error)) return null;
    throw error;
  }
}
