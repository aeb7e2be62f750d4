import { combinedUncertainty, resolutionUncertainty, toleranceUncertainty } from '../statistics/uncertainty.ts';
import { decimalsOf } from '../units/decimal.ts';
import { type Metal, metals } from './metals.ts';

/**
 * Density of air-free water at 101.325 kPa in kg/m³, for 0 to 40 °C.
 * Source: Tanaka, Girard, Davis, Peuto and Bignell, Metrologia 38 (2001) 301–309, recommended by the CIPM (looked up).
 */
export function waterDensity(celsius: number): number {
  const [a1, a2, a3, a4, a5] = [-3.983035, 301.797, 522528.9, 69.34881, 999.97495];
  return a5 * (1 - ((celsius + a1) ** 2 * (celsius + a2)) / (a3 * (celsius + a4)));
}

export const toCelsius = (fahrenheit: number): number => ((fahrenheit - 32) * 5) / 9;

/** What a scale may be off by at the two loads, in the unit of the readings; null where it does not say. */
export interface ReadingDoubt {
  readonly division: number;
  readonly dryTolerance: number | null;
  readonly wetTolerance: number | null;
}

export interface Immersion {
  /** Two readings in one unit, the one in water below the dry one and above zero. */
  readonly dry: number;
  readonly submerged: number;
  readonly celsius: number;
  readonly doubt: ReadingDoubt | null;
}

export interface Density {
  readonly gramsPerCm3: number;
  /** Standard uncertainty in g/cm³; null where the scale's division is not known. */
  readonly standard: number | null;
  /** How many divisions the water carries: the difference of the readings; null without a division. */
  readonly displacedDivisions: number | null;
}

/**
 * Density by weighing in water: ρ = ρ_water · m / (m − m_submerged). Both readings are rounded on their own, d/√12. A
 * tolerance is taken for each of the two on its own as well, since the loads differ and nothing says that the scale is
 * off by the same at both; were it so, the uncertainty would be smaller, never larger.
 * Source of the rules: GUM F.2.2.1, 4.3.7, 5.1.2 (clause numbers from memory).
 */
export function densityOf({ dry, submerged, celsius, doubt }: Immersion): Density {
  const water = waterDensity(celsius) / 1000;
  const carried = dry - submerged;
  const gramsPerCm3 = (water * dry) / carried;
  if (doubt === null) return { gramsPerCm3, standard: null, displacedDivisions: null };
  const byDry = (-water * submerged) / carried ** 2;
  const byWet = (water * dry) / carried ** 2;
  const { division, dryTolerance, wetTolerance } = doubt;
  const alone = (standard: number) => ({ standard, cause: null });
  const standard = combinedUncertainty([
    alone(byDry * resolutionUncertainty(division)),
    alone(byWet * resolutionUncertainty(division)),
    alone(byDry * toleranceUncertainty(dryTolerance ?? 0)),
    alone(byWet * toleranceUncertainty(wetTolerance ?? 0)),
  ]);
  return { gramsPerCm3, standard, displacedDivisions: carried / division };
}

/** How far off a density may be to be called told: 2u at most this share of it. */
export const TELLING = 0.02;

/** Divisions that the water has to carry for 2u to be within TELLING, by the steps of the scale alone. */
export const divisionsNeeded = ({ dry, submerged }: Pick<Immersion, 'dry' | 'submerged'>): number =>
  Math.ceil((2 * Math.sqrt(1 + (submerged / dry) ** 2)) / (Math.sqrt(12) * TELLING));

/**
 * A handbook figure says no more of a piece at hand than to half a percent or so: what two tables print of one metal
 * differs by up to one percent in this very list (copper 8.89 and 8.96, 6061 2.70 and 2.72, 304 7.93 and 8.03). Our own
 * rule from that, no published source.
 */
export const HANDBOOK_DOUBT = 0.005;

/** Where the density of a piece of this metal may lie: its printed figures and their doubt, or their rounding. */
export function rangeOf({ density, upTo }: Pick<Metal, 'density' | 'upTo'>): { low: number; high: number } {
  const doubt = (digits: string) =>
    Math.max(0.5 * 10 ** -decimalsOf(digits), HANDBOOK_DOUBT * Number.parseFloat(digits));
  const high = upTo ?? density;
  return { low: Number.parseFloat(density) - doubt(density), high: Number.parseFloat(high) + doubt(high) };
}

const COVERAGE = 2;
const NEAREST = 3;

export interface Matches {
  /** Within twice the uncertainty, the nearest first; empty where the uncertainty is not known. */
  readonly candidates: readonly Metal[];
  /** The next ones beyond it. */
  readonly nearest: readonly Metal[];
}

/** The metals of the handbooks that a density may be, the nearest first. */
export function matchesOf({ gramsPerCm3, standard }: Pick<Density, 'gramsPerCm3' | 'standard'>): Matches {
  const away = (metal: Metal): number => {
    const { low, high } = rangeOf(metal);
    return Math.max(0, low - gramsPerCm3, gramsPerCm3 - high);
  };
  const middle = (metal: Metal): number => {
    const { low, high } = rangeOf(metal);
    return Math.abs((low + high) / 2 - gramsPerCm3);
  };
  const sorted = [...metals].sort((a, b) => away(a) - away(b) || middle(a) - middle(b));
  const reach = standard === null ? -1 : COVERAGE * standard;
  const candidates = sorted.filter((metal) => away(metal) <= reach);
  const others = sorted.filter((metal) => !candidates.includes(metal));
  return { candidates, nearest: others.slice(0, NEAREST) };
}
