import { existsSync, mkdirSync, realpathSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, isAbsolute, join, relative, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import SqliteDatabase from 'better-sqlite3';
import { accepted, type Read, refused } from '../units/result.ts';
import { type BackupName, readBackupName, sortNewestFirst } from './compute.ts';
import { namesIn, sizeOf } from './files.ts';

const PROGRAM = fileURLToPath(new URL('../..', import.meta.url));

/** Where backups go unless the person chose another folder: beside the ledger. */
export const ownFolder = (ledgerFile: string): string => join(dirname(ledgerFile), 'backups');

/** Tries whether a file can be written there, as nothing else tells for sure. */
function canWriteIn(folder: string): boolean {
  const probe = join(folder, `.tarebook-${process.pid}.probe`);
  try {
    writeFileSync(probe, 'probe');
    return true;
  } catch {
    return false;
  } finally {
    rmSync(probe, { force: true });
  }
}

/**
 * The folder that the next backup goes to: the chosen one as long as it is there and can be written to, else our own.
 * A chosen folder is never made anew here: where a stick was pulled, its folder would come to lie on this disk.
 */
export function targetFolder(chosen: string, own: string): { folder: string; isElsewhere: boolean } {
  if (chosen === '') return { folder: own, isElsewhere: false };
  const isThere = existsSync(chosen) && canWriteIn(chosen);
  return { folder: isThere ? chosen : own, isElsewhere: !isThere };
}

const isWithin = (folder: string, outer: string): boolean => {
  const way = relative(outer, folder);
  return way === '' || (!way.startsWith('..') && !isAbsolute(way));
};

/** The folder as the disk knows it, by the nearest one above it that is there. */
function realOf(folder: string): string {
  if (existsSync(folder)) return realpathSync(folder);
  const above = dirname(folder);
  return above === folder ? folder : join(realOf(above), relative(above, folder));
}

/**
 * Reads the folder that a person typed, and makes it when it is not there. '' stands for Tarebook's own.
 * @returns the folder, or a sentence about what is wrong with it
 */
export function readFolder(typed: string, own: string): Read<string> {
  if (typed === '') return accepted('');
  if (/\p{C}/u.test(typed) || typed.length > 500) return refused('This cannot be the name of a folder.');
  if (!isAbsolute(typed))
    return refused('Write the whole path of the folder, from the top, as a file manager shows it.');
  const folder = realOf(resolve(typed));
  if (folder === realOf(own)) return accepted('');
  if (isWithin(folder, realOf(PROGRAM))) {
    return refused('This is inside Tarebook’s own folder. Choose one outside, best on another disk.');
  }
  if (existsSync(folder) && !statSync(folder).isDirectory()) return refused('This is a file, not a folder.');
  // A name that is mistyped near its beginning is no folder that anybody wants made.
  if (!existsSync(folder) && !existsSync(dirname(folder))) {
    return refused(`There is no folder ${dirname(folder)}. Is the stick or disk plugged in?`);
  }
  try {
    if (!existsSync(folder)) mkdirSync(folder);
  } catch {
    return refused('This folder is not there and cannot be made. Is the stick or disk plugged in?');
  }
  return canWriteIn(folder)
    ? accepted(folder)
    : refused('Nothing can be written into this folder. Choose another one.');
}

/** A backup as it lies in a folder. */
export interface FoundBackup extends BackupName {
  folder: string;
  file: string;
  bytes: number;
}

/** The backups in a folder, the newest first, whoever's they are; none where there is no folder. */
export function findBackups(folder: string): FoundBackup[] {
  return sortNewestFirst(namesIn(folder).flatMap((name) => readBackupName(name) ?? [])).flatMap((backup) => {
    const file = join(folder, backup.fileName);
    const bytes = statSync(file, { throwIfNoEntry: false })?.isFile() ? sizeOf(file) : null;
    return bytes === null ? [] : [{ ...backup, folder, file, bytes }];
  });
}

/** Which ledger a backup is of: '' for one of a format before that was noted; null when it cannot be read. */
export function ledgerIdIn(file: string): string | null {
  try {
    const sqlite = new SqliteDatabase(file, { readonly: true, fileMustExist: true });
    try {
      return (
        (sqlite.prepare("select value from setting where name = 'ledger_id'").pluck().get() as string | undefined) ?? ''
      );
    } finally {
      sqlite.close();
    }
  } catch {
    return null;
  }
}

/** Whether both lie on one disk, so that one broken disk takes both along. */
export const isOnSameDisk = (folder: string, file: string): boolean =>
  statSync(existsSync(folder) ? folder : dirname(file), { throwIfNoEntry: false })?.dev ===
  statSync(file, { throwIfNoEntry: false })?.dev;
