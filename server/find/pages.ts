import type { Ledger } from '../context.ts';
import { findBinByCode, listAllBins } from '../ledger/queries.ts';
import { readMoney, writeMoney } from '../money/money.ts';
import { listContainers, listGrades, listScales, listYards } from '../setup/queries.ts';
import { type Day, readWrittenDay, writeDay } from '../units/day.ts';
import { writeWeight } from '../units/write-weight.ts';
import {
  binsCountedOn,
  checksWithWords,
  countDay,
  type FoundManifest,
  type FoundTicket,
  type FoundWeight,
  inWeightsWithWords,
  manifestsNumbered,
  manifestsWithWords,
  movesWithWords,
  recountsWithWords,
  returnsWithWords,
  type Slice,
  ticketsNumbered,
  ticketsOfTotal,
  ticketsWithWords,
} from './queries.ts';
import { linesWith, matching, wordsIn } from './words.ts';

/** One thing that was found: its name, which is the link, what else is said of it, and the words that matched. */
export interface Hit {
  href: string;
  name: string;
  facts: string;
  /** The lines of its own words that matched; '' when its name did. */
  text: string;
}

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

/** What is searched with: the text as typed, its words, and the same as a question to the kept words. */
interface Asked {
  text: string;
  words: string[];
  match: string;
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
    key: 'tickets',
    title: 'Tickets',
    find: (ledger, { match, words }, slice) =>
      ticketsWithWords(ledger.db, match, slice).map((row) => ticketHit(ledger, row, words)),
  },
  {
    key: 'manifests',
    title: 'Manifests',
    find: ({ db }, { match, words }, slice) =>
      manifestsWithWords(db, match, slice).map((row) => manifestHit(row, words)),
  },
  {
    key: 'weighings',
    title: 'Weighings',
    find: (ledger, { match, words }, slice) =>
      inWeightsWithWords(ledger.db, match, slice).map((row) => ({
        ...weightHit(ledger, row, words),
        href: `/in-weights?id=${row.id}`,
      })),
    listAt: ({ text }) => `/in-weights?${new URLSearchParams({ text })}`,
  },
  {
    key: 'recounts',
    title: 'Recounts',
    find: (ledger, { match, words }, slice) =>
      recountsWithWords(ledger.db, match, slice).map((row) => weightHit(ledger, row, words)),
  },
  {
    key: 'moves',
    title: 'Moves to another bin',
    find: (ledger, { match, words }, slice) =>
      movesWithWords(ledger.db, match, slice).map((row) => weightHit(ledger, row, words)),
  },
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

const factsOf = (...facts: (string | null)[]): string =>
  facts.filter((fact) => fact !== null && fact !== '').join(' · ');

function ticketHit({ settings }: Ledger, ticket: FoundTicket, words: readonly string[]): Hit {
  const total =
    ticket.total_minor === null ? '' : writeMoney(ticket.total_minor, settings.currency, settings.decimalMark);
  const name = `Ticket ${ticket.number}`;
  const facts = factsOf(
    ticket.yard_name,
    `sold ${writeDay(ticket.sold_on)}`,
    total,
    goneWord(ticket.is_standing === 0),
  );
  const own = ticket.text.split('\n').slice(2).join('\n');
  return { href: `/tickets/${ticket.id}`, name, facts, text: linesWith(own, words) };
}

const goneWord = (isGone: boolean): string => (isGone ? 'does not count any more' : '');

function manifestHit(manifest: FoundManifest, words: readonly string[]): Hit {
  const { loaded_on: loadedOn, drafted_on: draftedOn } = manifest;
  const day = loadedOn === null ? `drafted ${writeDay(draftedOn)}` : `loaded ${writeDay(loadedOn)}`;
  return {
    href: `/manifests/${manifest.id}`,
    name: `Manifest ${manifest.number}`,
    facts: factsOf(manifest.yard_name, day, manifest.status === 'returned' ? 'not sold' : ''),
    text: linesWith(manifest.text.split('\n').slice(2).join('\n'), words),
  };
}

function weightHit({ settings }: Ledger, row: FoundWeight, words: readonly string[]): Hit {
  const where = row.to_code === null ? row.bin_code : `${row.bin_code} to ${row.to_code}`;
  return {
    href: `/bins/${encodeURIComponent(row.bin_code)}`,
    name: `${where}, ${writeWeight(row.net_ug, row.unit, settings.decimalMark)}`,
    facts: factsOf(writeDay(row.occurred_on), row.is_undone === 1 ? 'taken back' : ''),
    text: linesWith(row.text, words),
  };
}

function checks({ db }: Ledger, { match, words }: Asked, slice: Slice): Hit[] {
  return checksWithWords(db, match, slice).map((row) => ({
    href: `/setup/scales/${row.scale_id}`,
    name: row.scale_name,
    facts: factsOf(`checked ${writeDay(row.checked_on)}`, row.is_undone === 1 ? 'taken back' : ''),
    text: linesWith(row.text, words),
  }));
}

function returns({ db }: Ledger, { match, words }: Asked, slice: Slice): Hit[] {
  return returnsWithWords(db, match, slice).map((row) => ({
    href: `/manifests/${row.manifest_id}`,
    name: `Load ${row.label} of manifest ${row.manifest_number}`,
    facts: factsOf(`back in ${row.bin_code} ${writeDay(row.returned_on)}`, row.is_undone === 1 ? 'taken back' : ''),
    text: linesWith(row.text, words),
  }));
}

/** What has this very text as its code or number. */
function exactly(ledger: Ledger, { text }: Asked, slice: Slice): Hit[] {
  const { db } = ledger;
  const bin = findBinByCode(db, text);
  return [
    ...(bin === undefined ? [] : [binHit(bin)]),
    ...ticketsNumbered(db, text, slice).map((row) => ticketHit(ledger, row, [])),
    ...manifestsNumbered(db, text, slice).map((row) => manifestHit(row, [])),
  ].slice(0, slice.count);
}

/** Rows of a short list whose words have all of those asked for, anywhere in them. */
function listed<Row>(
  rows: readonly Row[],
  { words }: Asked,
  { offset, count }: Slice,
  parts: { said: (row: Row) => string; hit: (row: Row) => Hit },
): Hit[] {
  const plain = (text: string) => text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();
  const wanted = words.map(plain);
  const found = rows.filter((row) => wanted.every((word) => plain(parts.said(row)).includes(word)));
  return found.slice(offset, offset + count).map(parts.hit);
}

type ListedBin = ReturnType<typeof listAllBins>[number];

const binHit = ({ code, grade_name, place, closed_on }: ListedBin): Hit => ({
  href: `/bins/${encodeURIComponent(code)}`,
  name: `Bin ${code}`,
  facts: factsOf(grade_name, place, closed_on === null ? '' : 'closed'),
  text: '',
});

function bins({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  // One with exactly this code stands above already.
  const others = listAllBins(db).filter(({ code }) => code.toLowerCase() !== asked.text.toLowerCase());
  return listed(others, asked, slice, {
    said: ({ code, place, grade_name }) => `${code} ${place} ${grade_name}`,
    hit: binHit,
  });
}

function grades({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listGrades(db), asked, slice, {
    said: ({ name, code }) => `${name} ${code}`,
    hit: ({ id, name, code, family }) => ({
      href: `/prices/grades/${id}`,
      name,
      facts: factsOf(family, code === '' ? '' : `code word ${code}`),
      text: '',
    }),
  });
}

function yards({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listYards(db), asked, slice, {
    said: ({ name, notes }) => `${name} ${notes}`,
    hit: ({ id, name, notes }) => ({
      href: `/setup/yards/${id}`,
      name,
      facts: '',
      text: linesWith(notes, asked.words),
    }),
  });
}

function containers({ db, settings }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listContainers(db), asked, slice, {
    said: ({ name }) => name,
    hit: ({ id, name, tare_ug }) => ({
      href: `/setup/containers/${id}`,
      name,
      facts: `weighs ${writeWeight(tare_ug, settings.unit, settings.decimalMark)} empty`,
      text: '',
    }),
  });
}

function scales({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listScales(db), asked, slice, {
    said: ({ name }) => name,
    hit: ({ id, name }) => ({ href: `/setup/scales/${id}`, name, facts: '', text: '' }),
  });
}

function withTotal(ledger: Ledger, { text }: Asked, slice: Slice): Hit[] {
  const { currency, decimalMark } = ledger.settings;
  const amount = readMoney(text, { currency, decimalMark });
  if (!amount.ok) return [];
  return ticketsOfTotal(ledger.db, amount.value, slice).map((row) => ticketHit(ledger, row, []));
}

const counted = (count: number, one: string, several: string): string =>
  count === 1 ? `1 ${one}` : `${count} ${several}`;

/** What happened on the day that the text is, each with the list that shows it. */
function onDay({ db }: Ledger, { text }: Asked): Hit[] {
  const on = readWrittenDay(text);
  if (on === null) return [];
  const { inWeights, quotes, drafted, loaded, sold, checks: checked, recounts, moves } = countDay(db, on);
  const { from, to } = { from: on, to: on };
  const at = (path: string, more: Record<string, string> = {}) =>
    `${path}?${new URLSearchParams({ from, to, ...more })}`;
  const lists: [number, string, string][] = [
    [inWeights, counted(inWeights, 'weighing', 'weighings'), at('/in-weights')],
    [loaded, counted(loaded, 'manifest loaded', 'manifests loaded'), at('/manifests')],
    [drafted, counted(drafted, 'manifest drafted', 'manifests drafted'), at('/manifests')],
    [sold, counted(sold, 'ticket', 'tickets'), at('/tickets', { status: 'all' })],
    [quotes, counted(quotes, 'price seen', 'prices seen'), at('/trail', { kind: 'prices' })],
    [checked, counted(checked, 'check of a scale', 'checks of scales'), at('/trail', { kind: 'scales' })],
  ];
  const touched = recounts + moves === 0 ? [] : binsCountedOn(db, on);
  return [
    ...lists.filter(([count]) => count > 0).map(([, name, href]) => hitOfDay(on, name, href)),
    ...touched.map(({ code }) => hitOfDay(on, `${code} recounted or moved`, `/bins/${encodeURIComponent(code)}`)),
    hitOfDay(on, 'What was written down that day', at('/trail')),
  ];
}

const hitOfDay = (on: Day, name: string, href: string): Hit => ({ href, name, facts: writeDay(on), text: '' });
