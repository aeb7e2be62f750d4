import { Decimal } from './decimal.ts';
import { wholeNumber } from './too-large.ts';

/** A mass as a whole number of micrograms: exact in JavaScript up to 9,007 tonnes. */
export type MassUg = number & { readonly __brand: 'MassUg' };

/**
 * Micrograms in one unit, all exact by definition.
 * Source: NIST Handbook 44, Appendix C, General Tables of Units of Measurement; NIST SP 811 (2008), Appendix B.8.
 */
const MICROGRAMS = {
  lb: 453_592_370,
  oz: 28_349_523.125,
  kg: 1_000_000_000,
  g: 1_000_000,
  ozt: 31_103_476.8,
  cwt: 45_359_237_000,
  'net ton': 907_184_740_000,
  'gross ton': 1_016_046_908_800,
  tonne: 1_000_000_000_000,
} as const;

export type MassUnit = keyof typeof MICROGRAMS;
export const massUnits = Object.keys(MICROGRAMS) as readonly MassUnit[];
export const isMassUnit = (text: string): text is MassUnit => Object.hasOwn(MICROGRAMS, text);

const ugPerUnit = Object.fromEntries(massUnits.map((unit) => [unit, new Decimal(MICROGRAMS[unit])])) as Record<
  MassUnit,
  Decimal
>;

/** A weight in a stated unit. The unit is part of the type: pounds cannot be passed as kilograms. */
export interface Weight<U extends MassUnit = MassUnit> {
  readonly amount: Decimal;
  readonly unit: U;
}

/** Marks a whole number of micrograms as a mass. Throws as wholeNumber does. */
export const massUg = (micrograms: number): MassUg => wholeNumber(micrograms, 'micrograms') as MassUg;

export const NO_MASS = massUg(0);

/** Weight to micrograms; rounds half away from zero to the microgram. */
export function toMassUg(weight: Weight): MassUg {
  return massUg(weight.amount.times(ugPerUnit[weight.unit]).toDecimalPlaces(0, Decimal.ROUND_HALF_UP).toNumber());
}

/** Micrograms to a weight in `unit`, to 40 significant digits, unrounded. */
export function toWeight<U extends MassUnit>(mass: MassUg, unit: U): Weight<U> {
  return { amount: new Decimal(mass).div(ugPerUnit[unit]), unit };
}

/** Thousandths of a microgram in one unit: whole numbers, also of the ounces. */
const nanogramsPerUnit = Object.fromEntries(
  massUnits.map((unit) => [unit, BigInt(Math.round(MICROGRAMS[unit] * 1000))]),
) as Record<MassUnit, bigint>;

/**
 * A mass in millionths of a unit, half away from zero. In whole numbers throughout, a tenth of what a division to 40
 * digits costs: every weight on every page comes by here.
 */
export function millionthsOf(mass: MassUg, unit: MassUnit): number {
  const perUnit = nanogramsPerUnit[unit];
  // Twice the millionths and one, over two: that rounds half up without a fraction.
  const rounded = Number((BigInt(Math.abs(mass)) * 2_000_000_000n + perUnit) / (2n * perUnit));
  return mass < 0 ? -rounded : rounded;
}

/** How many micrograms, a begun one counted whole, a mass lies off a figure of so many millionths of a unit. */
export function microgramsOff(mass: MassUg, millionths: number, unit: MassUnit): number {
  const off = BigInt(millionths) * nanogramsPerUnit[unit] - BigInt(mass) * 1_000_000_000n;
  return Number(((off < 0n ? -off : off) + 999_999_999n) / 1_000_000_000n);
}

/** How many `to` make one `from`, for example 2000 for net ton to lb. */
export function unitRatio(from: MassUnit, to: MassUnit): Decimal {
  return ugPerUnit[from].div(ugPerUnit[to]);
}

export const convertWeight = <U extends MassUnit>(weight: Weight, unit: U): Weight<U> => ({
  amount: weight.amount.times(ugPerUnit[weight.unit]).div(ugPerUnit[unit]),
  unit,
});

export const addMass = (a: MassUg, b: MassUg): MassUg => massUg(a + b);
export const subtractMass = (a: MassUg, b: MassUg): MassUg => massUg(a - b);
export const sumMass = (masses: readonly MassUg[]): MassUg => masses.reduce(addMass, NO_MASS);
