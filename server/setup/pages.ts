import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { idIn, pageNumber, ROWS_PER_PAGE } from '../web.ts';
import type { Scale } from './queries.ts';
import type { Settings } from './settings.ts';

/** One page of a list, and which page it is. */
export interface ListPage<Row> {
  rows: Row[];
  page: number;
  hasNext: boolean;
}

/** Cuts a list that is read whole anyway (grades, bins, yards) to the page that the address asks for. */
export function cutToPage<Row>(all: readonly Row[], query: Typed, size: number = ROWS_PER_PAGE): ListPage<Row> {
  const page = pageNumber(query);
  return { rows: all.slice((page - 1) * size, page * size), page, hasNext: all.length > page * size };
}

/**
 * "CU2 is added.", shown on the list that a form led back to: its address names the row as `added` or `saved`.
 * @param nameOf gives the row's name, or undefined when there is no such row
 */
export function doneSentence(query: Typed, nameOf: (id: number) => string | undefined): string | null {
  for (const done of ['added', 'saved', 'closed', 'opened'] as const) {
    const name = nameOf(idIn(query[done]));
    if (name !== undefined) return `${name} is ${done === 'opened' ? 'open again' : done}.`;
  }
  return null;
}

/** A scale as its form would have been typed. */
export function typedOfScale(scale: Scale, { decimalMark }: Settings): Typed {
  const digits = (text: string) => text.replace('.', decimalMark);
  return {
    name: scale.name,
    unit: scale.unit,
    division: digits(scale.division),
    capacity: digits(scale.capacity),
    class: scale.class,
    tolerance: digits(scale.tolerance),
    requestKey: newRequestKey(),
  };
}
