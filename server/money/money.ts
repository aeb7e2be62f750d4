import {
  Decimal,
  type DecimalMark,
  decimalsOf,
  groupDigits,
  type Marks,
  marksOf,
  readDigits,
} from '../units/decimal.ts';
import { accepted, type Read, refused } from '../units/result.ts';
import { wholeNumber } from '../units/too-large.ts';
import { type Currency, minorDigits } from './currencies.ts';

/** An amount of money as a whole number of the currency's minor unit (cents). May be negative. */
export type AmountMinor = number & { readonly __brand: 'AmountMinor' };

/** Marks a whole number of minor units as money. Throws as wholeNumber does. */
export function amountMinor(minor: number): AmountMinor {
  return (minor === 0 ? 0 : wholeNumber(minor, 'minor units')) as AmountMinor;
}

export const NO_MONEY = amountMinor(0);

const MINOR_PER_MAJOR = [1, 10, 100, 1000].map((minor) => new Decimal(minor));

/** How many cents make a dollar: 100, or 1 or 1000 in other currencies. */
export const minorPerMajor = (currency: Currency): Decimal =>
  MINOR_PER_MAJOR[minorDigits(currency)] ?? new Decimal(10).pow(minorDigits(currency));

/** Minor units with a fraction to whole ones, half away from zero. */
export const roundMinor = (minor: Decimal): AmountMinor =>
  amountMinor(minor.toDecimalPlaces(0, Decimal.ROUND_HALF_UP).toNumber());

/** Major units (dollars) to minor units, half away from zero. */
export const roundToMinor = (major: Decimal, currency: Currency): AmountMinor =>
  roundMinor(major.times(minorPerMajor(currency)));

/** Minor units to major units, exact. */
export function toMajor(amount: AmountMinor, currency: Currency): Decimal {
  return new Decimal(amount).div(minorPerMajor(currency));
}

export const addMoney = (a: AmountMinor, b: AmountMinor): AmountMinor => amountMinor(a + b);
export const subtractMoney = (a: AmountMinor, b: AmountMinor): AmountMinor => amountMinor(a - b);
export const negateMoney = (a: AmountMinor): AmountMinor => amountMinor(-a);
export const sumMoney = (amounts: readonly AmountMinor[]): AmountMinor => amounts.reduce(addMoney, NO_MONEY);

export interface MoneyRules extends Marks {
  currency: Currency;
  /** A tax or a cash rounding may be taken off, written with a leading minus. */
  negativeAllowed?: boolean;
  what?: string;
}

/** Reads an amount as typed ("181.80", "$1,204.50"); more decimals than the currency has are refused. */
export function readMoney(typed: string, rules: MoneyRules): Read<AmountMinor> {
  const text = typed.trim().replace(/^([-−]?)\s*[$€£¥]\s*/, '$1');
  const negative = rules.negativeAllowed === true && /^[-−]/.test(text);
  const digits = readDigits(negative ? text.slice(1) : text, {
    ...marksOf(rules),
    maxDecimals: minorDigits(rules.currency),
    what: rules.what ?? 'amount',
  });
  if (!digits.ok) return digits;
  const major = new Decimal(digits.value).times(negative ? -1 : 1);
  if (major.abs().gt(LARGEST_AMOUNT)) return refused('This amount is too large to be right here.');
  return accepted(roundToMinor(major, rules.currency));
}

const LARGEST_AMOUNT = 100_000_000;

/** What stands before and after the figure of an amount that is not negative, and of one that is. */
interface MoneyPattern {
  positive: [before: string, after: string];
  negative: [before: string, after: string];
}

function makePattern(currency: Currency, mark: DecimalMark): MoneyPattern {
  const format = new Intl.NumberFormat(mark === '.' ? 'en-US' : 'de-DE', {
    style: 'currency',
    currency,
    currencyDisplay: 'narrowSymbol',
    maximumFractionDigits: 0,
  });
  const around = (sample: number): [string, string] => {
    const [before = '', after = ''] = format.format(sample).replace('-', '−').replaceAll('\u00a0', ' ').split('1');
    return [before, after];
  };
  return { positive: around(1), negative: around(-1) };
}

const patterns = new Map<string, MoneyPattern>();

/** Where a currency's sign stands is asked for once: to make a formatter takes longer than the rest of a hang tag. */
function patternOf(currency: Currency, mark: DecimalMark): MoneyPattern {
  const key = currency + mark;
  let pattern = patterns.get(key);
  if (pattern === undefined) {
    pattern = makePattern(currency, mark);
    patterns.set(key, pattern);
  }
  return pattern;
}

/** Money for people to read, with the currency's own sign: "$1,204.50", "−$3.15". */
export function writeMoney(amount: AmountMinor, currency: Currency, mark: DecimalMark): string {
  const { positive, negative } = patternOf(currency, mark);
  const [before, after] = amount < 0 ? negative : positive;
  const decimals = minorDigits(currency);
  const digits = String(Math.abs(amount)).padStart(decimals + 1, '0');
  const whole = groupDigits(digits.slice(0, digits.length - decimals), mark);
  return decimals === 0 ? before + whole + after : `${before}${whole}${mark}${digits.slice(-decimals)}${after}`;
}

/** Money for people to read with its sign always there: "+$0.76", "−$3.15", "$0.00". */
export function writeSignedMoney(amount: AmountMinor, currency: Currency, mark: DecimalMark): string {
  return (amount > 0 ? '+' : '') + writeMoney(amount, currency, mark);
}

/** Money for files: a point as mark, no groups, always the currency's decimals: "-3.15". */
export function writeMoneyForFile(amount: AmountMinor, currency: Currency): string {
  return toMajor(amount, currency).toFixed(minorDigits(currency));
}

/**
 * Rounds a cash total to the smallest coin. The absolute amount is rounded half up, then the sign is put back.
 * Source: Government of Canada, Budget 2012, rounding of cash totals to five cents (1, 2 down; 3, 4 up; 6, 7 down;
 * 8, 9 up). For a tie at a ten-cent step no single published rule exists; half up is common practice.
 * @param step smallest coin in minor units; 1 or less leaves the amount as it is
 */
export function roundCash(amount: AmountMinor, step: number): AmountMinor {
  if (step <= 1) return amount;
  const steps = new Decimal(Math.abs(amount)).div(step).toDecimalPlaces(0, Decimal.ROUND_HALF_UP).toNumber();
  return amountMinor(Math.sign(amount) * steps * step);
}

/** Decimals of a price or amount that was printed, at least the currency's own. */
export const priceDecimals = (digits: string, currency: Currency): number =>
  Math.max(decimalsOf(digits), minorDigits(currency));
