import type { Typed } from '../reading.ts';

/** The three lists of rows on the sheet of outputs, each with its fields; on the form each name is followed by the row's number. */
export const ROW_FIELDS = {
  bins: ['bin', 'gross', 'container', 'tare'],
  parts: ['part', 'partNet'],
  waste: ['waste', 'wasteNet'],
} as const;
export type RowList = keyof typeof ROW_FIELDS;
const rowLists = Object.keys(ROW_FIELDS) as readonly RowList[];

/** So many rows stand there at first, and so many more come with each "more rows". */
const AT_ONCE: Readonly<Record<RowList, number>> = { bins: 4, parts: 2, waste: 1 };
/** More than any item gives, and few enough for one page. */
export const MOST_ROWS = 40;

/** Name of the hidden field that says how many rows of a list the form has. */
export const countField = (list: RowList): string => `${list}Count`;
export const fieldAt = (field: string, row: number): string => `${field}-${row}`;

/** As many rows as the form says it has, and at least so many as it begins with or has fields for. */
export function countRows(typed: Typed, list: RowList): number {
  const said = (typed[countField(list)] ?? '').trim();
  const names = ROW_FIELDS[list] as readonly string[];
  const highest = Object.keys(typed).reduce((most, name) => {
    const [, field = '', row = ''] = /^([a-zA-Z]+)-(\d{1,2})$/.exec(name) ?? [];
    return names.includes(field) ? Math.max(most, Number.parseInt(row, 10)) : most;
  }, AT_ONCE[list]);
  const count = /^\d{1,3}$/.test(said) ? Number.parseInt(said, 10) : 0;
  return Math.min(Math.max(count, highest), MOST_ROWS);
}

/** The numbers of the rows of a list: 1, 2, 3. */
export const rowsOf = (typed: Typed, list: RowList): number[] =>
  Array.from({ length: countRows(typed, list) }, (_, index) => index + 1);

/** A container that is chosen already says nothing by itself: a row is filled once something else of it is. */
export const isFilled = (typed: Typed, list: RowList, row: number): boolean =>
  ROW_FIELDS[list].some((field) => field !== 'container' && (typed[fieldAt(field, row)] ?? '').trim() !== '');

/** The same form with more rows of the list that `change` names; anything else changes nothing. */
export function withMoreRows(typed: Typed, change: string): Typed {
  const list = rowLists.find((each) => each === change);
  const { change: _, ...rest } = typed;
  return list === undefined ? rest : { ...rest, [countField(list)]: String(countRows(typed, list) + AT_ONCE[list]) };
}
