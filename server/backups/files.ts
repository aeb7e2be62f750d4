import {
  closeSync,
  constants,
  copyFileSync,
  existsSync,
  fsyncSync,
  linkSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import { troubleOf } from '../db/trouble.ts';

const DISK: Readonly<Record<string, string>> = {
  ENOSPC: 'There is no room left on the disk. Make some room, then try again.',
  EDQUOT: 'There is no room left for this account on the disk. Make some room, then try again.',
  EACCES: 'The folder may not be written to by this account.',
  EPERM: 'The folder may not be written to by this account.',
  EROFS: 'The disk may be read but not written.',
  ENOENT: 'The folder is not there.',
  EIO: 'The disk did not take what was written. Look at the disk.',
};

/** Why files could not be written or read, in a sentence for the person. */
export function whyNot(error: unknown): string {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  return DISK[code] ?? troubleOf(error) ?? (error instanceof Error ? error.message : String(error));
}

/** A name for a file that this process works on; whoever finds it later sees by the number whether it is still needed. */
export const workingName = (what: 'restoring' | 'trying' | 'archiving'): string =>
  `${what}-${process.pid}-${Date.now().toString(36)}.sqlite`;

const WORKING = /^(?:restoring|trying|archiving)-(\d+)-\w+\.sqlite/;
const PART = /^tarebook-.*\.part(?:-\w+)?$/;
const A_DAY_MS = 86_400_000;

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return error instanceof Error && 'code' in error && error.code === 'EPERM';
  }
}

/**
 * Removes what a process left half done when it was killed. Among the backups only what is a day old: another computer
 * may be writing to the same folder.
 */
export function removeLeftovers(dataFolder: string, backupFolders: readonly string[]): void {
  for (const name of namesIn(dataFolder)) {
    const [, pid] = WORKING.exec(name) ?? [];
    if (pid !== undefined && !isAlive(Number.parseInt(pid, 10))) rmSync(join(dataFolder, name), { force: true });
  }
  for (const folder of backupFolders) {
    for (const name of namesIn(folder).filter((each) => PART.test(each))) {
      const written = statSync(join(folder, name), { throwIfNoEntry: false })?.mtimeMs ?? Date.now();
      if (Date.now() - written > A_DAY_MS) rmSync(join(folder, name), { force: true });
    }
  }
}

/** The names in a folder; none when it cannot be read. */
export function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch {
    return [];
  }
}

/** Waits until what was written to a file is on the disk itself. */
export function flushFile(file: string): void {
  const opened = openSync(file, 'r+');
  try {
    fsyncSync(opened);
  } finally {
    closeSync(opened);
  }
}

/** Waits until the names in a folder are on the disk. Windows and some sticks cannot; they keep names by themselves. */
export function flushFolder(folder: string): void {
  try {
    const opened = openSync(folder, 'r');
    try {
      fsyncSync(opened);
    } finally {
      closeSync(opened);
    }
  } catch {
    // Nothing else can be done about it here.
  }
}

/** Gives a file that is whole its name, so that nobody ever finds half of it under that name. */
export function takeName(part: string, file: string): void {
  flushFile(part);
  renameSync(part, file);
  flushFolder(dirname(file));
}

/** Bytes of a file, or null when there is none. */
export const sizeOf = (file: string): number | null => statSync(file, { throwIfNoEntry: false })?.size ?? null;

/** The file and what may lie beside it while it is open. */
export function removeWithHelpers(file: string): void {
  for (const ending of ['', '-journal', '-wal', '-shm']) rmSync(`${file}${ending}`, { force: true });
}

/**
 * Gives a closed file a second name, or makes a copy of it where the disk knows no second names (FAT, many sticks).
 * There is no moment without the first name.
 */
export function keepAside(file: string, aside: string): void {
  try {
    linkSync(file, aside);
  } catch {
    const part = `${aside}.part`;
    try {
      copyFileSync(file, part, constants.COPYFILE_FICLONE);
      takeName(part, aside);
    } catch (error) {
      rmSync(part, { force: true });
      throw error;
    }
  }
}

/** What a ledger is called after another took its place. */
export const BEFORE_RESTORE = /^ledger-before-restore-[\d-]+\.sqlite$/;

/** Takes away a second name of a file that a swap, cut off half-way, left behind: two names for one open ledger harm it. */
export function removeSecondNames(file: string): void {
  const own = statSync(file, { throwIfNoEntry: false, bigint: true });
  if (own === undefined || own.nlink < 2n) return;
  for (const name of readdirSync(dirname(file)).filter((each) => BEFORE_RESTORE.test(each))) {
    const other = statSync(join(dirname(file), name), { throwIfNoEntry: false, bigint: true });
    if (other?.ino === own.ino && other.dev === own.dev) rmSync(join(dirname(file), name));
  }
}

/** A name that is free in a folder: `stem.sqlite`, else `stem-2.sqlite` and so on. */
export function freeName(folder: string, stem: string, ending: string): string {
  for (let count = 1; ; count += 1) {
    const name = `${stem}${count === 1 ? '' : `-${count}`}${ending}`;
    if (!existsSync(join(folder, name))) return name;
  }
}
