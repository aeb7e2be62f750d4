import { readdirSync, readFileSync } from 'node:fs';
import type SqliteDatabase from 'better-sqlite3';
import { sealWhatIsThere } from './seals.ts';
import { LedgerFileError } from './trouble.ts';

/** The migration that gives every row a seal; what was there before gets its own in the same transaction. */
const SEALED_SINCE = 6;

const FOLDER = new URL('../../migrations/', import.meta.url);

/** The numbered SQL files of migrations/, in order. */
function migrations(): { version: number; name: string }[] {
  return readdirSync(FOLDER)
    .filter((name) => /^\d{4}_.*\.sql$/.test(name))
    .sort()
    .map((name) => ({ version: Number(name.slice(0, 4)), name }));
}

/** Throws LedgerFileError for a ledger written by a newer Tarebook: it is refused rather than guessed at. */
export function refuseNewer(sqlite: SqliteDatabase.Database): void {
  const current = sqlite.pragma('user_version', { simple: true }) as number;
  const newest = migrations().at(-1)?.version ?? 0;
  if (current > newest) {
    throw new LedgerFileError(
      `This ledger was written by a newer Tarebook (format ${current}, this one knows ${newest}). Use that one.`,
    );
  }
}

/**
 * Applies what is missing, each file in its own transaction; user_version holds the last one. A ledger with content is
 * copied aside first.
 */
export function migrate(sqlite: SqliteDatabase.Database, file: string): void {
  const current = sqlite.pragma('user_version', { simple: true }) as number;
  const all = migrations();
  const newest = all.at(-1)?.version ?? 0;
  refuseNewer(sqlite);
  const missing = all.filter((migration) => migration.version > current);
  if (missing.length > 0 && current > 0 && file !== ':memory:') {
    sqlite.prepare('VACUUM INTO ?').run(`${file}.before-${String(newest).padStart(4, '0')}-${Date.now()}`);
  }
  for (const { version, name } of missing) {
    const sql = readFileSync(new URL(name, FOLDER), 'utf8');
    sqlite
      .transaction(() => {
        // Another process may have got here first while this one waited for the lock.
        if ((sqlite.pragma('user_version', { simple: true }) as number) >= version) return;
        sqlite.exec(sql);
        if (version === SEALED_SINCE) sealWhatIsThere(sqlite);
        sqlite.pragma(`user_version = ${version}`);
      })
      .immediate();
  }
}
