import { rmSync } from 'node:fs';
import SqliteDatabase from 'better-sqlite3';
import { flushFile, removeWithHelpers, takeName } from './files.ts';

/** So many pages that a ledger has never as many. */
const ALL_PAGES = 0x7fff_ffff;

/**
 * Copies a ledger that may be in use, as it is at one moment, into a new file, by the database's own way of doing so.
 * In one step: from a second connection, a copy in several steps begins anew whenever somebody writes, and under a
 * steady bench would never end. Whoever writes meanwhile does not wait for it.
 * @param part of a name that nobody takes for a backup; removed again when it fails
 */
export async function copyLedger(ledger: string, part: string): Promise<void> {
  removeWithHelpers(part);
  const sqlite = new SqliteDatabase(ledger, { fileMustExist: true, timeout: 5000 });
  try {
    await sqlite.backup(part, { progress: () => ALL_PAGES });
    makePlain(part);
    flushFile(part);
  } catch (error) {
    removeWithHelpers(part);
    throw error;
  } finally {
    sqlite.close();
  }
}

/**
 * Makes a copy one plain file, beside which nothing is needed and nothing appears when it is opened to be read. Held
 * exclusively, because shared memory is what sticks and network folders cannot do.
 */
export function makePlain(file: string): void {
  const sqlite = new SqliteDatabase(file, { fileMustExist: true });
  try {
    sqlite.pragma('locking_mode = EXCLUSIVE');
    sqlite.pragma('journal_mode = DELETE');
  } finally {
    sqlite.close();
  }
}

/**
 * Copies a ledger aside before its format changes, all at once, and looks whether the copy is whole. Throws what went
 * wrong; then there is no copy.
 */
export function copyAtOnce(sqlite: SqliteDatabase.Database, part: string, file: string): void {
  rmSync(part, { force: true });
  try {
    sqlite.prepare('VACUUM INTO ?').run(part);
    makePlain(part);
    const copy = new SqliteDatabase(part, { readonly: true });
    const found = copy.pragma('integrity_check', { simple: true });
    copy.close();
    if (found !== 'ok') throw new Error(`the copy is not whole: ${found}`);
    takeName(part, file);
  } catch (error) {
    removeWithHelpers(part);
    throw error;
  }
}
