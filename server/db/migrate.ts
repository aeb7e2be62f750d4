import { mkdirSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type SqliteDatabase from 'better-sqlite3';
import { stemOf } from '../backups/compute.ts';
import { copyAtOnce } from '../backups/copy.ts';
import { freeName, whyNot } from '../backups/files.ts';
import { ownFolder, targetFolder } from '../backups/folder.ts';
import { localTime } from '../clock.ts';
import { sealWhatIsThere } from './seals.ts';
import { LedgerFileError } from './trouble.ts';

const FOLDER = new URL('../../migrations/', import.meta.url);

/** The numbered SQL files of migrations/, in order. */
function migrations(): { version: number; name: string }[] {
  return readdirSync(FOLDER)
    .filter((name) => /^\d{4}_.*\.sql$/.test(name))
    .sort()
    .map((name) => ({ version: Number(name.slice(0, 4)), name }));
}

/** The format that this Tarebook writes. */
export const newestFormat = (): number => migrations().at(-1)?.version ?? 0;

/** Throws LedgerFileError for a ledger written by a newer Tarebook: it is refused rather than guessed at. */
export function refuseNewer(sqlite: SqliteDatabase.Database): void {
  const current = sqlite.pragma('user_version', { simple: true }) as number;
  const newest = newestFormat();
  if (current > newest) {
    throw new LedgerFileError(
      `This ledger was written by a newer Tarebook (format ${current}, this one knows ${newest}). Use that one.`,
    );
  }
}

/**
 * Applies what is missing, each file in its own transaction; user_version holds the last one. A ledger with content is
 * copied into the backups first.
 * @param isCopy of a ledger that is kept elsewhere, so that no backup of it is needed
 */
export function migrate(sqlite: SqliteDatabase.Database, file: string, isCopy: boolean): void {
  const current = sqlite.pragma('user_version', { simple: true }) as number;
  const all = migrations();
  const newest = newestFormat();
  refuseNewer(sqlite);
  const missing = all.filter((migration) => migration.version > current);
  if (missing.length > 0 && current > 0 && file !== ':memory:' && !isCopy) backUpBefore(sqlite, file, newest);
  for (const { version, name } of missing) {
    const sql = readFileSync(new URL(name, FOLDER), 'utf8');
    sqlite
      .transaction(() => {
        // Another process may have got here first while this one waited for the lock.
        if ((sqlite.pragma('user_version', { simple: true }) as number) >= version) return;
        sqlite.exec(sql);
        sealWhatIsThere(sqlite);
        sqlite.pragma(`user_version = ${version}`);
      })
      .immediate();
  }
}

/** The ledger as it is, among the backups, or nothing is changed. */
function backUpBefore(sqlite: SqliteDatabase.Database, file: string, newest: number): void {
  try {
    const chosen = sqlite.prepare("select value from setting where name = 'backup_folder'").pluck().get();
    const { folder } = targetFolder(String(chosen ?? ''), ownFolder(file));
    mkdirSync(folder, { recursive: true });
    const stem = stemOf(localTime(new Date().toISOString()), newest);
    const name = freeName(folder, stem, '.sqlite');
    copyAtOnce(sqlite, join(folder, `${name}.${process.pid}.part`), join(folder, name));
  } catch (error) {
    const say =
      'This Tarebook keeps the ledger in a newer form and backs it up first. That failed, so nothing was changed.';
    throw new LedgerFileError(`${say} ${whyNot(error)}`);
  }
}
