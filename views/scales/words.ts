import { type CheckSeen, errorOf, type Missing, type ScaleReading } from '../../server/scales/compute.ts';
import type { QueryWeight } from '../../server/scales/query-weight.ts';
import { massUg } from '../../server/units/mass.ts';
import type { Show } from '../common/show.ts';

/** What would have to be known, as the end of a sentence: "the step of Bench scale is not written down". */
export function missingText({ kind, side, scaleName }: Missing): string {
  switch (kind) {
    case 'scale':
      return side === 'home' ? 'no scale was named for a weighing at home' : 'nothing is known of the yard’s scale';
    case 'division':
      return `the step of ${scaleOf(side, scaleName)} is not written down`;
    case 'tolerance':
      return `neither class nor tolerance of ${scaleOf(side, scaleName)} is known`;
    case 'estimate':
      return 'a weight that went into it was an estimate';
    case 'weighings':
      return 'the weighings behind its book weight cannot be told any more';
  }
}

const scaleOf = (side: Missing['side'], name: string): string =>
  side === 'home' ? `your ${name}` : `the scale of ${name}`;

/** Several of them, each once, as one text. */
export const missingTexts = (missing: readonly Missing[]): string => [...new Set(missing.map(missingText))].join('; ');

/** What the query weight is, on the page and on the sheet. */
export const QUERY_WEIGHT =
  'Query weight: if the yard’s scale shows this or less (gross less tare, before any deduction), ask for a second weighing ' +
  'before the load is tipped.';

/** "59.5 lb", or a dash where there is none. */
export const queryText = (show: Show, query: QueryWeight | null, { withUnit = true } = {}): string =>
  query?.kind === 'weight' ? readingText(show, query.weight, withUnit) : '–';

const readingText = (show: Show, { amount, unit, decimals }: ScaleReading, withUnit: boolean): string =>
  `${show.figure(amount, decimals)}${withUnit ? ` ${unit}` : ''}`;

/** What belongs to a query weight: the reading with the container on the scale, or the scale that it is for. */
export function queryNote(show: Show, query: QueryWeight | null): string | null {
  if (query?.kind !== 'weight') return null;
  if (query.over !== null) return `on the ${query.over}`;
  return query.gross === null ? null : `gross ${readingText(show, query.gross, false)}`;
}

/** Why a load has no query weight; null where it has one, or no weight yet. */
export function noQueryText(query: QueryWeight | null): string | null {
  if (query === null || query.kind === 'weight') return null;
  return query.kind === 'too light' ? 'it is too light for the steps of the yard’s scale' : missingTexts(query.missing);
}

/** "0.25 lb too high at 20.00 lb" */
export function foundText(show: Show, check: CheckSeen): string {
  const error = errorOf(check);
  const weight = show.weight(check.weightUg);
  if (error === 0) return `right at ${weight}`;
  return `${show.weight(massUg(Math.abs(error)))} too ${error > 0 ? 'high' : 'low'} at ${weight}`;
}
