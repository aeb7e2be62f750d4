import { existsSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { writeHoldings, writeSize } from '../backups/compute.ts';
import { copyLedger } from '../backups/copy.ts';
import { examine, type Verdict } from '../backups/examining.ts';
import { removeWithHelpers, sizeOf, takeName, whyNot, workingName } from '../backups/files.ts';
import { ownFolder, targetFolder } from '../backups/folder.ts';
import { makeBackup } from '../backups/making.ts';
import { chosenFolder, insertNote } from '../backups/queries.ts';
import { localTime, systemClock } from '../clock.ts';
import { CommandError, complain, existingLedger, runCommand, withLedger } from './command.ts';

/** `npm run backup [-- FILE]`: among the other backups, or into a file of one's own, which no later one takes away. */
runCommand(async (args) => {
  const [file, ...rest] = args;
  if (rest.length > 0 || file?.startsWith('--'))
    throw new CommandError('Say npm run backup, or npm run backup -- FILE.');
  try {
    return file === undefined ? await amongTheOthers() : await intoFile(resolve(file));
  } catch (error) {
    if (error instanceof CommandError) throw error;
    throw new CommandError(`The backup could not be made. ${whyNot(error)}`);
  }
});

async function amongTheOthers(): Promise<number> {
  const { file: ledger } = existingLedger();
  const chosen = withLedger(false, ({ db }) => chosenFolder(db));
  const { folder, isElsewhere } = targetFolder(chosen, ownFolder(ledger));
  if (isElsewhere) complain(`${chosen} is not there, so the backup goes to ${folder}.`);
  const now = systemClock.now();
  const { fileName, bytes, verdict } = await makeBackup({ ledger, folder, ...localTime(now) });
  withLedger(false, ({ db }) => {
    insertNote(db, {
      kind: verdict.found.length === 0 ? 'made' : 'not good',
      occasion: 'by command',
      folder,
      file_name: fileName,
      byte_count: bytes,
      last_event_id: verdict.lastEventId,
      sentence: verdict.found.join(' '),
      recorded_at: now,
    });
  });
  return say(join(folder, fileName), verdict);
}

async function intoFile(file: string): Promise<number> {
  const { file: ledger, dataFolder } = existingLedger();
  if (existsSync(file)) {
    const isFolder = statSync(file).isDirectory();
    throw new CommandError(
      `${file} is ${isFolder ? 'a folder: name a file in it' : 'there already: name a new file'}.`,
    );
  }
  if (!existsSync(dirname(file))) throw new CommandError(`There is no folder ${dirname(file)}.`);
  const part = `${file}.${process.pid}.part`;
  try {
    await copyLedger(ledger, part);
    const verdict = examine(part, join(dataFolder, workingName('trying')));
    takeName(part, file);
    return say(file, verdict);
  } finally {
    removeWithHelpers(part);
  }
}

function say(file: string, { found, holdings }: Verdict): number {
  const size = writeSize(sizeOf(file) ?? 0);
  if (found.length === 0) {
    console.log(`${file} is a good backup: ${holdings === null ? '' : writeHoldings(holdings)}, ${size}.`);
    return 0;
  }
  complain(`${file} does not hold, so the ledger itself is damaged or the disk does not keep what it is given.`);
  for (const sentence of found) complain(sentence);
  return 1;
}
