import { type AmountMinor, NO_MONEY, negateMoney, sumMoney } from '../money/money.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import type { Settings } from '../setup/settings.ts';
import { readDigits } from '../units/decimal.ts';
import type { TicketInput, TicketTotals } from './acts.ts';
import { type CompletedLine, completeLine, type PartialLine, readDeduction, workOutCashRounding } from './compute.ts';
import type { TicketEntry } from './entry.ts';
import { type LineField, loadsNamed, typedLines } from './line-changes.ts';
import { paymentKinds } from './table.ts';

/** A ticket as read from its form: what to store, and which of its figures the ticket did not print. */
export interface ReadTicket {
  input: TicketInput;
  lines: CompletedLine[];
  /** Why it takes another ticket's place; '' when it takes none. */
  reason: string;
}

export interface LineReading {
  /** Null while something of the line is missing or cannot be read. */
  completed: CompletedLine | null;
  /** Loads that the line names, also when the rest of it cannot be read. */
  loadIds: readonly number[];
  problems: Problems;
}

/** A weight as printed, in the line's own unit; '' when the ticket does not print it. */
function readMeasure(reader: Reader, field: string): string {
  const text = reader.raw(field);
  return text === '' ? '' : reader.take(field, readDigits(text, { ...reader.marks, maxDecimals: 6, what: 'weight' }));
}

function readGrade(reader: Reader, field: string, { grades }: TicketEntry): number {
  const id = reader.requiredId(field, 'the grade it was paid as');
  if (reader.problems[field] === undefined && !grades.some((grade) => grade.id === id)) {
    reader.problem(field, 'Choose a grade from the list.');
  }
  return id;
}

function readLoads(reader: Reader, field: string, { loads }: TicketEntry): number[] {
  const { found, unknown } = loadsNamed(loads, reader.raw(field));
  if (unknown !== '') {
    reader.problem(field, `Load ${unknown.slice(0, 40)} is not on this manifest. Choose from its own loads.`);
  }
  return found.map(({ id }) => id);
}

function readPartialLine(reader: Reader, entry: TicketEntry, lineNo: number): PartialLine {
  const at = (field: LineField): string => `${field}-${lineNo}`;
  return {
    lineNo,
    description: reader.text(at('description'), 'a description'),
    gradeId: readGrade(reader, at('paidAs'), entry),
    loadIds: readLoads(reader, at('loads'), entry),
    gross: readMeasure(reader, at('gross')),
    tare: readMeasure(reader, at('tare')),
    deduction: reader.take(at('deduction'), readDeduction(reader.raw(at('deduction')), reader.marks)),
    net: readMeasure(reader, at('net')),
    unit: reader.priceUnit(at('unit')),
    price: reader.price(at('price')),
    per: reader.priceUnit(at('per')),
    amountMinor: reader.raw(at('amount')) === '' ? null : reader.money(at('amount'), { what: 'amount' }),
  };
}

/** Reads one line of the form and works out what the ticket did not print. */
export function readLine(entry: TicketEntry, typed: Typed, settings: Settings, lineNo: number): LineReading {
  const reader = new Reader(typed, settings);
  const partial = readPartialLine(reader, entry, lineNo);
  const { loadIds } = partial;
  const { problems } = reader;
  if (reader.raw(`gross-${lineNo}`) === '' && reader.raw(`net-${lineNo}`) === '') {
    reader.problem(`gross-${lineNo}`, 'Enter the gross or the net as printed, or take this line off.');
  }
  if (reader.hasProblems) return { completed: null, loadIds, problems };
  const completed = completeLine(partial, settings.currency);
  if (completed.ok) return { completed: completed.value, loadIds, problems };
  reader.problem(`${completed.figure}-${lineNo}`, completed.refusal);
  return { completed: null, loadIds, problems };
}

/** Every line of the form, in order. */
export const readLines = (entry: TicketEntry, typed: Typed, settings: Settings): LineReading[] =>
  typedLines(typed).map((_, index) => readLine(entry, typed, settings, index + 1));

/** The foot as far as it is printed; a cash rounding that is not counts as none here. */
function readPrintedTotals(reader: Reader): TicketTotals {
  if (reader.raw('total') === '') reader.problem('total', 'Enter the total as printed.');
  return {
    chargesMinor: reader.money('charges', { emptyIs: NO_MONEY }),
    taxMinor: reader.money('tax', { emptyIs: NO_MONEY, negativeAllowed: true }),
    cashRoundingMinor: reader.money('cashRounding', { emptyIs: NO_MONEY, negativeAllowed: true }),
    totalMinor: reader.money('total'),
    paidBy: reader.choice('paidBy', paymentKinds, 'how it was paid'),
    roundingWorkedOut: reader.raw('cashRounding') === '',
  };
}

/**
 * The foot. Charges and tax that the ticket does not print are none; its total it always prints; a cash rounding that
 * it does not print is worked out from the rest, once every line can be read.
 */
export function readTotals(reader: Reader, { yard }: TicketEntry, readings: readonly LineReading[]): TicketTotals {
  const totals = readPrintedTotals(reader);
  const amounts = readings.flatMap(({ completed }): AmountMinor[] => (completed ? [completed.line.amountMinor] : []));
  const isWorkable = totals.roundingWorkedOut && totals.paidBy === 'cash' && amounts.length === readings.length;
  if (!isWorkable || ['charges', 'tax', 'total'].some((field) => reader.problems[field] !== undefined)) return totals;
  const beforeRounding = sumMoney([...amounts, negateMoney(totals.chargesMinor), totals.taxMinor]);
  const cashRoundingMinor = workOutCashRounding(beforeRounding, totals.totalMinor, yard?.cash_step_minor ?? 1);
  return { ...totals, cashRoundingMinor };
}

/** Reads the whole form: head, lines, foot. Throws Unreadable with every problem at once. */
export function readTicket(entry: TicketEntry, reader: Reader): ReadTicket {
  const number = reader.text('number', 'the number of the ticket', { required: true });
  const soldOn = reader.day('soldOn');
  const note = reader.note('note');
  const readings = readLines(entry, reader.typed, reader.settings);
  for (const { problems } of readings) {
    for (const [field, sentence] of Object.entries(problems)) reader.problem(field, sentence);
  }
  const totals = readTotals(reader, entry, readings);
  if (entry.manifest === undefined) reader.problem('manifest', 'Choose the manifest that this ticket is for.');
  if (entry.yard === undefined) reader.problem('yard', 'Choose a yard from the list.');
  const isReplacement = entry.replaced !== null;
  const reason = isReplacement ? reader.text('reason', 'why it takes the place of the other', { required: true }) : '';
  reader.done();
  const lines = readings.flatMap(({ completed }) => (completed === null ? [] : [completed]));
  return {
    input: {
      yardId: entry.yard?.id ?? 0,
      manifestId: entry.manifest?.id ?? 0,
      number,
      soldOn,
      note,
      lines: lines.map(({ line, workedOut }) => ({ ...line, workedOut })),
      totals,
    },
    lines,
    reason,
  };
}
