import type { Currency } from '../money/currencies.ts';
import { type AmountMinor, amountMinor, roundCash, roundToMinor, sumMoney, writeMoney } from '../money/money.ts';
import { type PriceUnit, type UnitPrice, valueOfQuantity, writePrice } from '../prices/compute.ts';
import { type Day, writeDay } from '../units/day.ts';
import { Decimal, type DecimalMark, writeDecimal } from '../units/decimal.ts';
import { type MassUg, type MassUnit, sumMass, toMassUg } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';
import {
  type ConnectedSet,
  connectLoadsAndLines,
  expectedAmount,
  expectedNet,
  mostDecimals,
  type PrintedLine,
  percentOf,
} from './compute.ts';
import type { PaidBy } from './table.ts';

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
  writeMoney(amount, currency, decimalMark);
const measure = (digits: string, unit: PriceUnit, writing: Writing): string =>
  `${figure(digits, writing)} ${unit === 'each' ? 'pieces' : unit}`;
const price = (digits: string | Decimal, per: PriceUnit, { currency, decimalMark }: Writing): string =>
  writePrice(digits, per, currency, decimalMark);

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
  const product = `${measure(line.net, line.unit, writing)} at ${price(line.price, line.per, writing)}`;
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
  const [printed, shouldBe] = [price(line.price, line.per, input), price(quoted, line.per, input)];
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
