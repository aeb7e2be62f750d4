import type { Ledger } from '../context.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { cutToPage, type ListPage } from '../setup/pages.ts';
import type { Scale } from '../setup/queries.ts';
import { type CheckSummary, errorDecimals, summariseChecks } from './check-errors.ts';
import { errorOf } from './compute.ts';
import type { NewestCheck } from './due.ts';
import { type ListedCheck, listChecks, seenOf } from './queries.ts';
import { type ScaleTraits, toleranceAt, traitsOf } from './tolerance.ts';

/** One check of the list, with how far the scale was off and how far it might be at that weight. Micrograms. */
export interface CheckRow {
  check: ListedCheck;
  errorUg: number;
  toleranceUg: number | null;
}

/** What a scale's page says of its checks. */
export interface ScaleChecks {
  /** Newest first, those taken back as well. */
  list: ListPage<CheckRow>;
  /** Those that stand, oldest first: as many of the newest as a chart can show. */
  drawn: CheckRow[];
  summary: CheckSummary;
  traits: ScaleTraits;
  /** Decimals that errors are shown with, in the scale's unit. */
  decimals: number;
  /** The newest check that stands. */
  newest: NewestCheck;
  /** Its id, while nothing says that the scale was adjusted after it: that can still be written down. */
  adjustableId: number | null;
  /** The check that was just written down. */
  added: CheckRow | null;
  isUndone: boolean;
  starting: Typed;
}

const MOST_DRAWN = 60;

const newestOf = (check: ListedCheck | undefined): NewestCheck => ({
  last_checked_on: check?.checked_on ?? null,
  weight_ug: check?.weight_ug ?? null,
  reading_ug: check?.reading_ug ?? null,
  is_adjusted: check?.is_adjusted ?? null,
});

/** @param query of the page's address: `page` of the list, and what was just done */
export function readScaleChecks({ db, clock }: Ledger, scale: Scale, query: Typed): ScaleChecks {
  const traits = traitsOf(scale);
  const rows = listChecks(db, scale.id).map((check): CheckRow => {
    return { check, errorUg: errorOf(seenOf(check)), toleranceUg: toleranceAt(traits, check.weight_ug) };
  });
  const standing = rows.filter(({ check }) => check.is_undone === 0);
  const newest = standing.at(-1)?.check;
  const checks = standing.map(({ check }) => seenOf(check));
  return {
    list: cutToPage(rows.toReversed(), query),
    drawn: standing.slice(-MOST_DRAWN),
    summary: summariseChecks(checks, traits),
    traits,
    decimals: errorDecimals(checks, traits, scale.unit),
    newest: newestOf(newest),
    adjustableId: newest?.is_adjusted === 0 ? newest.id : null,
    added: standing.find(({ check }) => String(check.id) === query.checked) ?? null,
    isUndone: query.undone !== undefined,
    starting: { checkedOn: clock.today(), unit: scale.unit, requestKey: newRequestKey() },
  };
}
