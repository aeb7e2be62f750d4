/** What a row of the set-up held, by column. */
export type Fields = Readonly<Record<string, string | number | null>>;

/** The tables whose rows one act may bring in by the dozen, in the order in which they name each other. */
export const rowKinds = [
  'grade',
  'item_kind',
  'item',
  'bin',
  'yard',
  'yard_scale',
  'scale',
  'scale_check',
  'quote',
  'in_weight',
  'manifest',
  'ticket',
] as const;
export type RowKind = (typeof rowKinds)[number];

/** First and last id of what one act brought in; within one transaction nothing else comes between. */
export type RowRanges = Partial<Record<RowKind, readonly [number, number]>>;

/**
 * What an act changed, as the trail keeps it to put it back: one row of the set-up (added without `before`, removed
 * without `after`), rows that came in together, or prices that were taken back together.
 */
export type TrailChange = FieldsChange | RowsChange | QuotesChange;
export type FieldsChange = { readonly before: Fields | null; readonly after: Fields | null };
/** @property requestKey of the file that brought them in */
export type RowsChange = { readonly rows: RowRanges; readonly requestKey?: string };
export type QuotesChange = { readonly quotesTakenBack: readonly number[] };

/** The fields that two rows do not have in common; null when nothing changed. */
export function changeBetween(before: Fields, after: Fields): { before: Fields; after: Fields } | null {
  const names = Object.keys(after).filter((name) => (before[name] ?? null) !== (after[name] ?? null));
  if (names.length === 0) return null;
  const only = (row: Fields): Fields => Object.fromEntries(names.map((name) => [name, row[name] ?? null]));
  return { before: only(before), after: only(after) };
}

/** The change that a line of the trail keeps; null for '' and for what another version wrote and this one cannot read. */
export function readChange(text: string): TrailChange | null {
  if (text === '') return null;
  const change = JSON.parse(text) as object;
  const isKnown = 'rows' in change || 'quotesTakenBack' in change || ('before' in change && 'after' in change);
  return isKnown ? (change as TrailChange) : null;
}
