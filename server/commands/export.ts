import { closeSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { exportPieces, findExport, ledgerExports, reportExports } from '../files/exports/names.ts';
import { CommandError, runCommand, withLedger } from './command.ts';

const USAGE = `Say what to export: npm run export -- NAME [FILE] [--unit=kg]. NAME is ${[
  ...ledgerExports,
  ...reportExports,
]
  .map(({ name }) => name)
  .join(', ')}.`;

const OPTIONS = ['unit', 'by', 'grade', 'yard', 'split', 'from', 'to'];

/** `npm run export -- NAME [FILE] [--unit=kg]`: to stdout without FILE. Filters of a report's page go the same way. */
runCommand((args) => {
  const [name, file, ...rest] = args.filter((arg) => !arg.startsWith('--'));
  if (name === undefined || rest.length > 0) throw new CommandError(USAGE);
  const found = findExport(name);
  if (found === undefined) throw new CommandError(`There is no “${name}” to export. ${USAGE}`);
  const asked = readOptions(args.filter((arg) => arg.startsWith('--')));
  withLedger(false, (ledger) => {
    // One snapshot for all rows: the server may go on weighing in meanwhile.
    const write = () => {
      const pieces = exportPieces(ledger, found, asked);
      if (file === undefined) for (const piece of pieces) process.stdout.write(piece);
      else writeWhole(file, pieces);
    };
    ledger.db.sqlite.transaction(write).deferred();
  });
  return 0;
});

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
