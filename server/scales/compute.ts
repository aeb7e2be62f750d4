import {
  combinedUncertainty,
  resolutionUncertainty,
  toleranceUncertainty,
  type UncertaintyTerm,
} from '../statistics/uncertainty.ts';
import type { Day } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUg, type MassUnit, massUg, toMassUg, unitRatio, type Weight } from '../units/mass.ts';
import { shownAmount } from '../units/write-weight.ts';
import { type ScaleTraits, toleranceAt } from './tolerance.ts';

/** A known weight put on a scale, and what it showed. */
export interface CheckSeen {
  readonly checkedOn: Day;
  readonly weightUg: MassUg;
  readonly readingUg: MassUg;
  /** Whether the scale was adjusted after it. */
  readonly isAdjusted: boolean;
}

/** A scale, at home or at a yard, with what is known of it. Two weighings with one key were on the same scale. */
export interface KnownScale {
  readonly key: string;
  readonly name: string;
  /** Of a yard's further scale, its name alone; null for the yard's usual scale and for those at home. */
  readonly ownName: string | null;
  readonly traits: ScaleTraits;
  /** In the order of their days; a yard's scale has none. */
  readonly checks: readonly CheckSeen[];
}

/** A stretch of time in which a scale was not adjusted; `from` is the first day of it and `until` the first after it. */
export interface Stretch {
  readonly from: Day | null;
  readonly until: Day | null;
  readonly checks: readonly CheckSeen[];
}

/**
 * The checks of a scale by the stretches between its adjustments, oldest first. The check that led to an adjustment
 * belongs to what was before; the day of it belongs to what comes after.
 */
export function stretchesOf(checks: readonly CheckSeen[]): Stretch[] {
  const stretches: Stretch[] = [];
  let from: Day | null = null;
  let own: CheckSeen[] = [];
  for (const check of checks) {
    own.push(check);
    if (!check.isAdjusted) continue;
    stretches.push({ from, until: check.checkedOn, checks: own });
    [from, own] = [check.checkedOn, []];
  }
  return [...stretches, { from, until: null, checks: own }];
}

/** The stretch that a day lies in. */
export function stretchAt(checks: readonly CheckSeen[], on: Day): Stretch {
  const stretches = stretchesOf(checks);
  const last = stretches.at(-1) as Stretch;
  return stretches.find(({ until }) => until !== null && on < until) ?? last;
}

/** Reading less check weight, in micrograms. */
export const errorOf = ({ readingUg, weightUg }: CheckSeen): number => readingUg - weightUg;

/** A reading and a weight in pounds are each rounded to the microgram, so an error of the tolerance may be one above it. */
const ROUNDING_UG = 1;

/** Whether an error lies within a tolerance; null where no tolerance is known. Both in micrograms. */
export const isWithin = (errorUg: number, toleranceUg: number | null): boolean | null =>
  toleranceUg === null ? null : Math.abs(errorUg) <= toleranceUg + ROUNDING_UG;

/** The check with the largest error, whichever way; the first of several, null of none. */
export const largestError = (checks: readonly CheckSeen[]): CheckSeen | null =>
  checks.reduce<CheckSeen | null>(
    (most, check) => (most === null || Math.abs(errorOf(check)) > Math.abs(errorOf(most)) ? check : most),
    null,
  );

/** The check with the largest error of those that found more than the scale's tolerance; null where none did. */
export const failedCheck = (traits: ScaleTraits, checks: readonly CheckSeen[]): CheckSeen | null =>
  largestError(checks.filter((check) => isWithin(errorOf(check), toleranceAt(traits, check.weightUg)) === false));

/** One weighing that a net rests on: gross less tare, so two readings of the scale. */
export interface Weighing {
  readonly side: 'home' | 'yard';
  /** Null where no scale was named. */
  readonly scale: KnownScale | null;
  readonly grossUg: number;
  readonly on: Day;
  /** −1 for what was taken out again of what was weighed in. */
  readonly sign: 1 | -1;
  readonly isEstimate: boolean;
}

export type MissingKind = 'scale' | 'division' | 'tolerance' | 'estimate' | 'weighings';

/** What would have to be known before anything can be said. */
export interface Missing {
  readonly kind: MissingKind;
  readonly side: 'home' | 'yard';
  /** The scale's name; '' where none was named. */
  readonly scaleName: string;
}

/** Standard uncertainty in micrograms, or what is missing for it. */
export type Uncertainty =
  | { readonly isKnown: true; readonly standardUg: number }
  | { readonly isKnown: false; readonly missing: readonly Missing[] };

function missingOf({ side, scale, grossUg, isEstimate }: Weighing): Missing | null {
  if (isEstimate) return { kind: 'estimate', side, scaleName: '' };
  if (scale === null) return { kind: 'scale', side, scaleName: '' };
  if (scale.traits.divisionUg === null) return { kind: 'division', side, scaleName: scale.name };
  if (toleranceAt(scale.traits, grossUg) === null) return { kind: 'tolerance', side, scaleName: scale.name };
  return null;
}

function missingFor(weighings: readonly Weighing[]): Missing[] {
  const found = new Map<string, Missing>();
  for (const weighing of weighings) {
    const missing = missingOf(weighing);
    if (missing !== null) found.set(`${missing.kind}|${missing.side}|${missing.scaleName}`, missing);
  }
  if (weighings.length === 0) return [{ kind: 'weighings', side: 'home', scaleName: '' }];
  return [...found.values()];
}

/** The tolerance of a scale at a load, raised to the largest error that checks of that time found. Micrograms. */
function raisedTolerance({ traits, checks }: KnownScale, grossUg: number, on: Day): number {
  const errors = stretchAt(checks, on).checks.map((check) => Math.abs(errorOf(check)));
  return Math.max(toleranceAt(traits, grossUg) ?? 0, ...errors);
}

/** Which tolerance counts: raised to the errors that checks found, or as the scale is marked. */
type Counting = 'with checks' | 'as marked';

const termsOf = ({ scale, grossUg, on, sign }: Weighing, counting: Counting): UncertaintyTerm[] => {
  if (scale === null) return [];
  const reading = resolutionUncertainty(scale.traits.divisionUg ?? 0);
  const asMarked = toleranceAt(scale.traits, grossUg) ?? 0;
  const tolerance = toleranceUncertainty(counting === 'as marked' ? asMarked : raisedTolerance(scale, grossUg, on));
  return [
    { standard: reading, cause: null },
    { standard: reading, cause: null },
    { standard: sign * tolerance, cause: scale.key },
  ];
};

/**
 * Standard uncertainty of weights that were weighed in these weighings: every reading is rounded on its own, d/√12,
 * and a scale's error within its tolerance, a/√3, is the same error in all of its weighings, so those add up first.
 * Source: GUM F.2.2.1, 4.3.7 and 5.2.2 (clause numbers from memory).
 */
export function uncertaintyOf(weighings: readonly Weighing[], counting: Counting = 'with checks'): Uncertainty {
  const missing = missingFor(weighings);
  if (missing.length > 0) return { isKnown: false, missing };
  const terms = weighings.flatMap((weighing) => termsOf(weighing, counting));
  return { isKnown: true, standardUg: combinedUncertainty(terms) };
}

/** How far apart two honest scales may lie: twice the standard uncertainty, which holds in about 95 of 100 cases. */
const COVERAGE = 2;

/** What the two scales say about a difference of weights. */
export type Verdict =
  | {
      readonly kind: 'explained' | 'unexplained';
      /** Yard weight less home weight. */
      readonly differenceUg: MassUg;
      /** Two honest scales may differ by so much. */
      readonly allowedUg: MassUg;
    }
  | { readonly kind: 'unknown'; readonly missing: readonly Missing[] };

/**
 * Yard weight less home weight in standard uncertainties of the scales as they are marked, for the sums that find what
 * lasts: an error that a check found is what they are to find, and not to be forgiven. Null where something is missing.
 */
export function standardised(homeUg: MassUg, yardUg: MassUg, weighings: readonly Weighing[]): number | null {
  const uncertainty = uncertaintyOf(weighings, 'as marked');
  return uncertainty.isKnown ? (yardUg - homeUg) / uncertainty.standardUg : null;
}

/** Whether the two scales can explain the difference between the yard weight and the home weight. */
export function verdictOn(homeUg: MassUg, yardUg: MassUg, weighings: readonly Weighing[]): Verdict {
  const uncertainty = uncertaintyOf(weighings);
  if (!uncertainty.isKnown) return { kind: 'unknown', missing: uncertainty.missing };
  const { standardUg } = uncertainty;
  const differenceUg = massUg(yardUg - homeUg);
  const kind = Math.abs(differenceUg) <= COVERAGE * standardUg ? 'explained' : 'unexplained';
  return { kind, differenceUg, allowedUg: massUg(Math.round(COVERAGE * standardUg)) };
}

/** The two weights of a group, and what the scales say about their difference. */
export interface Comparison {
  readonly ticketId: number;
  readonly ticketNumber: string;
  readonly soldOn: Day;
  readonly yardId: number;
  /** Labels of its loads. */
  readonly labels: readonly string[];
  readonly homeUg: MassUg;
  readonly yardUg: MassUg;
  /** The one scale that all of it was weighed on; null where it was several, or none was named. */
  readonly homeScale: KnownScale | null;
  readonly yardScale: KnownScale | null;
  /** What the two weights rest on, on either side. */
  readonly weighings: readonly Weighing[];
  readonly verdict: Verdict;
  /** See standardised. */
  readonly z: number | null;
}

/** A weight as a scale would show it, with the decimals of its division. */
export interface ScaleReading extends Weight {
  readonly decimals: number;
}

/** What a yard's scale shows of one load: as net, and with the container that it came in. */
export interface QueryReading {
  readonly net: ScaleReading;
  /** Null for a load without a container. */
  readonly gross: ScaleReading | null;
}

export interface QueriedLoad {
  readonly homeUg: MassUg;
  /** Of the container it goes over the yard's scale in; 0 without one. */
  readonly tareUg: number;
  /** Standard uncertainty in micrograms if the yard finds so much net: at a lighter load its scale may be off by less. */
  readonly standardAt: (netUg: number) => number;
}

/**
 * The largest reading of the yard's scale that the two scales cannot explain, in the yard's unit: the largest whole
 * division below home weight less twice the uncertainty. At it or less, a second weighing is to be asked for. Null when
 * nothing above zero is left: the load is too light for that scale.
 */
export function queryReading(load: QueriedLoad, divisionUg: number, unit: MassUnit): QueryReading | null {
  const net = largestUnexplained(load, 0, divisionUg, unit);
  if (net === null) return null;
  return { net, gross: load.tareUg === 0 ? null : largestUnexplained(load, load.tareUg, divisionUg, unit) };
}

/** @param besideUg what lies on the scale beside the load */
function largestUnexplained(
  { homeUg, standardAt }: QueriedLoad,
  besideUg: number,
  divisionUg: number,
  unit: MassUnit,
): ScaleReading | null {
  // In the yard's own figures: a division such as 0.05 lb is no whole number of micrograms.
  const division = shownAmount(massUg(divisionUg), unit);
  // A step below a millionth of the unit is no step of a yard's scale.
  if (division.isZero()) return null;
  const isUnexplained = (steps: Decimal): boolean => {
    const netUg = toMassUg({ amount: steps.times(division), unit }) - besideUg;
    return homeUg - netUg > COVERAGE * standardAt(netUg);
  };
  const limitUg = homeUg + besideUg - COVERAGE * standardAt(homeUg);
  const limit = new Decimal(limitUg).div(unitRatio(unit, 'g').times(1_000_000));
  let steps = limit.div(division).toDecimalPlaces(0, Decimal.ROUND_FLOOR);
  while (steps.gt(0) && !isUnexplained(steps)) steps = steps.minus(1);
  while (isUnexplained(steps.plus(1))) steps = steps.plus(1);
  return steps.lte(0) ? null : { amount: steps.times(division), unit, decimals: division.decimalPlaces() };
}
