import { CsvError, parse } from 'csv-parse/sync';
import { stringify } from 'csv-stringify/sync';

/** Something wrong with a file: at a line (0 for the file as a whole) and, where it is one cell, in a column. */
export interface FileProblem {
  readonly line: number;
  readonly column: string;
  readonly sentence: string;
}

/** One row of a file: the line it begins on, counted from 1, and its cells. */
export interface FileRow {
  readonly line: number;
  readonly cells: readonly string[];
}

export interface ReadFile {
  /** The first row that is not empty, or undefined when there is none. */
  readonly header: FileRow | undefined;
  readonly rows: readonly FileRow[];
  readonly problems: readonly FileProblem[];
}

/** A cell that a spreadsheet would take for a formula, as written in a file, or a text that looks so neutralised. */
const NEUTRALISED = /^'+[=+\-@\t\r]/;
const FORMULA_LIKE = /^'*[=+\-@\t\r]/;

/**
 * Puts an apostrophe before a text that a spreadsheet would run as a formula. A text that already begins with
 * apostrophes before such a sign gets one more, so that taking one off again gives every text back.
 * Source of the list of signs: OWASP, CSV Injection.
 */
export const neutralise = (text: string): string => (FORMULA_LIKE.test(text) ? `'${text}` : text);
export const withoutApostrophe = (cell: string): string => (NEUTRALISED.test(cell) ? cell.slice(1) : cell);

const NOT_UTF8 =
  'This file is not UTF-8 text. Save it again as “CSV UTF-8”, or copy its text and paste it into the page.';

const SENTENCES: Readonly<Record<string, string>> = {
  CSV_QUOTE_NOT_CLOSED: 'A cell opens with a double quote here, and no quote closes it.',
  INVALID_OPENING_QUOTE: 'A double quote stands in the middle of a cell. Put the whole cell in quotes and double it.',
  CSV_INVALID_CLOSING_QUOTE: 'Something follows the closing quote of a cell. Put a comma there, or double the quote.',
};

const LINE_END = /\r\n|\n|\r/g;
const lineEnds = (text: string): number => text.match(LINE_END)?.length ?? 0;

/** The parser says at which byte the cell begins that it could not read. */
function problemOf(error: unknown, text: string): FileProblem {
  if (!(error instanceof CsvError)) throw error;
  const at = 'bytes' in error && typeof error.bytes === 'number' ? error.bytes : 0;
  const line = 1 + lineEnds(Buffer.from(text, 'utf8').subarray(0, at).toString('utf8'));
  return { line, column: '', sentence: SENTENCES[error.code] ?? 'This line cannot be read as comma-separated cells.' };
}

interface Parsed {
  record: string[];
  raw: string;
}

const isBlank = (cells: readonly string[]): boolean => cells.every((cell) => cell.trim() === '');

/**
 * Reads a CSV file (RFC 4180, UTF-8, a byte order mark tolerated, lines that end with CRLF, LF or CR). Apostrophes that
 * neutralise a formula are taken off; blank lines are left out, and counted.
 */
export function readCsv(bytes: Uint8Array): ReadFile {
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return { header: undefined, rows: [], problems: [{ line: 0, column: '', sentence: NOT_UTF8 }] };
  }
  try {
    const [header, ...rows] = rowsOf(text);
    return { header, rows, problems: [] };
  } catch (error) {
    return { header: undefined, rows: [], problems: [problemOf(error, text)] };
  }
}

function rowsOf(text: string): FileRow[] {
  const options = { raw: true, relax_column_count: true, record_delimiter: ['\r\n', '\n', '\r'] };
  const parsed = parse(text, options) as unknown as Parsed[];
  // Counted here because the parser takes a CRLF within quotes for two lines.
  let line = 1;
  const rows = parsed.map(({ record, raw }): FileRow => {
    const row = { line, cells: record.map(withoutApostrophe) };
    line += lineEnds(raw);
    return row;
  });
  return rows.filter((row) => !isBlank(row.cells));
}

/**
 * Writes lines of a CSV file. They end with CRLF because RFC 4180 says so, on every system, so that one ledger gives one
 * file byte for byte wherever it is exported. Texts are expected to be neutralised already; figures are left as they are.
 */
export const writeCsvLines = (rows: readonly (readonly string[])[]): string =>
  // A line feed alone would not be quoted otherwise, because it is not the line end.
  stringify(rows as string[][], { record_delimiter: '\r\n', quoted_match: /[\r\n]/ });

/** Writes a whole CSV file; see writeCsvLines. */
export const writeCsv = (header: readonly string[], rows: readonly (readonly string[])[]): string =>
  writeCsvLines([header, ...rows]);
