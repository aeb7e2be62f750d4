import { mean, standardDeviation } from '../statistics/summary.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, type MassUnit, massUg } from '../units/mass.ts';
import { shownAmount } from '../units/write-weight.ts';
import { type CheckSeen, errorOf, failedCheck, largestError, stretchesOf } from './compute.ts';
import type { ScaleTraits } from './tolerance.ts';

/** Checks with one and the same weight, which differ by nothing but the scale and how it was read. */
export interface RepeatedChecks {
  readonly weightUg: MassUg;
  readonly count: number;
  /** Sample standard deviation of their readings, in micrograms. */
  readonly deviationUg: number;
}

/** What the checks since the last adjustment say of a scale. */
export interface CheckSummary {
  /** The day of the last adjustment, null where there was none. */
  readonly adjustedOn: Day | null;
  readonly count: number;
  /** The check with the largest error, whichever way; the first of several. */
  readonly largest: CheckSeen | null;
  /** The one with the largest error of those that found more than the scale's tolerance. */
  readonly failed: CheckSeen | null;
  /** The check with the largest error between the last adjustment and the one before it. */
  readonly before: CheckSeen | null;
  /** In micrograms. */
  readonly meanErrorUg: number | null;
  /** Of the weight that was used most, from two checks on. */
  readonly repeated: RepeatedChecks | null;
}

/** @param checks those that stand, in the order of their days */
export function summariseChecks(checks: readonly CheckSeen[], traits: ScaleTraits): CheckSummary {
  const stretches = stretchesOf(checks);
  const stretch = stretches.at(-1);
  const own = stretch?.checks ?? [];
  return {
    adjustedOn: stretch?.from ?? null,
    count: own.length,
    largest: largestError(own),
    failed: failedCheck(traits, own),
    before: largestError(stretches.at(-2)?.checks ?? []),
    meanErrorUg: mean(own.map(errorOf)),
    repeated: mostRepeated(own),
  };
}

function mostRepeated(checks: readonly CheckSeen[]): RepeatedChecks | null {
  const weights = [...new Set(checks.map(({ weightUg }) => weightUg))];
  return weights.reduce<RepeatedChecks | null>((most, weightUg) => {
    const errors = checks.filter((check) => check.weightUg === weightUg).map(errorOf);
    const deviationUg = standardDeviation(errors);
    if (deviationUg === null || errors.length <= (most?.count ?? 0)) return most;
    return { weightUg, count: errors.length, deviationUg };
  }, null);
}

/** More decimals come only of a weight in another unit: one that was typed says nothing, a step or tolerance is cut. */
const MOST_DECIMALS = 4;

const USUAL_DECIMALS = 2;

/** The decimals that errors are shown with: as fine as what was typed, as the scale's step and its stated tolerance. */
export function errorDecimals(checks: readonly CheckSeen[], traits: ScaleTraits, unit: MassUnit): number {
  const decimalsOf = (mass: MassUg) => shownAmount(mass, unit).decimalPlaces();
  const described = [traits.divisionUg, traits.toleranceUg].flatMap((mass) => (mass === null ? [] : [massUg(mass)]));
  const typed = checks.flatMap(({ weightUg, readingUg }) => [weightUg, readingUg]);
  const telling = [
    // A tolerance of 1 g on a scale in pounds must not be shown as nothing.
    ...described.map((mass) => Math.min(decimalsOf(mass), MOST_DECIMALS)),
    ...typed.map(decimalsOf).filter((count) => count <= MOST_DECIMALS),
  ];
  return telling.length === 0 ? USUAL_DECIMALS : Math.max(...telling);
}
