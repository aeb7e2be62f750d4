import { existsSync, readFileSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import type { Db } from '../db/database.ts';
import { openDb } from '../db/open.ts';
import { troubleOf } from '../db/trouble.ts';
import { BEFORE_RESTORE, takeName } from './files.ts';
import { swapIn } from './swap.ts';

// A restore while the server runs: the command prepares and checks the file, and leaves a note in the data folder. The
// server looks for it every second, takes the note away under another name, so that either it or the command has it,
// and swaps. That the prepared file has left its name is the sign that it is in place.

const NOTE = 'restore-ready.json';
const TAKEN = 'restore-taken.json';
const REFUSED = 'restore-refused.json';
const LOOK_MS = 1000;
/** How long the server may be at it once it has taken the note. */
const AT_WORK_MS = 120_000;
/** A note older than this is of a command that is gone. */
const OLD_MS = 60_000;
const PREPARED = /^restoring-[\w-]+\.sqlite$/;

interface Note {
  fresh: string;
  aside: string;
}

const withoutFail = (act: () => void): boolean => {
  try {
    act();
    return true;
  } catch {
    return false;
  }
};

/** Names as the command writes them, without a folder; null for anything else. */
function readNote(file: string): Note | null {
  try {
    const { fresh, aside } = JSON.parse(readFileSync(file, 'utf8')) as Record<string, unknown>;
    if (typeof fresh !== 'string' || typeof aside !== 'string') return null;
    return PREPARED.test(fresh) && BEFORE_RESTORE.test(aside) ? { fresh, aside } : null;
  } catch {
    return null;
  }
}

export interface Watch {
  db: Db;
  /** The ledger's file, whose folder is watched. */
  ledger: string;
  /** Whether a backup is just being written from the open file. */
  isBusy: () => boolean;
  /** Called once another ledger is in place; `aside` is the name that the one before has now. */
  onSwapped: (aside: string) => void;
}

/** Looks every second for a file that a restore has prepared, and puts it in the ledger's place. @returns how to stop */
export function watchForRestore(folder: string, watch: Watch): () => void {
  for (const name of [NOTE, TAKEN, REFUSED]) rmSync(join(folder, name), { force: true });
  const timer = setInterval(() => {
    if (existsSync(join(folder, NOTE)) && !watch.isBusy()) takeOver(folder, watch);
  }, LOOK_MS);
  timer.unref();
  return () => clearInterval(timer);
}

/** One step from the note to the reopened ledger, so that no request comes in between. */
function takeOver(folder: string, { db, ledger, onSwapped }: Watch): void {
  const taken = join(folder, TAKEN);
  const age = Date.now() - statSync(join(folder, NOTE)).mtimeMs;
  if (!withoutFail(() => renameSync(join(folder, NOTE), taken))) return;
  const note = readNote(taken);
  rmSync(taken, { force: true });
  if (note === null || age > OLD_MS || !existsSync(join(folder, note.fresh))) return;
  try {
    db.exchange(
      () => swapIn({ ledger, fresh: join(folder, note.fresh), aside: join(folder, note.aside) }),
      () => openDb(ledger).sqlite,
    );
    onSwapped(note.aside);
  } catch (error) {
    const why = troubleOf(error) ?? (error instanceof Error ? error.message : String(error));
    withoutFail(() => writeFileSync(join(folder, REFUSED), why));
  }
}

/** What became of a file that was handed to the server: in place, or why not. */
export type HandedOver = { isTaken: true } | { isTaken: false; why: string };

/**
 * Hands a prepared file to the server that runs on the ledger, and waits until it is in place.
 * @param patienceMs how long the server may take to look for it
 */
export async function handOver(folder: string, note: Note, patienceMs: number): Promise<HandedOver> {
  const [file, refused] = [join(folder, NOTE), join(folder, REFUSED)];
  rmSync(refused, { force: true });
  const part = join(folder, `${note.fresh}.note`);
  writeFileSync(part, JSON.stringify(note));
  takeName(part, file);
  const begun = Date.now();
  let isWithdrawn = false;
  while (existsSync(join(folder, note.fresh))) {
    if (existsSync(refused)) return { isTaken: false, why: readAndRemove(refused) };
    if (isWithdrawn) return { isTaken: false, why: NOT_TAKEN };
    const waited = Date.now() - begun;
    // Whoever takes the note away has it. Where the server did, it is at work: a large ledger on a slow disk takes long.
    if (waited > patienceMs) isWithdrawn = withoutFail(() => rmSync(file)) || waited > patienceMs + AT_WORK_MS;
    await wait(100);
  }
  return { isTaken: true };
}

const NOT_TAKEN = 'The Tarebook that runs on this ledger did not take it. Stop it, then run this command again.';

function readAndRemove(file: string): string {
  const text = readFileSync(file, 'utf8');
  rmSync(file, { force: true });
  return text;
}
