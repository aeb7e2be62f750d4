import { createHash } from 'node:crypto';
import type { Ledger } from '../context.ts';
import { rowsBroughtIn } from '../history/queries.ts';
import { Reader } from '../reading.ts';
import { asPart, noteEvent, once } from '../trail.ts';
import { writeDay } from '../units/day.ts';
import { shortly } from './compute.ts';
import { type FileProblem, type FileRow, readCsv } from './csv.ts';
import type { FileNote, ImportKind, ImportRow } from './imports/rows.ts';
import { dayOfRequest } from './queries.ts';

/** About 25,000 in-weights. A file's text goes to the page and back to be looked at, so it must stay handy. */
export const LARGEST_FILE_BYTES = 2_000_000;
export const LARGEST_FILE = '2 MB';
/** A file of blank lines is small and takes as long to read as one of full ones. */
const MOST_LINES = 50_000;
const PREVIEW_ROWS = 8;

export interface ImportReport {
  readonly kind: ImportKind;
  /** "12 in-weights" */
  readonly counted: string;
  readonly rows: number;
  /** Empty when the file can be, or was, imported. By line, then by column. */
  readonly problems: readonly FileProblem[];
  readonly notes: readonly FileNote[];
  readonly header: readonly string[];
  readonly preview: readonly FileRow[];
  /** The line of the trail by which the whole file can be taken back; 0 when nothing was kept. */
  readonly trailId: number;
}

/** Ends a transaction that is not to stay. */
class NotKept extends Error {}

/**
 * Imports a file: all of its rows or, when anything is wrong with one, none. Every row is entered by the same acts as
 * the forms, so a file is refused what a form is refused; all problems are collected before the ledger is put back.
 * @param dryRun put the ledger back in any case
 */
export function importFile(ledger: Ledger, kind: ImportKind, bytes: Uint8Array, dryRun: boolean): ImportReport {
  const { header, rows, usable, problems } = readFile(kind, bytes);
  const columns = header?.cells.map(columnName) ?? [];
  const report = { kind, header: columns, rows: rows.length, counted: countOf(kind, rows.length) };
  const preview = rows.slice(0, PREVIEW_ROWS);
  const key = requestKeyOf(kind, bytes);
  // A file of nothing but its header does nothing, as often as it is imported.
  const known = rows.length === 0 ? [] : alreadyImported(ledger, key);
  if (known.length > 0) return { ...report, preview, trailId: 0, notes: [], problems: known };
  const readers = usable.map((row) => readerFor(ledger, columns, row));
  const job = { ledger: asPart(ledger), notes: [] as FileNote[], rows: readers };
  const trailId = keepWhen(ledger, { key, kind, counted: report.counted }, () => {
    kind.run(job);
    return !dryRun && rows.length > 0 && problems.length === 0 && !job.rows.some(({ reader }) => reader.hasProblems);
  });
  const found = [...problems, ...job.rows.flatMap((row) => problemsOf(row, columns))];
  return { ...report, preview, trailId, notes: byLine(job.notes), problems: byLine(found) };
}

const columnName = (cell: string): string => cell.trim().toLowerCase();
/** "12 in-weights" */
export const countOf = ({ words: [one, several] }: ImportKind, rows: number): string =>
  `${rows} ${rows === 1 ? one : several}`;
const byLine = <Said extends { readonly line: number }>(said: readonly Said[]): Said[] =>
  [...said].sort((a, b) => a.line - b.line);

/** The same bytes for the same kind are the same file, whichever way they come in. */
const requestKeyOf = (kind: ImportKind, bytes: Uint8Array): string =>
  `import-${kind.name}-${createHash('sha256').update(bytes).digest('hex')}`;

function alreadyImported({ db }: Ledger, key: string): FileProblem[] {
  const on = dayOfRequest(db, key);
  if (on === undefined) return [];
  return [{ line: 0, column: '', sentence: `This file was already imported on ${writeDay(on)}.` }];
}

interface KeptFile {
  key: string;
  kind: ImportKind;
  /** "12 in-weights" */
  counted: string;
}

/** Does what a file says, and keeps it when `act` says so. @returns the id of its line of the trail, or 0 */
function keepWhen(ledger: Ledger, { key, kind, counted }: KeptFile, act: () => boolean): number {
  let trailId = 0;
  try {
    ledger.db.transaction(() => {
      const done = () => {
        const [rows, isKept] = rowsBroughtIn(ledger.db, act);
        if (!isKept) throw new NotKept();
        // Totals are no rows of their own: they go with their ticket. The key goes along, so that a file which is taken
        // back may be imported again.
        const hasRows = Object.keys(rows).length > 0;
        const change = hasRows ? { rows, requestKey: key } : null;
        trailId = noteEvent(ledger, `imported ${kind.words[1]} from a file`, 'file', 0, { detail: counted, change });
        return '/setup/files';
      };
      once(ledger, key, done);
    });
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
  }
  return trailId;
}

const readerFor = ({ settings }: Ledger, columns: readonly string[], row: FileRow): ImportRow => {
  const typed = Object.fromEntries(columns.map((column, index) => [column, row.cells[index] ?? '']));
  // Files have a point as mark whatever the ledger has, so that one file means the same in every ledger.
  return { line: row.line, reader: new Reader(typed, { ...settings, decimalMark: '.' }, { isStrict: true }) };
};

/** A row's problems in the order of the file's columns, those of the whole row first. */
const problemsOf = ({ line, reader }: ImportRow, columns: readonly string[]): FileProblem[] =>
  Object.entries(reader.problems)
    .map(([column, sentence]) => ({ line, column, sentence }))
    .sort((a, b) => columns.indexOf(a.column) - columns.indexOf(b.column));

interface CheckedFile {
  header: FileRow | undefined;
  rows: readonly FileRow[];
  /** The rows that can be read by column. */
  usable: readonly FileRow[];
  problems: readonly FileProblem[];
}

/** Reads a file and checks its shape: its size, its header, and that every line has as many cells. */
function readFile(kind: ImportKind, bytes: Uint8Array): CheckedFile {
  const wrong = (sentence: string): CheckedFile => {
    return { header: undefined, rows: [], usable: [], problems: [{ line: 0, column: '', sentence }] };
  };
  if (bytes.length > LARGEST_FILE_BYTES)
    return wrong(`A file may have at most ${LARGEST_FILE}. Part it into several files.`);
  if (hasMoreLines(bytes, MOST_LINES))
    return wrong('A file may have at most 50,000 lines. Part it into several files.');
  const { header, rows, problems } = readCsv(bytes);
  if (problems.length > 0) return { header, rows, usable: [], problems };
  if (header === undefined) return wrong(`The file is empty. Its first line names its columns: ${kind.columns}.`);
  const columns = header.cells.map(columnName);
  const wrongHeader = headerProblems(kind, columns).map((problem) => ({ line: header.line, ...problem }));
  // With a wrong header every row would be wrong, and the one thing to put right would be lost among them.
  if (wrongHeader.length > 0) return { header, rows, usable: [], problems: wrongHeader };
  const usable = rows.filter((row) => row.cells.length === columns.length);
  return { header, rows, usable, problems: rows.flatMap((row) => lengthProblem(row, columns.length)) };
}

/** Whether bytes end more lines than so many, in any of the three ways. */
function hasMoreLines(bytes: Uint8Array, most: number): boolean {
  const [feed, back] = [10, 13];
  let lines = 0;
  for (let at = 0; at < bytes.length && lines <= most; at++) {
    if (bytes[at] === feed || (bytes[at] === back && bytes[at + 1] !== feed)) lines += 1;
  }
  return lines > most;
}

function headerProblems(kind: ImportKind, columns: readonly string[]): { column: string; sentence: string }[] {
  if (columns.length === 1 && /[;\t]/.test(columns[0] ?? '')) {
    return [{ column: '', sentence: 'The columns of this file are not parted by commas. Save it again with commas.' }];
  }
  const unknown = columns.filter((name) => !kind.columns.includes(name));
  const twice = columns.filter((name, index) => kind.columns.includes(name) && columns.indexOf(name) < index);
  const missing = kind.columns.filter((name) => !columns.includes(name) && !kind.optional.includes(name));
  const problems = [
    ...unknown.map((name) => [
      name,
      name === '' ? 'A column has no name.' : `There is no column ${shortly(name)} here.`,
    ]),
    ...[...new Set(twice)].map((name) => [name, `Column ${shortly(name)} is there twice.`]),
    ...missing.map((name) => [name, `Column ${shortly(name)} is missing.`]),
  ] as [string, string][];
  const known = ` The columns of ${kind.name} are ${kind.columns.join(', ')}.`;
  return problems.map(([column, sentence], index) => ({ column, sentence: index === 0 ? sentence + known : sentence }));
}

function lengthProblem({ line, cells }: FileRow, columns: number): FileProblem[] {
  if (cells.length === columns) return [];
  const cellWord = cells.length === 1 ? 'cell' : 'cells';
  const sentence = `This line has ${cells.length} ${cellWord}, the first line names ${columns} columns.`;
  return [{ line, column: '', sentence }];
}
