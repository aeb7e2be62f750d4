import { setTimeout } from 'node:timers/promises';
import type SqliteDatabase from 'better-sqlite3';
import type { Db } from './database.ts';
import { isBusy } from './trouble.ts';

/**
 * How much longer than SQLite itself a post waits for its turn, because nobody waits with it: 15 seconds, less than the
 * silence after which its connection would be cut.
 */
const LONGER = 3;
const BETWEEN_TRIES_MS = 25;

/** How long SQLite itself waits, and the statements that say so, kept because every post needs them. */
interface Waits {
  usualMs: number;
  none: SqliteDatabase.Statement;
  usual: SqliteDatabase.Statement;
}
/** By the open file, which another may take the place of. */
const waits = new WeakMap<SqliteDatabase.Database, Waits>();

function waitsOf({ sqlite }: Db): Waits {
  let known = waits.get(sqlite);
  if (known === undefined) {
    const usualMs = sqlite.pragma('busy_timeout', { simple: true }) as number;
    const waitFor = (ms: number) => sqlite.prepare(`pragma busy_timeout = ${ms}`);
    known = { usualMs, none: waitFor(0), usual: waitFor(usualMs) };
    waits.set(sqlite, known);
  }
  return known;
}

/** Runs `act` now, or throws SQLITE_BUSY at once when another program is writing. */
export function atOnce<Result>(db: Db, act: () => Result): Result {
  // Nobody else can have a ledger that lives in memory only.
  if (db.sqlite.memory) return act();
  const { none, usual } = waitsOf(db);
  none.get();
  try {
    return act();
  } finally {
    usual.get();
  }
}

/**
 * Runs an act, which writes in one transaction, as soon as no other program writes to the ledger: a file that a command
 * brings in keeps the ledger for seconds. SQLite's own wait would stop this thread, and with it every page for everybody;
 * here only the one who posted waits. Throws SQLITE_BUSY when it takes too long.
 */
export async function inTurn<Result>(db: Db, act: () => Result): Promise<Result> {
  const from = performance.now();
  for (;;) {
    try {
      return atOnce(db, act);
    } catch (error) {
      if (!isBusy(error) || performance.now() - from > LONGER * waitsOf(db).usualMs) throw error;
    }
    await setTimeout(BETWEEN_TRIES_MS);
  }
}

/** Resolves when no other program writes, for what writes by itself or bit by bit. */
export const untilFree = (db: Db): Promise<void> => inTurn(db, () => db.transaction(() => undefined));

/** Does what may as well be left out, unless another program is writing just then. */
export function ifFree(db: Db, act: () => void): void {
  try {
    atOnce(db, act);
  } catch (error) {
    if (!isBusy(error)) throw error;
  }
}
