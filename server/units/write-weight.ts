import { Decimal, type DecimalMark, groupDigits } from './decimal.ts';
import { type MassUg, type MassUnit, millionthsOf } from './mass.ts';
import { readWeight } from './read-weight.ts';

/** Decimals that people use when they write a weight in that unit. */
const USUAL_DECIMALS: Record<MassUnit, number> = {
  lb: 2,
  oz: 1,
  kg: 3,
  g: 0,
  ozt: 3,
  cwt: 3,
  'net ton': 4,
  'gross ton': 4,
  tonne: 4,
};

/**
 * A mass as an amount of `unit`, to 6 decimals, half away from zero. 2.625 lb is stored as the whole micrograms that lie
 * a hair below it, and would show as 2.62; nothing is typed with more than 6 decimals, so this is what was weighed.
 */
export const shownAmount = (mass: MassUg, unit: MassUnit): Decimal =>
  new Decimal(millionthsOf(mass, unit)).times(MILLIONTH);

const MILLIONTH = new Decimal('0.000001');
const MILLIONTHS = 6;

/** The figure alone, at the unit's usual decimals: "1,204.50". Rounds half away from zero; for display only. */
export function writeWeightFigure(mass: MassUg, unit: MassUnit, mark: DecimalMark): string {
  const millionths = millionthsOf(mass, unit);
  const decimals = USUAL_DECIMALS[unit];
  const step = 10 ** (MILLIONTHS - decimals);
  const rest = Math.abs(millionths) % step;
  const steps = (Math.abs(millionths) - rest) / step + (rest >= step / 2 ? 1 : 0);
  const digits = String(steps).padStart(decimals + 1, '0');
  const whole = groupDigits(digits.slice(0, digits.length - decimals), mark);
  const sign = millionths < 0 && steps > 0 ? '−' : '';
  return decimals === 0 ? sign + whole : `${sign}${whole}${mark}${digits.slice(-decimals)}`;
}

/** A mass with its unit, for people to read: "34.50 lb". */
export function writeWeight(mass: MassUg, unit: MassUnit, mark: DecimalMark): string {
  return `${writeWeightFigure(mass, unit, mark)} ${unit}`;
}

/**
 * A weight as it was typed, with its unit: "33.45 lb", "1 lb 8 oz". Where the text does not stand for the mass (the tare
 * of a container in another unit, a decimal mark that was changed since), the mass is written instead.
 */
export function writeTypedWeight(typed: string, unit: MassUnit, mass: MassUg, mark: DecimalMark): string {
  const read = readWeight(typed, { unit, decimalMark: mark, zeroAllowed: true });
  if (!read.ok || read.value.massUg !== mass) return writeWeight(mass, unit, mark);
  return /[a-z#]/i.test(typed) ? typed : `${typed} ${unit}`;
}

/** A figure for files: a point as mark, no groups, at least `decimals` decimals and none of its own lost. */
export function writeForFile(value: Decimal, decimals: number): string {
  return value.toFixed(Math.max(decimals, Math.min(value.decimalPlaces(), 6)));
}
