import { Decimal } from '../units/decimal.ts';
import { convertWeight, type MassUg, type MassUnit, toWeight, type Weight } from '../units/mass.ts';
import { readWeight } from '../units/read-weight.ts';
import { shownAmount, writeForFile } from '../units/write-weight.ts';

/** What a weight in a file can hold, and what its import reads. */
const MOST_DECIMALS = 6;
const LEAST_DECIMALS = 4;

/**
 * A weight in the unit it was typed in: `3 lb 7 oz` is 3.4375 lb, `12,4 kg` is 12.4 kg. Whether it was typed with a
 * point or a comma as mark is told by the mass that was stored with it; null when it is not what gave that mass.
 */
export function weightAsTyped(typed: string, unit: MassUnit, mass: MassUg): Weight | null {
  for (const decimalMark of ['.', ','] as const) {
    const read = readWeight(typed, { unit, decimalMark, zeroAllowed: true });
    if (read.ok && read.value.massUg === mass) return read.value.weight;
  }
  return null;
}

/** A weight as a figure for a file: at least 4 decimals, and none of its own lost up to 6. */
export function weightFigure(weight: Weight, unit: MassUnit): string {
  const amount = convertWeight(weight, unit).amount.toDecimalPlaces(MOST_DECIMALS, Decimal.ROUND_HALF_UP);
  return writeForFile(amount, LEAST_DECIMALS);
}

/** A mass as a figure for a report, at exactly 4 decimals. */
export const reportFigure = (mass: MassUg, unit: MassUnit): string =>
  shownAmount(mass, unit).toFixed(LEAST_DECIMALS, Decimal.ROUND_HALF_UP);

/** A figure with its unit, as two cells of a row. */
export interface FigureAndUnit {
  readonly figure: string;
  readonly unit: MassUnit;
}

/**
 * A load's net weight for a file: as it was typed, else its mass in `unit`. A mass too small for 6 decimals of that
 * unit is written in grams, of which 6 decimals hold every microgram: a load is never nothing.
 */
export function loadFigure(asTyped: Weight | null, mass: MassUg, unit: MassUnit): FigureAndUnit {
  if (asTyped !== null) return { figure: weightFigure(asTyped, asTyped.unit), unit: asTyped.unit };
  const weight = toWeight(mass, unit);
  const isTooSmall = weight.amount.toDecimalPlaces(MOST_DECIMALS, Decimal.ROUND_HALF_UP).isZero();
  const readable = isTooSmall ? 'g' : unit;
  return { figure: weightFigure(weight, readable), unit: readable };
}

/**
 * A name of its own for each ticket of one yard: the second standing ticket numbered 70011 is `70011 (2)`, so that a
 * file tells them apart.
 * @param used the names given so far at that yard, folded; the new one is added
 */
export function ticketName(number: string, used: Set<string>): string {
  let name = number;
  for (let count = 2; used.has(fold(name)); count += 1) name = `${number} (${count})`;
  used.add(fold(name));
  return name;
}

/** Names are told apart as the database does it: without regard to the case of the letters A to Z. */
export const fold = (text: string): string => text.replace(/[A-Z]/g, (letter) => letter.toLowerCase());

/** A text from a file within a sentence. */
export const shortly = (text: string): string => `“${text.length > 40 ? `${text.slice(0, 40)}…` : text}”`;
