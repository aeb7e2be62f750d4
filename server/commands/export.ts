import { closeSync, createWriteStream, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { writeArchive } from '../backups/archive.ts';
import { writeHoldings } from '../backups/compute.ts';
import { takeName, whyNot, workingName } from '../backups/files.ts';
import type { Ledger } from '../context.ts';
import { exportPieces, findExport, ledgerExports, reportExports } from '../files/exports/names.ts';
import { journal, journalPieces } from '../files/journal/journal.ts';
import type { Typed } from '../reading.ts';
import { CommandError, complain, existingLedger, runCommand, withLedger } from './command.ts';

const USAGE = `Say what to export: npm run export -- NAME [FILE] [--unit=kg]. NAME is ${[
  ...ledgerExports,
  ...reportExports,
  journal,
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
  const write = writerOf(name);
  const asked = readOptions(args.filter((arg) => arg.startsWith('--')));
  withLedger(false, (ledger) => {
    // One snapshot for all rows: the server may go on weighing in meanwhile.
    const writeAll = () => {
      const pieces = write(ledger, asked);
      if (file === undefined) for (const piece of pieces) process.stdout.write(piece);
      else writeWhole(file, pieces);
    };
    ledger.db.sqlite.transaction(writeAll).deferred();
  });
  return 0;
});

/** What writes the export of a name, in one piece or, where it can be very long, in many. */
function writerOf(name: string): (ledger: Ledger, asked: Typed) => Iterable<string> {
  if (name === journal.name) return journalPieces;
  const found = findExport(name);
  if (found === undefined) throw new CommandError(`There is no “${name}” to export. ${USAGE}`);
  return (ledger, asked) => exportPieces(ledger, found, asked);
}

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
function writeWhole(file: string, pieces: Iterable<string>): void {
  const beside = `${file}.${process.pid}.part`;
  try {
    writePieces(beside, pieces);
    renameSync(beside, file);
  } catch (error) {
    rmSync(beside, { force: true });
    if (!isFileError(error)) throw error;
    throw new CommandError(`${file} cannot be written. Is its folder there?`);
  }
}

function writePieces(file: string, pieces: Iterable<string>): void {
  const descriptor = openSync(file, 'w');
  try {
    for (const piece of pieces) writeAll(descriptor, Buffer.from(piece));
  } finally {
    closeSync(descriptor);
  }
}

/** A full disk may take a part of what is written to it before it refuses the rest. */
function writeAll(descriptor: number, bytes: Buffer): void {
  for (let written = 0; written < bytes.length; ) written += writeSync(descriptor, bytes, written);
}

/** An error of the file that is written, not of the ledger that is read. */
function isFileError(error: unknown): boolean {
  return error instanceof Error && 'syscall' in error;
}
