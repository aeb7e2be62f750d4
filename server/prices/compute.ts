import { type Currency, minorDigits } from '../money/currencies.ts';
import { type AmountMinor, minorPerMajor, NO_MONEY, roundMinor, writeMoney } from '../money/money.ts';
import { type Day, daysBetween } from '../units/day.ts';
import { Decimal, type DecimalMark, type Marks, readDigits, writeDecimal } from '../units/decimal.ts';
import {
  convertWeight,
  isMassUnit,
  type MassUg,
  type MassUnit,
  massUnits,
  microgramsOff,
  millionthsOf,
  type Weight,
} from '../units/mass.ts';
import { readUnit } from '../units/read-weight.ts';
import { accepted, type Read, refused } from '../units/result.ts';

/** What a price is for: a unit of weight, or one piece. */
export type PriceUnit = MassUnit | 'each';
export const priceUnits: readonly PriceUnit[] = [...massUnits, 'each'];
export const isPriceUnit = (text: string): text is PriceUnit => text === 'each' || isMassUnit(text);

/** A price in major units (dollars) for one `per`. */
export interface UnitPrice {
  readonly price: Decimal;
  readonly per: PriceUnit;
}

const MOST_DECIMALS = 6;
const HIGHEST_PRICE = 1_000_000;

/**
 * Reads a price as typed: `3.60`, `$1,204.5`, `0` (a yard may take a grade for nothing).
 * Refuses: empty, negative, not a number, ambiguous groups, more than 6 decimals, above 1,000,000.
 * @returns the digits with a point as mark, its zeros kept as typed
 */
export function readPrice(typed: string, rules: Marks): Read<{ digits: string }> {
  const text = typed.trim().replace(/^[$€£¥]\s*/, '');
  const digits = readDigits(text, { ...rules, maxDecimals: MOST_DECIMALS, what: 'price' });
  if (!digits.ok) return digits;
  if (new Decimal(digits.value).gt(HIGHEST_PRICE)) {
    return refused(`A price above ${writeDecimal(new Decimal(HIGHEST_PRICE), 0, rules.decimalMark)} cannot be right.`);
  }
  return accepted({ digits: digits.value });
}

/** The unit that a price is for, as a yard writes it: `lb`, `per lb`, `/lb`, `net ton`, `each`; null when unknown. */
export function readPriceUnit(word: string): PriceUnit | null {
  const unit = word.trim().replace(/^(per\s+|\/\s*)/i, '');
  return /^(each|piece)$/i.test(unit) ? 'each' : readUnit(unit);
}

/**
 * The same price for another unit of weight, unrounded; null for a price per piece.
 * A price converts as a weight does: one `to` is so many `per`, and costs so many times the price. One multiplication,
 * then one division, so 190 per net ton is exactly 0.095 per lb; only the division rounds, at 40 digits, and only
 * when the result does not end (kg or tonne to a pound unit or troy ounce).
 */
export function convertPrice(unitPrice: UnitPrice, to: MassUnit): Decimal | null {
  if (unitPrice.per === 'each') return null;
  return convertWeight({ amount: unitPrice.price, unit: to }, unitPrice.per).amount;
}

/**
 * What a quantity is worth in major units, unrounded; null when a weight meets a price per piece or the reverse.
 * Multiplies before it divides, so 212 lb at 190 per net ton is exactly 20.14; the division rounds at 40 digits.
 */
export function valueOfQuantity(quantity: Decimal, unit: PriceUnit, unitPrice: UnitPrice): Decimal | null {
  const product = quantity.times(unitPrice.price);
  if (unit === unitPrice.per) return product;
  if (unit === 'each' || unitPrice.per === 'each') return null;
  return convertWeight({ amount: product, unit }, unitPrice.per).amount;
}

/** The unit whose typed figures are not whole micrograms, by what a price is for. Metric figures are, so none. */
const TYPED_UNIT: Partial<Record<MassUnit, MassUnit>> = {
  lb: 'lb',
  oz: 'oz',
  ozt: 'ozt',
  cwt: 'lb',
  'net ton': 'lb',
  'gross ton': 'lb',
};
/** Nothing is typed with more than 5 decimals. */
const TYPED_STEP = new Decimal('0.00001');
const GRAMS_PER_MICROGRAM = new Decimal('0.000001');
/** Each weighing is off by at most half a microgram, and a bin's book weight is a sum of many. */
const MOST_DRIFT_UG = 10;

/**
 * What a stored mass stands for, exact. 1.02 lb is 462 664 217.4 µg and stored without the last digit, which
 * would tip a value of exactly half a cent (1.02 lb at 0.25 is 0.255) to the wrong side. So when the mass lies within
 * 10 µg of a figure of at most 5 decimals in the unit family of `per`, that figure is what was weighed; else its grams.
 */
function weighedAmount(mass: MassUg, per: MassUnit): Weight {
  const stored: Weight = { amount: new Decimal(mass).times(GRAMS_PER_MICROGRAM), unit: 'g' };
  const unit = TYPED_UNIT[per];
  if (unit === undefined) return stored;
  // Of millionths that lie in the middle between two such figures it does not matter which is taken: both are far off.
  const figure = Math.round(millionthsOf(mass, unit) / 10);
  if (figure === 0 || microgramsOff(mass, figure * 10, unit) > MOST_DRIFT_UG) return stored;
  return { amount: new Decimal(figure).times(TYPED_STEP), unit };
}

/** The grams that a stored mass stands for, exact; see weighedAmount. */
export const weighedGrams = (mass: MassUg, per: MassUnit): Decimal =>
  convertWeight(weighedAmount(mass, per), 'g').amount;

/** What a mass is worth in major units, unrounded; null for a price per piece. See valueOfQuantity for exactness. */
export function valueOfMass(mass: MassUg, unitPrice: UnitPrice): Decimal | null {
  if (unitPrice.per === 'each') return null;
  const { amount, unit } = weighedAmount(mass, unitPrice.per);
  return valueOfQuantity(amount, unit, unitPrice);
}

/** More minor units than any bin or load of a household is worth: its price was meant for another unit. */
const LARGEST_WORTH_MINOR = 1_000_000_000;

/**
 * What a mass is worth to the minor unit, half away from zero. Null for a price per piece, and where it comes to more
 * than can be right: a page that shows it must not fail because of one mistyped price.
 */
export function worthOfMass(mass: MassUg, unitPrice: UnitPrice, currency: Currency): AmountMinor | null {
  const value = valueOfMass(mass, unitPrice);
  const minor = value?.times(minorPerMajor(currency));
  return minor === undefined || minor.gt(LARGEST_WORTH_MINOR) ? null : roundMinor(minor);
}

/**
 * Decimals to show. A typed price keeps all of its own, at most 6; one with more was converted and never typed, so it
 * is cut to two more than the currency has.
 */
function decimalsToShow(price: Decimal, typedDecimals: number, currency: Currency): number {
  const usual = minorDigits(currency);
  const decimals = Math.max(typedDecimals, price.decimalPlaces());
  return decimals > MOST_DECIMALS ? usual + 2 : Math.max(usual, decimals);
}

/**
 * A price for people to read: "$3.60 per lb", "$190.00 per net ton", "$0.095 per lb", "$5.00 each".
 * At least the currency's decimals; rounds half away from zero; for display only.
 */
export function writePrice(price: string | Decimal, per: PriceUnit, currency: Currency, mark: DecimalMark): string {
  const value = new Decimal(price);
  const typedDecimals = typeof price === 'string' ? (price.split('.')[1] ?? '').length : 0;
  const figure = writeDecimal(value, decimalsToShow(value, typedDecimals, currency), mark);
  // No money, written out, has the currency's sign in the right place; the price takes the place of its figure.
  const money = writeMoney(NO_MONEY, currency, mark).replace(/0([.,]0+)?/, () => figure);
  return per === 'each' ? `${money} each` : `${money} per ${per}`;
}

/** Whole days since a quote was seen; negative when it is dated after today. */
export const quoteAgeDays = (seenOn: Day, today: Day): number => daysBetween(seenOn, today);

/** Whether a quote is older than the yard's usual refresh. On the last day of the refresh it is not. */
export const isStale = (seenOn: Day, today: Day, refreshDays: number): boolean =>
  quoteAgeDays(seenOn, today) > refreshDays;
