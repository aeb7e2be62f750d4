import { type Decimal, type Marks, marksOf, readDecimal } from '../units/decimal.ts';
import { accepted, type Read, refused } from '../units/result.ts';

/**
 * Density of annealed copper at 20 °C in g/cm³. Source: International Annealed Copper Standard; NBS Handbook 100; ASTM
 * B496 (looked up).
 */
export const COPPER_DENSITY = 8.89;

/** What a size of a conductor is written in. */
export const sizeUnits = ['AWG', 'mm²'] as const;

export const strandings = ['solid', 'stranded', 'fine strands'] as const;
/** One wire, a few stout ones, or many fine ones as in an appliance cord. */
export type Stranding = (typeof strandings)[number];

/** Millimetres in one unit of length, exact by definition (NIST Handbook 44, Appendix C). */
const MILLIMETRES = { ft: 304.8, in: 25.4, m: 1000, cm: 10 } as const;
export type LengthUnit = keyof typeof MILLIMETRES;
export const lengthUnits = Object.keys(MILLIMETRES) as readonly LengthUnit[];

const THICKEST = -3;
const THINNEST = 40;

/** The size of one conductor. A gauge is its number: 14, and 0, −1, −2, −3 for 1/0 to 4/0. */
export type ConductorSize =
  | { readonly unit: 'AWG'; readonly gauge: number }
  | { readonly unit: 'mm²'; readonly areaMm2: number };

const NO_SUCH_GAUGE = 'There is no such gauge. AWG runs from 4/0 to 40.';

/** Reads a gauge: `14`, `1/0` to `4/0`, `0`, `00`, `000`, `0000`, with `AWG` or `#` beside it or not. */
export function readGauge(typed: string): Read<number> {
  const text = typed.trim().replace(/^#\s*|\s*(awg|ga\.?|gauge)$/gi, '');
  if (text === '') return refused('Enter the gauge, like 14 or 2/0.');
  const noughts = /^([1-4])\/0$/.exec(text)?.[1] ?? (/^0{1,4}$/.test(text) ? String(text.length) : null);
  if (noughts !== null) return accepted(1 - Number.parseInt(noughts, 10));
  if (!/^\d{1,4}$/.test(text)) return refused('Write the gauge as a whole number, like 14, or as 1/0 to 4/0.');
  const gauge = Number.parseInt(text, 10);
  return gauge > THINNEST ? refused(NO_SUCH_GAUGE) : accepted(gauge);
}

/** A gauge as it is written on cable: "14", "2/0". */
export const writeGauge = (gauge: number): string => (gauge <= 0 ? `${1 - gauge}/0` : String(gauge));

const LARGEST_MM2 = 1000;

/** Reads a cross-section in mm². */
export function readSquareMillimetres(typed: string, marks: Marks): Read<number> {
  const text = typed.trim().replace(/\s*(mm²|mm2|sq\.?\s*mm|qmm)$/i, '');
  const read = readDecimal(text, { ...marksOf(marks), maxDecimals: 6, what: 'cross-section' });
  if (!read.ok) return read;
  if (read.value.isZero()) return refused('The cross-section has to be above zero.');
  if (read.value.gt(LARGEST_MM2)) return refused('A conductor of more than 1000 mm² cannot be right here.');
  return accepted(read.value.toNumber());
}

/**
 * Diameter of a solid conductor in mm: 0.127 mm × 92^((36 − n) / 39), so that 36 is 0.005 in and 4/0 is 0.46 in.
 * Source: ASTM B258 (looked up).
 * @param gauge −3 (4/0) to 40
 */
export function diameterMm(gauge: number): number {
  if (gauge < THICKEST || gauge > THINNEST) throw new RangeError(`no such gauge: ${gauge}`);
  return 0.127 * 92 ** ((36 - gauge) / 39);
}

/** Cross-section of the metal in mm²: by the gauge's diameter, or the nominal one. */
export const areaMm2 = (size: ConductorSize): number =>
  size.unit === 'mm²' ? size.areaMm2 : (Math.PI / 4) * diameterMm(size.gauge) ** 2;

export interface Piece {
  readonly size: ConductorSize;
  readonly stranding: Stranding;
  /** Whole number of conductors in the cable. */
  readonly conductors: number;
  readonly length: Decimal;
  readonly lengthUnit: LengthUnit;
}

/** The copper in a piece, in grams: the likeliest figure and how low and high it may lie. */
export interface CopperMass {
  readonly grams: number;
  readonly lowGrams: number;
  readonly highGrams: number;
}

/** Strands lie round each other, so they are longer than the cable. Source: ASTM B496, 2 % (looked up). */
const LAY = 0.02;
/** ASTM B8 allows fine strandings 3 to 6 % (from memory). */
const MOST_LAY = 0.06;
/**
 * A size in mm² is a name for a resistance. By the largest resistance that IEC 60228 allows (Tables 1 to 3, looked up),
 * the metal may be so much less: 7 % with solid and stranded conductors (classes 1 and 2), 14 % with flexible ones (5).
 */
const LESS_METAL = { solid: 0.07, stranded: 0.07, 'fine strands': 0.14 } as const;

/** Copper in a piece of cable: area × length × density × conductors; with strands 2 % more per gauge. */
export function copperIn({ size, stranding, conductors, length, lengthUnit }: Piece): CopperMass {
  const lengthCm = (length.toNumber() * MILLIMETRES[lengthUnit]) / 10;
  const plain = (areaMm2(size) / 100) * lengthCm * COPPER_DENSITY * conductors;
  if (size.unit === 'mm²') return { grams: plain, lowGrams: plain * (1 - LESS_METAL[stranding]), highGrams: plain };
  const grams = stranding === 'solid' ? plain : plain * (1 + LAY);
  return { grams, lowGrams: grams, highGrams: stranding === 'fine strands' ? plain * (1 + MOST_LAY) : grams };
}
