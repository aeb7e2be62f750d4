import { type Day, daysBetween } from '../units/day.ts';

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
