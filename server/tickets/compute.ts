import type { Currency } from '../money/currencies.ts';
import { type AmountMinor, NO_MONEY, roundCash, roundToMinor, subtractMoney } from '../money/money.ts';
import { type PriceUnit, valueOfQuantity } from '../prices/compute.ts';
import { Decimal, decimalsOf, type Marks, readDigits } from '../units/decimal.ts';
import { convertWeight } from '../units/mass.ts';
import { accepted, type Read, refused } from '../units/result.ts';
import { writeForFile } from '../units/write-weight.ts';
import type { TicketLine } from './queries.ts';

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

/** A stored line as it was printed. */
export const toPrintedLine = (line: TicketLine): PrintedLine => ({
  lineNo: line.line_no,
  description: line.description,
  gradeId: line.grade_id,
  loadIds: line.loadIds,
  gross: line.gross,
  tare: line.tare,
  deduction: line.deduction,
  net: line.net,
  unit: line.unit,
  price: line.price,
  per: line.per,
  amountMinor: line.amount_minor,
});

/** A line with '' or null for what the ticket did not print. */
export type PartialLine = Omit<PrintedLine, 'amountMinor'> & { readonly amountMinor: AmountMinor | null };

/** A figure of a line that a ticket may leave out. */
export type WorkableFigure = 'gross' | 'net' | 'amount';

/** A figure that the completing of a line may refuse. */
type FigureName = 'gross' | 'tare' | 'deduction' | 'net' | 'price' | 'amount';
/** Like Read, with the figure that a refusal is about. */
type Completing<T> = { ok: true; value: T } | { ok: false; refusal: string; figure: FigureName };
const completed = <T>(value: T): Completing<T> => ({ ok: true, value });
const refusedAt = (figure: FigureName, refusal: string): Completing<never> => ({ ok: false, refusal, figure });

/** The figures that a stored line says were worked out, from their names joined by commas. */
export const workedOutOf = (line: { readonly worked_out: string }): string[] =>
  line.worked_out.split(',').filter((name) => name !== '');

export interface CompletedLine {
  line: PrintedLine;
  workedOut: readonly WorkableFigure[];
}

const LARGEST_TONNES = 100;
const LARGEST_PIECES = 1_000_000;
const LARGEST_AMOUNT = 100_000_000;
const NO_MEASURE = '0';
/** A yard's scale may round a percent to more decimals than its figures happen to show: 25.08 of 27.9 less 1.5 less 5%. */
const MOST_NET_DECIMALS = 4;

/**
 * Reads a deduction as printed: `3.5`, `5%`, empty for none.
 * @returns "3.5", "5%" or "0"; refuses what is not a number, and more than 100 %
 */
export function readDeduction(typed: string, rules: Marks): Read<string> {
  const text = typed.trim();
  if (text === '') return accepted(NO_MEASURE);
  const isPercent = text.endsWith('%');
  const what = isPercent ? 'percentage' : 'deduction';
  const digits = readDigits(isPercent ? text.slice(0, -1) : text, { ...rules, maxDecimals: 6, what });
  if (!digits.ok || !isPercent) return digits;
  return new Decimal(digits.value).gt(100)
    ? refused('A deduction cannot be above 100 %.')
    : accepted(`${digits.value}%`);
}

export const percentOf = (deduction: string): Decimal | null =>
  deduction.endsWith('%') ? new Decimal(deduction.slice(0, -1)) : null;

export const mostDecimals = (...figures: string[]): number => Math.max(...figures.map(decimalsOf));

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
export const expectedNet = (measures: Measures): Decimal => yardWeightOf(measures).minus(deductedWeight(measures));

/** What the amount should be: net times price, rounded half away from zero; null when their units do not meet. */
export function expectedAmount(
  line: Pick<PrintedLine, 'net' | 'unit' | 'price' | 'per'>,
  currency: Currency,
): AmountMinor | null {
  const value = valueOfQuantity(new Decimal(line.net), line.unit, { price: new Decimal(line.price), per: line.per });
  return value === null ? null : roundToMinor(value, currency);
}

/** Works the gross back from the net. With a percent the result is rounded so that it gives this very net again. */
function workOutGross(measures: Measures): Completing<Measures> {
  const { net, tare, deduction } = measures;
  const percent = percentOf(deduction);
  if (percent === null) {
    const gross = new Decimal(net).plus(tare).plus(deduction);
    return completed({ ...measures, gross: writeForFile(gross, mostDecimals(net, tare, deduction)) });
  }
  if (percent.gte(100)) return refusedAt('gross', 'With all of it taken off, enter the gross as the ticket prints it.');
  const decimals = mostDecimals(net, tare);
  const yardWeight = new Decimal(net).times(100).div(new Decimal(100).minus(percent));
  const gross = yardWeight.toDecimalPlaces(decimals, Decimal.ROUND_HALF_UP).plus(tare);
  return completed({ ...measures, gross: writeForFile(gross, decimals) });
}

/** The net at so many decimals: a percent is rounded to them. */
function netAt(measures: Measures, decimals: number): string {
  const net = writeForFile(new Decimal(0), decimals);
  return writeForFile(expectedNet({ ...measures, net }), decimals);
}

/**
 * Works the net out at the decimals that the line prints, or, when its amount is printed, at the first number of
 * decimals from those on at which net times price gives that amount: a trailing zero that was not typed must not look
 * like a slip of the yard's.
 */
function workOutNet(measures: Measures, partial: PartialLine, currency: Currency): Measures {
  const { gross, tare, deduction } = measures;
  const fewest = mostDecimals(gross, tare, percentOf(deduction) === null ? deduction : NO_MEASURE);
  const givesAmount = (decimals: number): boolean =>
    expectedAmount({ ...partial, net: netAt(measures, decimals) }, currency) === partial.amountMinor;
  const tried = Array.from({ length: Math.max(0, MOST_NET_DECIMALS - fewest) + 1 }, (_, more) => fewest + more);
  const isKnown = partial.price !== '' && partial.amountMinor !== null;
  const decimals = (isKnown ? tried.find(givesAmount) : undefined) ?? fewest;
  return { ...measures, net: netAt(measures, decimals) };
}

/** Why these measures cannot be, or null. @param printed the line before anything of it was worked out */
function impossible(measures: Measures, printed: PartialLine): Completing<never> | null {
  const yardWeight = yardWeightOf(measures);
  if (yardWeight.isNegative()) {
    return refusedAt('tare', `The tare, ${measures.tare}, is more than the gross, ${measures.gross}.`);
  }
  if (deductedWeight(measures).gt(yardWeight)) {
    const left = writeForFile(yardWeight, mostDecimals(measures.gross, measures.tare));
    return refusedAt('deduction', `The deduction, ${measures.deduction}, is more than gross less tare, ${left}.`);
  }
  return tooMuch(measures, printed);
}

/** A weight, or a value, that is too large to be right: held against both the gross and a net that was printed. */
function tooMuch(measures: Measures, printed: PartialLine): Completing<never> | null {
  const { unit, price, per } = printed;
  const largest = Decimal.max(measures.gross, measures.net || NO_MEASURE);
  if (unit === 'each' && largest.gt(LARGEST_PIECES)) {
    return refusedAt(largestPrinted(printed), 'More than 1,000,000 pieces cannot be right here.');
  }
  if (unit !== 'each' && convertWeight({ amount: largest, unit }, 'tonne').amount.gt(LARGEST_TONNES)) {
    return refusedAt(largestPrinted(printed), `More than ${LARGEST_TONNES} t cannot be right here. Check the unit.`);
  }
  const value = price === '' ? null : valueOfQuantity(largest, unit, { price: new Decimal(price), per });
  return value?.gt(LARGEST_AMOUNT)
    ? refusedAt('price', 'Weight times price is too large to be right here. Check both units.')
    : null;
}

/** The largest of what was printed: a gross that was worked out is as large as it is because of another figure. */
function largestPrinted(printed: PartialLine): FigureName {
  const names = ['gross', 'net', 'tare', 'deduction'] as const;
  const sizeOf = (name: (typeof names)[number]): Decimal =>
    new Decimal(percentOf(printed[name]) === null ? printed[name] || NO_MEASURE : NO_MEASURE);
  return names.reduce((most, name) => (sizeOf(name).gt(sizeOf(most)) ? name : most));
}

function completeMeasures(partial: PartialLine, currency: Currency): Completing<Measures> {
  const { gross, net } = partial;
  const given = { gross, net, tare: partial.tare || NO_MEASURE, deduction: partial.deduction || NO_MEASURE };
  if (gross === '' && net === '') return refusedAt('gross', 'Enter the gross or the net as the ticket prints it.');
  const withGross = gross === '' ? workOutGross(given) : completed<Measures>(given);
  if (!withGross.ok) return withGross;
  const problem = impossible(withGross.value, partial);
  if (problem !== null) return problem;
  return completed(net === '' ? workOutNet(withGross.value, partial, currency) : withGross.value);
}

/**
 * Works out what the ticket did not print: gross from net, tare and deduction; net from the rest; the amount from net
 * and price, half away from zero. An empty tare or deduction means none. What was printed is never changed.
 * Refuses: neither gross nor net, no price, a tare above the gross, a deduction above what is left, weights above
 * 100 t, amounts above 100 million, and an amount to work out when weight and price are in units that do not meet.
 */
export function completeLine(partial: PartialLine, currency: Currency): Completing<CompletedLine> {
  const measures = completeMeasures(partial, currency);
  if (!measures.ok) return measures;
  if (partial.price === '') return refusedAt('price', 'Enter the price as the ticket prints it.');
  const { net } = measures.value;
  const value = valueOfQuantity(new Decimal(net), partial.unit, {
    price: new Decimal(partial.price),
    per: partial.per,
  });
  const amount = partial.amountMinor ?? (value === null ? null : roundToMinor(value, currency));
  if (amount === null) {
    const say = 'The price is per piece and the line is a weight, or the reverse: enter the amount as printed.';
    return refusedAt('amount', say);
  }
  const workedOut = [
    ...(partial.gross === '' ? (['gross'] as const) : []),
    ...(partial.net === '' ? (['net'] as const) : []),
    ...(partial.amountMinor === null ? (['amount'] as const) : []),
  ];
  return completed({ line: { ...partial, ...measures.value, amountMinor: amount }, workedOut });
}

/**
 * The cash rounding that a ticket does not print: none when its total is what its figures come to as they stand, else
 * what the yard's step makes of them.
 */
export const workOutCashRounding = (
  beforeRoundingMinor: AmountMinor,
  totalMinor: AmountMinor,
  cashStepMinor: number,
): AmountMinor =>
  totalMinor === beforeRoundingMinor
    ? NO_MONEY
    : subtractMoney(roundCash(beforeRoundingMinor, cashStepMinor), beforeRoundingMinor);

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
