import { closeSync, constants, copyFileSync, existsSync, openSync, readSync, realpathSync, statSync } from 'node:fs';
import { basename, join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { localTime, systemClock } from '../clock.ts';
import { openLedger } from '../context.ts';
import { Db } from '../db/database.ts';
import { newestFormat } from '../db/migrate.ts';
import { openDb } from '../db/open.ts';
import { takeServingLock } from '../db/serving.ts';
import { troubleOf } from '../db/trouble.ts';
import { noteEvent } from '../trail.ts';
import { makePlain } from './copy.ts';
import { formatOf, type Verdict, verdictOf } from './examining.ts';
import { flushFile, freeName, removeSecondNames, removeWithHelpers, whyNot, workingName } from './files.ts';
import { handOver } from './handover.ts';
import { type EntriesBeyond, entriesBeyond, type KeptHere, keptHere, ledgerId, putKeptHere } from './queries.ts';
import { RestoreError } from './restore-error.ts';
import { swapIn } from './swap.ts';
import { unpackLedger } from './unpacking.ts';

/** How long a running server may take to look for what was prepared. */
const PATIENCE_MS = 20_000;

/** A file that is ready to take the ledger's place, and what is in it. */
export interface Prepared {
  fresh: string;
  verdict: Verdict;
  /** What the ledger until now has beyond it; null where there is none, or it cannot be read any more. */
  beyond: EntriesBeyond | null;
  /** Whether it is of another ledger than the one that is here. */
  isOther: boolean;
}

export interface RestorePlan {
  /** The backup or archive. It is only read. */
  source: string;
  /** The ledger that it is to replace; may be missing or damaged. */
  ledger: string;
  dataFolder: string;
  /** Told of each step before the next. */
  onStep?: (step: string) => void;
}

/**
 * Copies a backup, or the ledger of an archive, into the data folder, brings it to today's form and runs every check on
 * it. The ledger is not touched. @throws RestoreError with nothing left behind
 */
export async function prepareRestore(plan: RestorePlan): Promise<Prepared> {
  const { source, ledger, dataFolder, onStep = () => undefined } = plan;
  refuseOddSource(source, ledger);
  const fresh = join(dataFolder, workingName('restoring'));
  try {
    await takeCopy(source, fresh);
    onStep('copied');
    refuseOddFormat(fresh);
    const kept = readKept(ledger);
    const db = openDb(fresh, { isCopy: true });
    let verdict: Verdict;
    let isOther = false;
    let beyond: EntriesBeyond | null = null;
    try {
      onStep('opened');
      verdict = verdictOf(db);
      onStep('checked');
      isOther = kept !== null && kept.ledgerId !== '' && kept.ledgerId !== ledgerId(db);
      if (!isOther) beyond = withLedgerHere(ledger, (here) => entriesBeyond(here, db));
      if (verdict.found.length > 0) throw new RestoreError(`This backup does not hold. ${verdict.found.join(' ')}`);
      putKeptHere(db, kept, systemClock.now());
      noteEvent(openLedger(db, systemClock, 'the command line'), 'restored the ledger', 'file', 0, {
        detail: basename(source),
      });
    } finally {
      db.close();
    }
    makePlain(fresh);
    flushFile(fresh);
    onStep('prepared');
    return { fresh, verdict, beyond, isOther };
  } catch (error) {
    removeWithHelpers(fresh);
    throw error instanceof RestoreError || troubleOf(error) !== null ? error : new RestoreError(whyNot(error));
  }
}

function refuseOddSource(source: string, ledger: string): void {
  const found = statSync(source, { throwIfNoEntry: false });
  if (found === undefined) throw new RestoreError(`There is no file ${source}.`);
  if (!found.isFile()) throw new RestoreError(`${source} is a folder, not a file.`);
  if (existsSync(ledger) && realpathSync(source) === realpathSync(ledger)) {
    throw new RestoreError('This is the ledger itself. Name a backup of it.');
  }
}

const ZIP_MARK = 'PK';

function beginsAsArchive(file: string): boolean {
  const opened = openSync(file, 'r');
  try {
    const head = Buffer.alloc(ZIP_MARK.length);
    readSync(opened, head);
    return head.toString('latin1') === ZIP_MARK;
  } finally {
    closeSync(opened);
  }
}

/**
 * A ledger's file that was copied with its helper file beside it has its newest entries in there: both are read as one,
 * by the database's own way, which is right also where somebody has it open.
 */
async function takeCopy(source: string, fresh: string): Promise<void> {
  if (beginsAsArchive(source)) return unpackLedger(source, fresh);
  if (!existsSync(`${source}-wal`)) return copyFileSync(source, fresh, constants.COPYFILE_FICLONE);
  const sqlite = new SqliteDatabase(source, { readonly: true });
  try {
    await sqlite.backup(fresh, { progress: () => 0x7fff_ffff });
  } finally {
    sqlite.close();
  }
}

function refuseOddFormat(fresh: string): void {
  makePlainIfPossible(fresh);
  const format = formatOf(fresh);
  if (format === 0) throw new RestoreError('This file is damaged or not a ledger of Tarebook.');
  if (format <= newestFormat()) return;
  throw new RestoreError(
    `This backup was made by a newer Tarebook (format ${format}, this one knows ${newestFormat()}). Use that one.`,
  );
}

function makePlainIfPossible(file: string): void {
  try {
    makePlain(file);
  } catch {
    // Not a ledger, which is said right after.
  }
}

/** What is to stay as it is whatever is restored; null where the ledger is gone or cannot be read. */
const readKept = (ledger: string): (KeptHere & { ledgerId: string }) | null =>
  withLedgerHere(ledger, (db) => ({ ...keptHere(db), ledgerId: ledgerId(db) }));

/** Reads the ledger that is here; null where there is none, or it cannot be read. */
function withLedgerHere<Result>(ledger: string, read: (db: Db) => Result): Result | null {
  if (!existsSync(ledger)) return null;
  try {
    const db = new Db(new SqliteDatabase(ledger, { readonly: true, timeout: 5000 }));
    try {
      return read(db);
    } finally {
      db.close();
    }
  } catch {
    return null;
  }
}

/** Only looks whether a backup could be restored, and throws the result away. */
export async function tryRestore(plan: RestorePlan): Promise<Prepared> {
  const prepared = await prepareRestore(plan);
  removeWithHelpers(prepared.fresh);
  return prepared;
}

/**
 * Puts what was prepared in the ledger's place: by itself, or through the server that runs on it.
 * @returns the name of the ledger until now, null where there was none
 * @throws RestoreError with everything as it was
 */
export async function putInPlace(prepared: Prepared, plan: RestorePlan): Promise<string | null> {
  const { ledger, dataFolder, onStep } = plan;
  const { day, time } = localTime(systemClock.now());
  const aside = freeName(dataFolder, `ledger-before-restore-${day}-${time.replace(':', '')}`, '.sqlite');
  const wasThere = existsSync(ledger);
  const lock = takeServingLock(dataFolder);
  try {
    if (lock !== null) {
      removeSecondNames(ledger);
      swapIn({ ledger, fresh: prepared.fresh, aside: join(dataFolder, aside) }, onStep);
    } else {
      const handed = await handOver(dataFolder, { fresh: basename(prepared.fresh), aside }, PATIENCE_MS);
      if (!handed.isTaken) throw new RestoreError(handed.why);
    }
    return wasThere ? aside : null;
  } catch (error) {
    removeWithHelpers(prepared.fresh);
    throw error;
  } finally {
    lock?.release();
  }
}
