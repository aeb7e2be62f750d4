import type { Ledger } from '../../context.ts';
import { findManifestByNumber, type Load, loadsOf, type Manifest } from '../../manifests/queries.ts';
import type { Reader } from '../../reading.ts';
import { Refusal } from '../../refusal.ts';
import type { Yard } from '../../setup/queries.ts';
import { recordTicket } from '../../tickets/acts.ts';
import { checkLine } from '../../tickets/audit.ts';
import { completeLine, type PrintedLine, readDeduction } from '../../tickets/compute.ts';
import { standingTicketsNumbered, standingTicketsOf, ticketPayingFor } from '../../tickets/queries.ts';
import { writeDay } from '../../units/day.ts';
import { readDigits } from '../../units/decimal.ts';
import { TooLarge } from '../../units/too-large.ts';
import { fold, shortly } from '../compute.ts';
import { manifestsNumbered } from '../queries.ts';
import { groupRows, type ImportJob, type ImportKind, type ImportRow, readGrade, readYard } from './rows.ts';

/** A number is printed on paper; `70011 (2)` is the second ticket of that number, as exported. */
const LONGEST_NUMBER = 220;
const MOST_LINES = 9999;
/** Each ticket of a manifest is reconciled with all of the others; a run to a yard gives two or three. */
const MOST_TICKETS = 50;

function readManifest({ db }: Ledger, reader: Reader, yard: Yard | undefined): Manifest {
  const number = reader.text('manifest', 'the number of the manifest', { required: true });
  const manifest = yard === undefined || number === '' ? undefined : findManifestByNumber(db, yard.id, number);
  if (manifest === undefined && yard !== undefined && number !== '') {
    const elsewhere = manifestsNumbered(db, number)[0];
    const say = `Manifest ${shortly(number)} is not in the ledger for ${yard.name}`;
    reader.problem('manifest', elsewhere ? `${say}: it was loaded for ${elsewhere.yard_name}.` : `${say}.`);
  }
  return manifest as Manifest;
}

function readLineNo(reader: Reader): number {
  const text = reader.raw('line');
  const number = /^\d{1,4}$/.test(text) ? Number.parseInt(text, 10) : 0;
  if (number < 1) reader.problem('line', `Number the lines of a ticket 1, 2, 3 and so on, up to ${MOST_LINES}.`);
  return number;
}

type LoadsOf = (manifest: Manifest) => readonly Load[];

/** The loads of each manifest, asked for once: no row is entered before all of them are read. */
function loadsOnce({ db }: Ledger): LoadsOf {
  const known = new Map<number, readonly Load[]>();
  return ({ id }) => {
    const loads = known.get(id) ?? loadsOf(db, id);
    known.set(id, loads);
    return loads;
  };
}

/** The ids of the loads that the labels name. A load may be on one ticket only, and not back in its bin. */
function readLoads({ db }: Ledger, reader: Reader, manifest: Manifest | undefined, loadsOfOne: LoadsOf): number[] {
  const labels = reader
    .raw('loads')
    .split(';')
    .map((label) => label.trim());
  const named = labels.filter((label) => label !== '');
  if (manifest === undefined || named.length === 0) return [];
  if (new Set(named).size < named.length) reader.problem('loads', 'A load is named twice here.');
  const loads = loadsOfOne(manifest);
  return named.map((label) => {
    const load = loads.find((candidate) => candidate.label === label);
    if (load === undefined) {
      const known = loads.map((each) => each.label).join(', ');
      reader.problem(
        'loads',
        `Load ${shortly(label)} is not on manifest ${manifest.number}. It has ${shortly(known)}.`,
      );
      return 0;
    }
    const paying = ticketPayingFor(db, load.id);
    if (paying) reader.problem('loads', `Load ${label} is already paid for by ticket ${paying.number}.`);
    if (load.load_return_id !== null) reader.problem('loads', `Load ${label} was brought back to ${load.bin_code}.`);
    return load.id;
  });
}

const readFigure = (reader: Reader, column: string, what: string): string => {
  const text = reader.raw(column);
  if (text === '') return '';
  return reader.take(column, readDigits(text, { ...reader.marks, maxDecimals: 6, what }));
};

/** The printed figures of a row; what the paper did not print is worked out as on the page. */
function readPrinted(ledger: Ledger, reader: Reader, loadIds: readonly number[]): PrintedLine {
  const { currency } = ledger.settings;
  const grade = readGrade(ledger, reader, 'paid_as');
  const partial = {
    lineNo: readLineNo(reader),
    description: '',
    gradeId: grade?.id,
    loadIds,
    gross: readFigure(reader, 'gross', 'gross weight'),
    tare: readFigure(reader, 'tare', 'tare'),
    deduction: reader.take('deduction', readDeduction(reader.raw('deduction'), reader.marks)),
    net: readFigure(reader, 'net', 'net weight'),
    unit: reader.priceUnit('unit'),
    price: reader.price('price'),
    per: reader.priceUnit('per'),
    amountMinor: reader.raw('amount') === '' ? null : reader.money('amount'),
  };
  if (reader.hasProblems) return partial as PrintedLine;
  const completed = completeLine(partial, currency);
  if (completed.ok) return completed.value.line;
  reader.problem(completed.figure, completed.refusal);
  return partial as PrintedLine;
}

function readRow(ledger: Ledger, row: ImportRow, loadsOfOne: LoadsOf) {
  const { reader } = row;
  const yard = readYard(ledger, reader);
  const manifest = readManifest(ledger, reader, yard);
  const number = reader.text('ticket', "the ticket's number", { required: true, longest: LONGEST_NUMBER });
  const soldOn = reader.day('sold_on');
  return {
    row,
    yard,
    manifest,
    number,
    soldOn,
    line: readPrinted(ledger, reader, readLoads(ledger, reader, manifest, loadsOfOne)),
  };
}

type ReadLine = ReturnType<typeof readRow>;

/** The rows of one ticket agree on its manifest and its day, and each has a line number of its own. */
function checkGroup({ db }: Ledger, group: readonly ReadLine[]): void {
  const [first] = group;
  if (first === undefined) return;
  if (standingTicketsNumbered(db, first.yard.id, first.number).length > 0) {
    first.row.reader.problem('ticket', `Ticket ${first.number} of ${first.yard.name} is in the ledger already.`);
  }
  if (first.manifest && standingTicketsOf(db, first.manifest.id).length >= MOST_TICKETS) {
    const say = `Manifest ${first.manifest.number} has ${MOST_TICKETS} tickets already, more than a run can have.`;
    first.row.reader.problem('manifest', say);
  }
  const where = `on line ${first.row.line}`;
  const numbers = new Map<number, number>();
  for (const { row, manifest, soldOn, line } of group) {
    if (manifest && first.manifest && manifest.id !== first.manifest.id) {
      row.reader.problem(
        'manifest',
        `Ticket ${first.number} is for another manifest ${where}; it can be for one only.`,
      );
    }
    if (soldOn && first.soldOn && soldOn !== first.soldOn) {
      row.reader.problem('sold_on', `Ticket ${first.number} has another day ${where}.`);
    }
    const before = numbers.get(line.lineNo);
    if (before !== undefined) {
      row.reader.problem('line', `Line ${line.lineNo} of this ticket is on line ${before} of this file already.`);
    } else if (line.lineNo > 0) numbers.set(line.lineNo, row.line);
  }
}

/** The column of a refused ticket, and the row when the refusal is about one line's loads. */
function refusedAt(error: Refusal, group: readonly ReadLine[]): { row: ImportRow | undefined; column: string } {
  const lineNo = /^loads-(\d+)$/.exec(error.field)?.[1];
  if (lineNo === undefined) return { row: group[0]?.row, column: error.field };
  return { row: group.find(({ line }) => String(line.lineNo) === lineNo)?.row, column: 'loads' };
}

function enterTicket({ ledger }: ImportJob, group: readonly ReadLine[], first: ReadLine): void {
  try {
    ledger.db.savepoint(() =>
      recordTicket(ledger, {
        yardId: first.yard.id,
        manifestId: first.manifest.id,
        number: first.number,
        soldOn: first.soldOn,
        note: '',
        lines: group.map(({ line }) => line).sort((a, b) => a.lineNo - b.lineNo),
        totals: null,
      }),
    );
  } catch (error) {
    if (!(error instanceof Refusal || error instanceof TooLarge)) throw error;
    const { row = first.row, column } = error instanceof Refusal ? refusedAt(error, group) : { column: '' };
    row.reader.problem(column, error.message);
  }
}

/** What the page would ask about: slips of arithmetic on the paper and unlikely days. */
function noteFindings({ ledger, notes }: ImportJob, group: readonly ReadLine[], first: ReadLine): void {
  const { clock, settings } = ledger;
  const { number, soldOn, manifest } = first;
  const note = (line: number, sentence: string) => notes.push({ line, sentence: `Ticket ${number}: ${sentence}` });
  if (soldOn > clock.today()) note(first.row.line, `its day, ${writeDay(soldOn)}, has not come yet.`);
  if (manifest.loaded_on !== null && soldOn < manifest.loaded_on) {
    note(first.row.line, `its day is before ${writeDay(manifest.loaded_on)}, when its manifest was loaded.`);
  }
  for (const { row, line } of group) {
    for (const finding of checkLine(line, settings.currency, settings.decimalMark)) note(row.line, finding.text);
  }
}

export const ticketLines: ImportKind = {
  name: 'ticket-lines',
  sentence:
    'The lines of sale tickets as printed, each with the labels of the loads it pays for, parted by semicolons.',
  columns: [
    'yard',
    'ticket',
    'manifest',
    'sold_on',
    'line',
    'loads',
    'paid_as',
    'gross',
    'tare',
    'deduction',
    'net',
    'unit',
    'price',
    'per',
    'amount',
  ],
  optional: [],
  words: ['ticket line', 'ticket lines'],
  run(job) {
    const loadsOfOne = loadsOnce(job.ledger);
    const rows = job.rows.map((row) => readRow(job.ledger, row, loadsOfOne));
    const groups = groupRows(rows, ({ yard, number }) =>
      yard === undefined || number === '' ? null : `${yard.id} ${fold(number)}`,
    );
    for (const group of groups) {
      checkGroup(job.ledger, group);
      const [first] = group;
      if (first === undefined || group.some(({ row }) => row.reader.hasProblems)) continue;
      enterTicket(job, group, first);
      noteFindings(job, group, first);
    }
  },
};
