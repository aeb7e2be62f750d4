import type { Ledger } from '../../context.ts';
import type { Db } from '../../db/database.ts';
import { Reader, Unreadable } from '../../reading.ts';
import { Refusal } from '../../refusal.ts';
import {
  findGradeByName,
  findScaleByName,
  findYardByName,
  type Grade,
  type Scale,
  type Yard,
} from '../../setup/queries.ts';
import type { DecimalMark } from '../../units/decimal.ts';
import { TooLarge } from '../../units/too-large.ts';
import { fold, shortly } from '../compute.ts';

/** One row of a file being read: its fields are named as its columns, and its problems with them. */
export interface ImportRow {
  readonly line: number;
  readonly reader: Reader;
}

/** Something worth knowing about a row that does not stop the import. */
export interface FileNote {
  readonly line: number;
  readonly sentence: string;
  /** Whether it is about a row that is in the ledger already. */
  readonly isRepeat?: boolean;
}

export interface ImportJob {
  readonly ledger: Ledger;
  readonly rows: readonly ImportRow[];
  readonly notes: FileNote[];
}

/** What can be imported: one kind of row, read and entered by the same acts as the forms. */
export interface ImportKind {
  readonly name: string;
  /** One sentence for the page. */
  readonly sentence: string;
  /** Every column it knows; a file has them in any order. */
  readonly columns: readonly string[];
  /** Those that a file may leave out. */
  readonly optional: readonly string[];
  /** One row and several, in words. */
  readonly words: readonly [one: string, several: string];
  /** Reads and enters the rows. What is wrong with a row is a problem of its reader; the caller rolls back. */
  run(job: ImportJob): void;
}

/** Says of every row whose column repeats an earlier one where that one is. */
export function refuseRepeats(rows: readonly ImportRow[], column: string): void {
  const firstLines = new Map<string, number>();
  for (const { line, reader } of rows) {
    const text = reader.raw(column);
    if (text === '') continue;
    const first = firstLines.get(fold(text));
    if (first === undefined) firstLines.set(fold(text), line);
    else reader.problem(column, `${shortly(text)} is on line ${first} of this file already.`);
  }
}

/** Runs an act whose refusal is a problem of the row. @param columnOf the column for each of the act's fields */
type Doing = (ledger: Ledger, row: ImportRow, columnOf: Readonly<Record<string, string>>, act: () => void) => void;

/** Of an act that is refused nothing stays. */
export const attempt: Doing = (ledger, row, columnOf, act) =>
  attemptRefusedFirst(ledger, row, columnOf, () => ledger.db.savepoint(act));

/** The same for an act that is refused before it writes anything: there is nothing to put back, which takes its time. */
export const attemptRefusedFirst: Doing = (_ledger, { reader }, columnOf, act) => {
  try {
    act();
  } catch (error) {
    if (!(error instanceof Refusal || error instanceof TooLarge)) throw error;
    const column = error instanceof Refusal ? (columnOf[error.field] ?? error.field) : '';
    // The field of a form that no column stands for is said of the row.
    reader.problem(column in reader.typed ? column : '', error.message);
  }
};

/**
 * Reads a row by the reader of the page's form, so that a file is refused what the form is refused.
 * @param fields the field of the form for each column
 */
export function readAsForm<Input>(
  reader: Reader,
  fields: Readonly<Record<string, string>>,
  read: (form: Reader) => Input,
): Input {
  const typed = Object.fromEntries(Object.entries(fields).map(([column, field]) => [field, reader.raw(column)]));
  try {
    return read(new Reader(typed, reader.settings));
  } catch (error) {
    if (!(error instanceof Unreadable)) throw error;
    for (const [column, field] of Object.entries(fields)) {
      const sentence = error.problems[field];
      if (sentence !== undefined) reader.problem(column, sentence);
    }
    return undefined as Input;
  }
}

/**
 * Enters every row on its own; a row that could not be read is left out.
 * @param doing `attemptRefusedFirst` where thousands of rows are usual and the act allows it
 */
export function enterEach<Input>(
  job: ImportJob,
  columnOf: Readonly<Record<string, string>>,
  read: (reader: Reader) => Input,
  enter: (input: Input, row: ImportRow) => void,
  doing = attempt,
): void {
  for (const row of job.rows) {
    const input = read(row.reader);
    if (!row.reader.hasProblems) doing(job.ledger, row, columnOf, () => enter(input, row));
  }
}

/** Sets rows apart by a key, in the order in which the keys are first met; rows without one are in no group. */
export function groupRows<Row>(rows: readonly Row[], keyOf: (row: Row) => string | null): Row[][] {
  const groups = new Map<string, Row[]>();
  for (const row of rows) {
    const key = keyOf(row);
    if (key === null) continue;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [row]);
    else group.push(row);
  }
  return [...groups.values()];
}

/** The yard that a column names. */
export function readYard({ db }: Ledger, reader: Reader, column = 'yard'): Yard {
  const name = reader.text(column, 'a yard', { required: true });
  const yard = name === '' ? undefined : findYardByName(db, name);
  if (yard === undefined) reader.problem(column, `There is no yard ${shortly(name)} in the ledger. Add it first.`);
  return yard as Yard;
}

/** The grade that a column names. */
export function readGrade({ db }: Ledger, reader: Reader, column: string): Grade {
  const name = reader.text(column, 'a grade', { required: true });
  const grade = name === '' ? undefined : findGradeByName(db, name);
  if (grade === undefined) reader.problem(column, `There is no grade ${shortly(name)} in the ledger. Add it first.`);
  return grade as Grade;
}

/** Looks something up by its name. */
type Find<Found> = (db: Db, name: string) => Found | undefined;

/** Asks for each name once: for what stays as it is while a file is imported, and stands on every row of it. */
export function askedOnce<Found>(find: Find<Found>): Find<Found> {
  const known = new Map<string, Found | undefined>();
  return (db, name) => {
    if (!known.has(name)) known.set(name, find(db, name));
    return known.get(name);
  };
}

/** The scale at home that a column names. */
export function readScale({ db }: Ledger, reader: Reader, column: string, find: Find<Scale> = findScaleByName): Scale {
  const name = reader.text(column, 'a scale', { required: true });
  const scale = name === '' ? undefined : find(db, name);
  if (scale === undefined) reader.problem(column, `There is no scale ${shortly(name)} in the ledger. Add it first.`);
  return scale as Scale;
}

/** The bin that a column names by its code. */
export function readBin<Found extends { id: number }>({ db }: Ledger, reader: Reader, find: Find<Found>): Found {
  const code = reader.text('bin', 'a bin', { required: true });
  const bin = code === '' ? undefined : find(db, code);
  if (bin === undefined) reader.problem('bin', `There is no bin ${shortly(code)} in the ledger. Add it first.`);
  return bin as Found;
}

/**
 * A weight from a file as this ledger's forms would have it. Files always have a point as mark; where the ledger has a
 * comma, point and comma change places, so that a form that shows the figure again reads it as it was meant.
 */
export const asTyped = (fromFile: string, mark: DecimalMark): string =>
  mark === '.' ? fromFile : fromFile.replace(/[.,]/g, (sign) => (sign === '.' ? ',' : '.'));
