import { constants, copyFileSync } from 'node:fs';
import SqliteDatabase from 'better-sqlite3';
import { checkLedger } from '../check/checks.ts';
import { systemClock } from '../clock.ts';
import { openLedger } from '../context.ts';
import { Db } from '../db/database.ts';
import { newestFormat } from '../db/migrate.ts';
import { openDb } from '../db/open.ts';
import type { Holdings } from './compute.ts';
import { removeWithHelpers, whyNot } from './files.ts';
import { holdingsOf, lastEntry } from './queries.ts';

/** What was found when a backup was opened and every check of the ledger was run on it. */
export interface Verdict {
  /** What does not hold, a sentence each; none for a good one. */
  found: string[];
  holdings: Holdings | null;
  lastEventId: number;
  /** The moment of the last entry, as a UTC instant. */
  lastAt: string | null;
}

const MOST_SAID = 5;
const NOT_A_LEDGER = 'The file is damaged or not a ledger of Tarebook.';

/** The format of a ledger file; 0 for a file that is none, or is too damaged to tell. */
export function formatOf(file: string): number {
  try {
    const sqlite = new SqliteDatabase(file, { readonly: true, fileMustExist: true });
    try {
      const hasTrail = sqlite.prepare("select 1 from sqlite_master where name = 'event'").get() !== undefined;
      return hasTrail ? (sqlite.pragma('user_version', { simple: true }) as number) : 0;
    } finally {
      sqlite.close();
    }
  } catch {
    return 0;
  }
}

/**
 * Opens a plain backup and runs every check on it; the file itself is only read. One of an older format is brought to
 * today's in a file of its own first, which is thrown away.
 * @param work where that file may be
 */
export function examine(file: string, work: string): Verdict {
  const format = formatOf(file);
  if (format === 0) return bad([NOT_A_LEDGER]);
  if (format > newestFormat()) return bad([`It was written by a newer Tarebook (format ${format}).`]);
  if (format === newestFormat()) return withOpen(new Db(new SqliteDatabase(file, { readonly: true })));
  try {
    copyFileSync(file, work, constants.COPYFILE_FICLONE);
    return withOpen(openDb(work, { isCopy: true }));
  } catch (error) {
    return bad([`It could not be brought to today’s form. ${whyNot(error)}`]);
  } finally {
    removeWithHelpers(work);
  }
}

const bad = (found: string[]): Verdict => ({ found, holdings: null, lastEventId: 0, lastAt: null });

function withOpen(db: Db): Verdict {
  try {
    return verdictOf(db);
  } finally {
    db.close();
  }
}

/** Every check on an open ledger, and what it holds. */
export function verdictOf(db: Db): Verdict {
  try {
    const broken = checkLedger(openLedger(db, systemClock)).flatMap(({ name, found }) =>
      found.map((what) => `Does not hold: ${name} (${what}).`),
    );
    const said = broken.slice(0, MOST_SAID);
    if (broken.length > MOST_SAID) said.push(`And ${broken.length - MOST_SAID} more.`);
    const { id, at } = lastEntry(db);
    return { found: said, holdings: holdingsOf(db), lastEventId: id, lastAt: at };
  } catch {
    return bad([NOT_A_LEDGER]);
  }
}
