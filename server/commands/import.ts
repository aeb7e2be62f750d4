import { readFileSync } from 'node:fs';
import { type ImportReport, importFile } from '../files/acts.ts';
import { findImportKind, importKinds } from '../files/imports/kinds.ts';
import { CommandError, complain, runCommand, withLedger } from './command.ts';

const USAGE = `Say what to import and from where: npm run import -- KIND FILE [--dry-run]. KIND is ${importKinds
  .map(({ name }) => name)
  .join(', ')}.`;

/** `npm run import -- KIND FILE [--dry-run]`: the whole file or nothing; every problem with its line and column. */
runCommand((args) => {
  const dryRun = args.includes('--dry-run');
  const [name, file, ...rest] = args.filter((arg) => arg !== '--dry-run');
  if (name === undefined || file === undefined || rest.length > 0) throw new CommandError(USAGE);
  const kind = findImportKind(name);
  if (kind === undefined) throw new CommandError(`There is no “${name}” to import. ${USAGE}`);
  const bytes = readBytes(file);
  return say(
    file,
    withLedger(true, (ledger) => importFile(ledger, kind, bytes, dryRun)),
    dryRun,
  );
});

function readBytes(file: string): Uint8Array {
  try {
    return readFileSync(file);
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : '';
    if (code === 'ENOENT') throw new CommandError(`There is no file ${file}.`);
    if (code === 'EISDIR') throw new CommandError(`${file} is a folder, not a file.`);
    throw new CommandError(`${file} cannot be read.`);
  }
}

function say(file: string, { counted, problems, notes }: ImportReport, dryRun: boolean): number {
  for (const { line, column, sentence } of problems) {
    const where = [file, line === 0 ? '' : `line ${line}`, column].filter((part) => part !== '').join(', ');
    complain(`${where}: ${sentence}`);
  }
  if (problems.length > 0) {
    complain(`Nothing was imported: ${problems.length} ${problems.length === 1 ? 'problem' : 'problems'} in ${file}.`);
    return 1;
  }
  for (const { line, sentence } of notes) console.log(`${file}, line ${line}: ${sentence}`);
  console.log(dryRun ? `${counted}, nothing wrong. Nothing was stored.` : `${counted} imported.`);
  return 0;
}
