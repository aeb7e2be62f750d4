import { type Currency, minorDigits } from '../money/currencies.ts';
import { type AmountMinor, amountMinor, roundCash, roundToMinor, sumMoney, toMajor } from '../money/money.ts';
import { type PriceUnit, type UnitPrice, valueOfQuantity } from '../prices/compute.ts';
import { type Day, writeDay } from '../units/day.ts';
import { Decimal, type DecimalMark, decimalsOf, readDigits, writeDecimal } from '../units/decimal.ts';
import { convertWeight, type MassUg, type MassUnit, sumMass, toMassUg } from '../units/mass.ts';
import { accepted, type Read, refused } from '../units/result.ts';
import { writeForFile, writeWeight } from '../units/write-weight.ts';
import type { PaidBy } from './table.ts';

/**
 * One line of a sale ticket as printed. Figures are digits with a point as mark and all their printed zeros, in the
 * line's own unit; the deduction is a weight ("3.5", "0") or a percent of gross less tare ("5%").
 */
export interface PrintedLine {
  readonly lineNo: number;
  readonly description: string;
  /** The grade it was paid as. */
  readonly gradeId: number;
  readonly loadIds: readonly number[];
  readonly gross: string;
  readonly tare: string;
  readonly deduction: string;
  readonly net: string;
  /** Unit of the weights; `each` when the line counts pieces. */
  readonly unit: PriceUnit;
  readonly price: string;
  readonly per: PriceUnit;
  readonly amountMinor: AmountMinor;
}

/** A line with '' or null for what the ticket did not print. */
export type PartialLine = Omit<PrintedLine, 'amountMinor'> & { readonly amountMinor: AmountMinor | null };

export interface CompletedLine {
  line: PrintedLine;
  workedOut: readonly ('gross' | 'net' | 'amount')[];
}

const LARGEST_TONNES = 100;
const LARGEST_PIECES = 1_000_000;
const LARGEST_AMOUNT = 100_000_000;
const NO_MEASURE = '0';

/**
 * Reads a deduction as printed: `3.5`, `5%`, empty for none.
 * @returns "3.5", "5%" or "0"; refuses what is not a number, and more than 100 %
 */
export function readDeduction(typed: string, rules: { decimalMark: DecimalMark }): Read<string> {
  const text = typed.trim();
  if (text === '') return accepted(NO_MEASURE);
  const isPercent = text.endsWith('%');
  const what = isPercent ? 'percent' : 'deduction';
  const digits = readDigits(isPercent ? text.slice(0, -1) : text, { ...rules, maxDecimals: 6, what });
  if (!digits.ok || !isPercent) return digits;
  return new Decimal(digits.value).gt(100)
    ? refused('A deduction cannot be above 100 %.')
    : accepted(`${digits.value}%`);
}

const percentOf = (deduction: string): Decimal | null =>
  deduction.endsWith('%') ? new Decimal(deduction.slice(0, -1)) : null;

const mostDecimals = (...figures: string[]): number => Math.max(...figures.map(decimalsOf));

type Measures = Pick<PrintedLine, 'gross' | 'tare' | 'deduction' | 'net'>;

/** The weight taken off; a percent is rounded half away from zero to the decimals that the line prints. */
function deductedWeight({ gross, tare, deduction, net }: Measures): Decimal {
  const percent = percentOf(deduction);
  if (percent === null) return new Decimal(deduction);
  const share = new Decimal(gross).minus(tare).times(percent).div(100);
  return share.toDecimalPlaces(mostDecimals(gross, tare, net || NO_MEASURE), Decimal.ROUND_HALF_UP);
}

/** Gross less tare, in the line's unit. */
export const yardWeightOf = (line: Pick<PrintedLine, 'gross' | 'tare'>): Decimal =>
  new Decimal(line.gross).minus(line.tare);

/** What the net should be: gross less tare less deduction, in the line's unit, exact. */
const expectedNet = (measures: Measures): Decimal => yardWeightOf(measures).minus(deductedWeight(measures));

/** What the amount should be: net times price, rounded half away from zero; null when their units do not meet. */
export function expectedAmount(
  line: Pick<PrintedLine, 'net' | 'unit' | 'price' | 'per'>,
  currency: Currency,
): AmountMinor | null {
  const value = valueOfQuantity(new Decimal(line.net), line.unit, { price: new Decimal(line.price), per: line.per });
  return value === null ? null : roundToMinor(value, currency);
}

/** Works the gross back from the net. With a percent the result is rounded so that it gives this very net again. */
function workOutGross(measures: Measures): Read<Measures> {
  const { net, tare, deduction } = measures;
  const percent = percentOf(deduction);
  if (percent === null) {
    const gross = new Decimal(net).plus(tare).plus(deduction);
    return accepted({ ...measures, gross: writeForFile(gross, mostDecimals(net, tare, deduction)) });
  }
  if (percent.gte(100)) return refused('With all of it taken off, enter the gross as the ticket prints it.');
  const decimals = mostDecimals(net, tare);
  const yardWeight = new Decimal(net).times(100).div(new Decimal(100).minus(percent));
  const gross = yardWeight.toDecimalPlaces(decimals, Decimal.ROUND_HALF_UP).plus(tare);
  return accepted({ ...measures, gross: writeForFile(gross, decimals) });
}

function workOutNet(measures: Measures): Measures {
  const { gross, tare, deduction } = measures;
  const decimals = mostDecimals(gross, tare, percentOf(deduction) === null ? deduction : NO_MEASURE);
  return { ...measures, net: writeForFile(expectedNet(measures), decimals) };
}

/** Why these measures cannot be, as a sentence, or null. */
function impossible(measures: Measures, unit: PriceUnit): string | null {
  const yardWeight = yardWeightOf(measures);
  if (yardWeight.isNegative()) return `The tare, ${measures.tare}, is more than the gross, ${measures.gross}.`;
  if (deductedWeight(measures).gt(yardWeight)) {
    const left = writeForFile(yardWeight, mostDecimals(measures.gross, measures.tare));
    return `The deduction, ${measures.deduction}, is more than gross less tare, ${left}.`;
  }
  const largest = Decimal.max(measures.gross, measures.net || NO_MEASURE);
  if (unit === 'each') return largest.gt(LARGEST_PIECES) ? 'More than 1,000,000 pieces cannot be right here.' : null;
  const tonnes = convertWeight({ amount: largest, unit }, 'tonne').amount;
  return tonnes.gt(LARGEST_TONNES) ? `More than ${LARGEST_TONNES} t cannot be right here. Check the unit.` : null;
}

function completeMeasures(partial: PartialLine): Read<Measures> {
  const { gross, net } = partial;
  const given = { gross, net, tare: partial.tare || NO_MEASURE, deduction: partial.deduction || NO_MEASURE };
  if (gross === '' && net === '') return refused('Enter the gross or the net as the ticket prints it.');
  const withGross = gross === '' ? workOutGross(given) : accepted(given);
  if (!withGross.ok) return withGross;
  const problem = impossible(withGross.value, partial.unit);
  if (problem !== null) return refused(problem);
  return accepted(net === '' ? workOutNet(withGross.value) : withGross.value);
}

/**
 * Works out what the ticket did not print: gross from net, tare and deduction; net from the rest; the amount from net
 * and price, half away from zero. An empty tare or deduction means none. What was printed is never changed.
 * Refuses: neither gross nor net, no price, a tare above the gross, a deduction above what is left, weights above
 * 100 t, amounts above 100 million, and an amount to work out when weight and price are in units that do not meet.
 */
export function completeLine(partial: PartialLine, currency: Currency): Read<CompletedLine> {
  const measures = completeMeasures(partial);
  if (!measures.ok) return measures;
  if (partial.price === '') return refused('Enter the price as the ticket prints it.');
  const { net } = measures.value;
  const value = valueOfQuantity(new Decimal(net), partial.unit, {
    price: new Decimal(partial.price),
    per: partial.per,
  });
  if (value?.gt(LARGEST_AMOUNT)) return refused('Net times price is too large to be right here. Check both units.');
  const amount = partial.amountMinor ?? (value === null ? null : roundToMinor(value, currency));
  if (amount === null) {
    return refused('The price is per piece and the line is a weight, or the reverse: enter the amount as printed.');
  }
  const workedOut = [
    ...(partial.gross === '' ? (['gross'] as const) : []),
    ...(partial.net === '' ? (['net'] as const) : []),
    ...(partial.amountMinor === null ? (['amount'] as const) : []),
  ];
  return accepted({ line: { ...partial, ...measures.value, amountMinor: amount }, workedOut });
}

/** Loads and lines that belong together: a connected set of the graph that joins lines to the loads they pay for. */
export interface ConnectedSet {
  loadIds: number[];
  lineNos: number[];
}

/**
 * The connected sets, in the order of the loads given; a load without a line is a set of its own, a line without
 * loads is in none. Throws when a line names a load that is not given.
 */
export function connectLoadsAndLines(
  loads: readonly { readonly id: number }[],
  lines: readonly Pick<PrintedLine, 'lineNo' | 'loadIds'>[],
): ConnectedSet[] {
  const setOf = new Map(loads.map(({ id }): [number, ConnectedSet] => [id, { loadIds: [id], lineNos: [] }]));
  for (const line of lines) {
    const joined = new Set(line.loadIds.map((id) => setOf.get(id)));
    const set: ConnectedSet = { loadIds: [], lineNos: [line.lineNo] };
    for (const part of joined) {
      if (part === undefined) throw new Error(`line ${line.lineNo} names a load that was not given`);
      set.loadIds.push(...part.loadIds);
      set.lineNos.push(...part.lineNos);
    }
    set.lineNos.sort((a, b) => a - b);
    for (const id of set.loadIds) setOf.set(id, set);
  }
  return [...new Set(setOf.values())];
}

export type FindingCode =
  | 'net_sum'
  | 'amount_product'
  | 'total_sum'
  | 'cash_rounding'
  | 'line_without_load'
  | 'load_without_line'
  | 'number_entered_before'
  | 'day_in_future'
  | 'price_far_from_quote'
  | 'net_far_from_load'
  | 'sold_before_loaded';

/** Something to ask about before a ticket is saved. Nothing of it ever blocks. */
export interface Finding {
  readonly code: FindingCode;
  /** Null when it is about the ticket, or about more than one line. */
  readonly lineNo: number | null;
  /** The figure as printed and as it should be, for people; '' where there is none. */
  readonly printed: string;
  readonly shouldBe: string;
  /** Money as printed less what it should be: positive is in your favour. Null where no money can be named. */
  readonly differenceMinor: AmountMinor | null;
  readonly favours: 'you' | 'yard' | null;
  /** One sentence. */
  readonly text: string;
}

export interface TicketAuditInput {
  readonly currency: Currency;
  readonly decimalMark: DecimalMark;
  /** Unit to write the loads in: the yard's. */
  readonly unit: MassUnit;
  readonly today: Day;
  readonly soldOn: Day;
  readonly loadedOn: Day | null;
  readonly number: string;
  /** Numbers of the tickets already entered for this yard, the replaced one left out. */
  readonly numbersBefore: readonly string[];
  readonly paidBy: PaidBy;
  /** The yard's smallest coin in minor units; 1 when it does not round. */
  readonly cashStepMinor: number;
  readonly chargesMinor: AmountMinor;
  readonly taxMinor: AmountMinor;
  readonly cashRoundingMinor: AmountMinor;
  readonly totalMinor: AmountMinor;
  readonly lines: readonly PrintedLine[];
  readonly loads: readonly { readonly id: number; readonly label: string; readonly massUg: MassUg }[];
  /** The yard's last quote by the grade that a line was paid as. */
  readonly lastQuotes: ReadonlyMap<number, UnitPrice>;
}

type Writing = Pick<TicketAuditInput, 'currency' | 'decimalMark'>;

const FAR_FROM_QUOTE = '0.30';
const FAR_FROM_LOAD = '0.15';

const figure = (digits: string, { decimalMark }: Writing): string => digits.replace('.', decimalMark);
const money = (amount: AmountMinor, { currency, decimalMark }: Writing): string =>
  writeDecimal(toMajor(amount, currency), minorDigits(currency), decimalMark);
const measure = (digits: string, unit: PriceUnit, writing: Writing): string =>
  `${figure(digits, writing)} ${unit === 'each' ? 'pieces' : unit}`;
const pricePhrase = (line: PrintedLine, writing: Writing): string => {
  if (line.per === 'each') return `${figure(line.price, writing)} each`;
  return figure(line.price, writing) + (line.per === line.unit ? '' : ` per ${line.per}`);
};

const favoursWhom = (difference: AmountMinor | null): Finding['favours'] => {
  if (difference === null || difference === 0) return null;
  return difference > 0 ? 'you' : 'yard';
};

/** A mismatch of figures: says the difference and in whose favour it is, and leaves it at that. */
function mismatch(
  found: Pick<Finding, 'code' | 'lineNo' | 'printed' | 'shouldBe' | 'differenceMinor'>,
  sentence: string,
  writing: Writing,
): Finding {
  const favours = favoursWhom(found.differenceMinor);
  const size = money(amountMinor(Math.abs(found.differenceMinor ?? 0)), writing);
  const whose = favours === 'you' ? 'your' : "the yard's";
  return { ...found, favours, text: sentence + (favours === null ? '.' : `: ${size} in ${whose} favour.`) };
}

/** A question about what may be a slip of typing: names no money. */
const question = (found: Pick<Finding, 'code' | 'lineNo' | 'printed' | 'shouldBe' | 'text'>): Finding => ({
  ...found,
  differenceMinor: null,
  favours: null,
});

function checkNet(line: PrintedLine, writing: Writing): Finding[] {
  const expected = expectedNet(line);
  const difference = new Decimal(line.net).minus(expected);
  if (difference.isZero()) return [];
  const value = valueOfQuantity(difference, line.unit, { price: new Decimal(line.price), per: line.per });
  const decimals = mostDecimals(line.gross, line.tare, line.net, percentOf(line.deduction) ? '0' : line.deduction);
  const printed = figure(line.net, writing);
  const shouldBe = writeDecimal(expected, decimals, writing.decimalMark);
  const sum = `gross ${figure(line.gross, writing)} less tare ${figure(line.tare, writing)} less deduction ${figure(
    line.deduction,
    writing,
  )}`;
  const differenceMinor = value === null ? null : roundToMinor(value, writing.currency);
  return [
    mismatch(
      { code: 'net_sum', lineNo: line.lineNo, printed, shouldBe, differenceMinor },
      `Line ${line.lineNo}: ${sum} is ${shouldBe}, the ticket says ${printed}`,
      writing,
    ),
  ];
}

function checkAmount(line: PrintedLine, writing: Writing): Finding[] {
  const expected = expectedAmount(line, writing.currency);
  if (expected === null || expected === line.amountMinor) return [];
  const [printed, shouldBe] = [money(line.amountMinor, writing), money(expected, writing)];
  const product = `${measure(line.net, line.unit, writing)} at ${pricePhrase(line, writing)}`;
  const differenceMinor = amountMinor(line.amountMinor - expected);
  return [
    mismatch(
      { code: 'amount_product', lineNo: line.lineNo, printed, shouldBe, differenceMinor },
      `Line ${line.lineNo}: ${product} is ${shouldBe}, the ticket says ${printed}`,
      writing,
    ),
  ];
}

/** The arithmetic of one line as printed: its net, then its amount. */
export function checkLine(line: PrintedLine, currency: Currency, decimalMark: DecimalMark = '.'): Finding[] {
  const writing = { currency, decimalMark };
  return [...checkNet(line, writing), ...checkAmount(line, writing)];
}

function checkPrice(line: PrintedLine, input: TicketAuditInput): Finding[] {
  const quote = input.lastQuotes.get(line.gradeId);
  const quoted = quote && valueOfQuantity(new Decimal(1), line.per, quote);
  if (!quoted) return [];
  const paid = new Decimal(line.price);
  if (paid.minus(quoted).abs().lte(quoted.times(FAR_FROM_QUOTE))) return [];
  const printed = figure(line.price, input);
  const decimals = Math.max(minorDigits(input.currency), Math.min(quoted.decimalPlaces(), 4));
  const shouldBe = writeDecimal(quoted, decimals, input.decimalMark);
  const text = `Line ${line.lineNo}: the price is ${printed}, the last quote was ${shouldBe}. Is it typed as printed?`;
  return [question({ code: 'price_far_from_quote', lineNo: line.lineNo, printed, shouldBe, text })];
}

function checkHasLoad(line: PrintedLine, input: TicketAuditInput): Finding[] {
  if (line.loadIds.length > 0) return [];
  const printed = money(line.amountMinor, input);
  const text = `Line ${line.lineNo}: no load is chosen for this ${printed}. Choose what it pays for, if it is there.`;
  return [question({ code: 'line_without_load', lineNo: line.lineNo, printed, shouldBe: '', text })];
}

function checkSet(set: ConnectedSet, input: TicketAuditInput): Finding[] {
  const loads = input.loads.filter(({ id }) => set.loadIds.includes(id));
  const lines = input.lines.filter(({ lineNo }) => set.lineNos.includes(lineNo));
  const homeUg = sumMass(loads.map((load) => load.massUg));
  const labels = loads.map((load) => load.label).join(', ');
  if (lines.length === 0) {
    const shouldBe = writeWeight(homeUg, input.unit, input.decimalMark);
    const text = `Load ${labels}, ${shouldBe}, is on no line of the ticket. Was it sold, or brought back?`;
    return [question({ code: 'load_without_line', lineNo: null, printed: '', shouldBe, text })];
  }
  const nets = lines.map(({ net, unit }) => (unit === 'each' ? null : toMassUg({ amount: new Decimal(net), unit })));
  // Pieces have no weight on the ticket, so there is nothing to compare.
  if (!nets.every((net) => net !== null)) return [];
  return compareNets(sumMass(nets), homeUg, labels, lines, input);
}

function compareNets(
  netUg: MassUg,
  homeUg: MassUg,
  labels: string,
  lines: readonly PrintedLine[],
  input: TicketAuditInput,
): Finding[] {
  const difference = new Decimal(netUg).minus(homeUg);
  if (difference.abs().lte(new Decimal(homeUg).times(FAR_FROM_LOAD))) return [];
  const unit = lines.map((line) => line.unit).find((lineUnit) => lineUnit !== 'each') ?? input.unit;
  const [printed, shouldBe] = [netUg, homeUg].map((mass) => writeWeight(mass, unit, input.decimalMark));
  const lineNo = lines.length === 1 ? (lines[0]?.lineNo ?? null) : null;
  const subject = lineNo === null ? `Lines ${lines.map((line) => line.lineNo).join(', ')}` : `Line ${lineNo}`;
  const direction = difference.isNegative() ? 'below' : 'above';
  const text = `${subject}: the net, ${printed}, is far ${direction} what was loaded (${labels}: ${shouldBe}). Is it typed as printed?`;
  return [question({ code: 'net_far_from_load', lineNo, printed: printed ?? '', shouldBe: shouldBe ?? '', text })];
}

/** Σ amounts − charges + tax, before any cash rounding. */
const beforeRounding = (input: TicketAuditInput): AmountMinor =>
  amountMinor(sumMoney(input.lines.map((line) => line.amountMinor)) - input.chargesMinor + input.taxMinor);

function checkTotal(input: TicketAuditInput): Finding[] {
  const expected = amountMinor(beforeRounding(input) + input.cashRoundingMinor);
  if (expected === input.totalMinor) return [];
  const [printed, shouldBe] = [money(input.totalMinor, input), money(expected, input)];
  const differenceMinor = amountMinor(input.totalMinor - expected);
  return [
    mismatch(
      { code: 'total_sum', lineNo: null, printed, shouldBe, differenceMinor },
      `The lines, charges, tax and rounding come to ${shouldBe}, the ticket's total is ${printed}`,
      input,
    ),
  ];
}

function checkCashRounding(input: TicketAuditInput): Finding[] {
  const subtotal = beforeRounding(input);
  const rounded = input.paidBy === 'cash' ? roundCash(subtotal, input.cashStepMinor) : subtotal;
  const expected = amountMinor(rounded - subtotal);
  if (expected === input.cashRoundingMinor) return [];
  const [printed, shouldBe] = [money(input.cashRoundingMinor, input), money(expected, input)];
  const differenceMinor = amountMinor(input.cashRoundingMinor - expected);
  const step = money(amountMinor(Math.max(1, input.cashStepMinor)), input);
  const sentence =
    input.paidBy === 'cash'
      ? `In cash, ${money(subtotal, input)} to the nearest ${step} is a rounding of ${shouldBe}, the ticket has ${printed}`
      : `Only cash is rounded, this ticket was not paid in cash and has a rounding of ${printed}`;
  return [mismatch({ code: 'cash_rounding', lineNo: null, printed, shouldBe, differenceMinor }, sentence, input)];
}

function checkNumber({ number, numbersBefore }: TicketAuditInput): Finding[] {
  const same = (other: string): boolean => other.trim().toLowerCase() === number.trim().toLowerCase();
  if (number.trim() === '' || !numbersBefore.some(same)) return [];
  const text = `Ticket ${number.trim()} of this yard was entered before. Is this another one?`;
  return [question({ code: 'number_entered_before', lineNo: null, printed: number.trim(), shouldBe: '', text })];
}

function checkDays({ soldOn, today, loadedOn }: TicketAuditInput): Finding[] {
  const printed = writeDay(soldOn);
  const findings: Finding[] = [];
  if (soldOn > today) {
    const text = `The ticket's day, ${printed}, is after today. Is it typed as printed?`;
    findings.push(question({ code: 'day_in_future', lineNo: null, printed, shouldBe: '', text }));
  }
  if (loadedOn !== null && soldOn < loadedOn) {
    const shouldBe = writeDay(loadedOn);
    const text = `The ticket's day, ${printed}, is before the day the manifest was loaded, ${shouldBe}.`;
    findings.push(question({ code: 'sold_before_loaded', lineNo: null, printed, shouldBe, text }));
  }
  return findings;
}

/**
 * Checks a ticket as printed: the arithmetic of its lines and its total, the cash rounding, and what looks like a slip
 * of typing. Findings come line by line, then by set of loads and lines, then for the ticket as a whole.
 * Throws when a line names a load that is not given.
 */
export function auditTicket(input: TicketAuditInput): Finding[] {
  return [
    ...input.lines.flatMap((line) => [
      ...checkLine(line, input.currency, input.decimalMark),
      ...checkPrice(line, input),
      ...checkHasLoad(line, input),
    ]),
    ...connectLoadsAndLines(input.loads, input.lines).flatMap((set) => checkSet(set, input)),
    ...checkTotal(input),
    ...checkCashRounding(input),
    ...checkNumber(input),
    ...checkDays(input),
  ];
}
