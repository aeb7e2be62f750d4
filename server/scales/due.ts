import { type Day, daysBetween } from '../units/day.ts';
import type { MassUg } from '../units/mass.ts';
import { type CheckSeen, failedCheck } from './compute.ts';
import type { ScaleTraits } from './tolerance.ts';

/** When a scale was last checked, and since when it is in use where that is known. */
export interface LastCheck {
  readonly added_on: Day | null;
  readonly last_checked_on: Day | null;
}

/**
 * Whether a scale should be checked with a known weight: its newest check, or without one its coming into use, is more
 * than so many days ago. A scale that was never checked, and of which it is not known how old it is, is due.
 */
export function isCheckDue({ added_on, last_checked_on }: LastCheck, today: Day, everyDays: number): boolean {
  const since = last_checked_on ?? added_on;
  return since === null || daysBetween(since, today) > everyDays;
}

/** The newest check of a scale, as far as there was one. */
export interface NewestCheck {
  readonly last_checked_on: Day | null;
  readonly weight_ug: MassUg | null;
  readonly reading_ug: MassUg | null;
  readonly is_adjusted: 0 | 1 | null;
}

/** The newest check when it found more than the scale's tolerance and the scale was not adjusted after it; else null. */
export function unsettledCheck(traits: ScaleTraits, newest: NewestCheck): CheckSeen | null {
  const { last_checked_on: checkedOn, weight_ug: weightUg, reading_ug: readingUg } = newest;
  if (checkedOn === null || weightUg === null || readingUg === null || newest.is_adjusted === 1) return null;
  return failedCheck(traits, [{ checkedOn, weightUg, readingUg, isAdjusted: false }]);
}
