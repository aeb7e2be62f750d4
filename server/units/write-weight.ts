import { type Decimal, type DecimalMark, writeDecimal } from './decimal.ts';
import { type MassUg, type MassUnit, toWeight } from './mass.ts';

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

/** The figure alone, at the unit's usual decimals: "1,204.50". Rounds half away from zero; for display only. */
export function writeWeightFigure(mass: MassUg, unit: MassUnit, mark: DecimalMark): string {
  return writeDecimal(toWeight(mass, unit).amount, USUAL_DECIMALS[unit], mark);
}

/** A mass with its unit, for people to read: "34.50 lb". */
export function writeWeight(mass: MassUg, unit: MassUnit, mark: DecimalMark): string {
  return `${writeWeightFigure(mass, unit, mark)} ${unit}`;
}

/** A figure for files: a point as mark, no groups, at least `decimals` decimals and none of its own lost. */
export function writeForFile(value: Decimal, decimals: number): string {
  return value.toFixed(Math.max(decimals, Math.min(value.decimalPlaces(), 6)));
}
