import { mkdirSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Day } from '../units/day.ts';
import { backupsToDelete, notGoodName, stemOf } from './compute.ts';
import { copyLedger } from './copy.ts';
import { examine, type Verdict } from './examining.ts';
import { freeName, removeWithHelpers, sizeOf, takeName, workingName } from './files.ts';
import { findBackups, ledgerIdIn } from './folder.ts';

/** A backup to be made. */
export interface BackupOrder {
  ledger: string;
  folder: string;
  /** Day and time that it is named by. */
  day: Day;
  time: string;
}

export interface MadeBackup {
  fileName: string;
  bytes: number;
  verdict: Verdict;
}

/**
 * Copies the ledger, runs every check on the copy, gives it its name, and takes away what need not be kept. Until it is
 * checked it has a name that nobody takes for a backup; one that does not hold says so in its name and pushes none out.
 * @param onCopied once the ledger itself is not needed any more
 */
export async function makeBackup(order: BackupOrder, onCopied: () => void = () => undefined): Promise<MadeBackup> {
  const { ledger, folder, day } = order;
  mkdirSync(folder, { recursive: true });
  const free = freeName(folder, stemOf(order), '.sqlite');
  const part = join(folder, `${free}.${process.pid}.part`);
  await copyLedger(ledger, part);
  onCopied();
  try {
    const verdict = examine(part, join(dirname(ledger), workingName('trying')));
    const isGood = verdict.found.length === 0;
    const fileName = isGood ? free : notGoodName(free);
    takeName(part, join(folder, fileName));
    if (isGood) prune(folder, fileName, day);
    return { fileName, bytes: sizeOf(join(folder, fileName)) ?? 0, verdict };
  } finally {
    removeWithHelpers(part);
  }
}

/** Deletes what need not be kept; only backups of the same ledger, and never the one just made. */
function prune(folder: string, justMade: string, today: Day): void {
  const id = ledgerIdIn(join(folder, justMade));
  const own = findBackups(folder).filter(({ file }) => ledgerIdIn(file) === id);
  for (const { fileName } of backupsToDelete(own, today)) {
    if (fileName !== justMade) rmSync(join(folder, fileName), { force: true });
  }
}
