import { createWriteStream, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { writeArchive } from '../backups/archive.ts';
import { writeHoldings } from '../backups/compute.ts';
import { takeName, whyNot, workingName } from '../backups/files.ts';
import { findExport, ledgerExports, reportExports, writeExport } from '../files/exports/names.ts';
import { CommandError, complain, existingLedger, runCommand, withLedger } from './command.ts';

const USAGE = `Say what to export: npm run export -- NAME [FILE] [--unit=kg]. NAME is ${[
  ...ledgerExports,
  ...reportExports,
]
  .map(({ name }) => name)
  .join(', ')}, or archive, which is everything in one file and needs a FILE.`;

const ARCHIVE = 'archive';
const OPTIONS = ['unit', 'by', 'grade', 'yard', 'split', 'from', 'to'];

/** `npm run export -- NAME [FILE] [--unit=kg]`: to stdout without FILE. Filters of a report's page go the same way. */
runCommand((args) => {
  const [name, file, ...rest] = args.filter((arg) => !arg.startsWith('--'));
  if (name === undefined || rest.length > 0) throw new CommandError(USAGE);
  if (name === ARCHIVE) return exportArchive(file);
  const found = findExport(name);
  if (found === undefined) throw new CommandError(`There is no “${name}” to export. ${USAGE}`);
  const asked = readOptions(args.filter((arg) => arg.startsWith('--')));
  const csv = withLedger(false, (ledger) => writeExport(ledger, found, asked));
  if (file === undefined) process.stdout.write(csv);
  else writeWhole(file, csv);
  return 0;
});

/** Everything in one zip file. It gets its name once it is whole. */
async function exportArchive(file: string | undefined): Promise<number> {
  if (file === undefined) throw new CommandError('Name a file for it: npm run export -- archive FILE.');
  const { file: ledger, dataFolder } = existingLedger();
  const part = `${file}.${process.pid}.part`;
  try {
    const verdict = await writeArchive(ledger, join(dataFolder, workingName('archiving')), () =>
      createWriteStream(part),
    );
    takeName(part, file);
    console.log(`${file} has ${verdict.holdings === null ? 'what could be read' : writeHoldings(verdict.holdings)}.`);
    for (const sentence of verdict.found) complain(sentence);
    return verdict.found.length === 0 ? 0 : 1;
  } catch (error) {
    rmSync(part, { force: true });
    throw new CommandError(`The archive could not be made. ${whyNot(error)}`);
  }
}

function readOptions(args: readonly string[]): Record<string, string> {
  const options: Record<string, string> = {};
  for (const arg of args) {
    const [, name = '', value = ''] = /^--([a-z]+)=(.*)$/s.exec(arg) ?? [];
    if (!OPTIONS.includes(name)) throw new CommandError(`“${arg}” is not an option here. ${USAGE}`);
    options[name] = value;
  }
  return options;
}

/** Writes beside the file first and then takes its name, so that nobody ever finds half of it. */
function writeWhole(file: string, text: string): void {
  const beside = `${file}.${process.pid}.part`;
  try {
    writeFileSync(beside, text);
    renameSync(beside, file);
  } catch {
    rmSync(beside, { force: true });
    throw new CommandError(`${file} cannot be written. Is its folder there?`);
  }
}
