import type { Ledger } from '../context.ts';
import { onDay } from './day.ts';
import {
  checks,
  exactly,
  items,
  manifests,
  moves,
  recounts,
  returns,
  samples,
  strippings,
  tickets,
  weighings,
  withTotal,
} from './documents.ts';
import type { Asked, Hit } from './hit.ts';
import type { Slice } from './queries.ts';
import { bins, containers, grades, itemKinds, scales, wireKinds, yards } from './set-up.ts';
import { matching, wordsIn } from './words.ts';

export interface FoundGroup {
  /** The name of the group in addresses. */
  key: string;
  title: string;
  hits: Hit[];
  /** Where all of them are, when there are more than stand here; else null. */
  more: string | null;
}

export interface Found {
  asked: string;
  words: string[];
  groups: FoundGroup[];
}

/** Finds rows of one kind; gives no more than the slice asks for. */
interface Finder {
  key: string;
  title: string;
  find(ledger: Ledger, asked: Asked, slice: Slice): Hit[];
  /** The address of a list of its own with the same words; without it the search itself has such a page. */
  listAt?(asked: Asked): string;
}

/** So many of a kind stand together; of one kind alone there are more on a page. */
export const HITS_OF_A_KIND = 20;
const LONGEST_ASKED = 200;

const FINDERS: readonly Finder[] = [
  { key: 'exact', title: 'By this code or number', find: exactly },
  { key: 'day', title: 'On this day', find: onDay },
  { key: 'total', title: 'Tickets with this total', find: withTotal },
  { key: 'bins', title: 'Bins', find: bins },
  { key: 'grades', title: 'Grades', find: grades },
  { key: 'yards', title: 'Yards', find: yards },
  { key: 'containers', title: 'Containers', find: containers },
  { key: 'scales', title: 'Scales', find: scales },
  {
    key: 'items',
    title: 'Items',
    find: items,
    listAt: ({ text }) => `/items?${new URLSearchParams({ text })}`,
  },
  { key: 'item-kinds', title: 'Kinds of items', find: itemKinds },
  { key: 'wire', title: 'Kinds of wire', find: wireKinds },
  { key: 'tickets', title: 'Tickets', find: tickets },
  { key: 'manifests', title: 'Manifests', find: manifests },
  {
    key: 'weighings',
    title: 'Weighings',
    find: weighings,
    listAt: ({ text }) => `/in-weights?${new URLSearchParams({ text })}`,
  },
  { key: 'recounts', title: 'Recounts', find: recounts },
  { key: 'moves', title: 'Moves to another bin', find: moves },
  { key: 'strippings', title: 'Wire that was stripped', find: strippings },
  { key: 'samples', title: 'Samples of wire', find: samples },
  { key: 'checks', title: 'Checks of scales', find: checks },
  { key: 'returns', title: 'Loads brought back', find: returns },
];

export const isFinder = (key: string): boolean => FINDERS.some((finder) => finder.key === key);

/**
 * Everything that a text finds, in groups, the exact first.
 * @param kind one group alone, of which `slice` says the page; '' for the first of every group
 */
export function findAll(ledger: Ledger, typed: string, kind: string, slice: Slice): Found {
  const text = typed.trim().slice(0, LONGEST_ASKED);
  const asked = { text, words: wordsIn(text), match: matching(text) };
  if (asked.words.length === 0) return { asked: text, words: [], groups: [] };
  const groups = FINDERS.filter(({ key }) => kind === '' || key === kind).map((finder): FoundGroup => {
    const found = finder.find(ledger, asked, { ...slice, count: slice.count + 1 });
    const more = finder.listAt?.(asked) ?? `/find?${new URLSearchParams({ q: text, kind: finder.key })}`;
    const { key, title } = finder;
    return { key, title, hits: found.slice(0, slice.count), more: found.length > slice.count ? more : null };
  });
  return { asked: text, words: asked.words, groups: groups.filter(({ hits }) => hits.length > 0) };
}
