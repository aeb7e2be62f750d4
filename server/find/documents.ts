import type { Ledger } from '../context.ts';
import { itemName, numberOfItem } from '../items/compute.ts';
import { findBinByCode } from '../ledger/queries.ts';
import { readMoney, writeMoney } from '../money/money.ts';
import { writeDay } from '../units/day.ts';
import { writeWeight } from '../units/write-weight.ts';
import { type Asked, factsOf, type Hit } from './hit.ts';
import {
  checksWithWords,
  type FoundItem,
  type FoundManifest,
  type FoundTicket,
  type FoundWeight,
  inWeightsWithWords,
  itemNumbered,
  itemsWithWords,
  manifestsNumbered,
  manifestsWithWords,
  movesWithWords,
  recountsWithWords,
  returnsWithWords,
  type Slice,
  samplesWithWords,
  strippingsWithWords,
  ticketsNumbered,
  ticketsOfTotal,
  ticketsWithWords,
} from './queries.ts';
import { binHit } from './set-up.ts';
import { linesWith } from './words.ts';

export const tickets = (ledger: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  ticketsWithWords(ledger.db, match, slice).map((row) => ticketHit(ledger, row, words));

export const manifests = ({ db }: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  manifestsWithWords(db, match, slice).map((row) => manifestHit(row, words));

export const weighings = (ledger: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  inWeightsWithWords(ledger.db, match, slice).map((row) => ({
    ...weightHit(ledger, row, words),
    href: `/in-weights?id=${row.id}`,
  }));

export const recounts = (ledger: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  recountsWithWords(ledger.db, match, slice).map((row) => weightHit(ledger, row, words));

export const moves = (ledger: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  movesWithWords(ledger.db, match, slice).map((row) => weightHit(ledger, row, words));

export const items = ({ db }: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  itemsWithWords(db, match, slice).map((row) => itemHit(row, words));

function itemHit(item: FoundItem, words: readonly string[]): Hit {
  const status = item.status === 'waiting' ? '' : item.status;
  return {
    href: `/items/${item.id}`,
    name: `${itemName(item.id)}, ${item.kind_name}`,
    facts: factsOf(item.name, item.source, `picked up ${writeDay(item.picked_up_on)}`, status),
    // Its first lines are what the name and the facts say already.
    text: linesWith(item.text.split('\n').slice(3).join('\n'), words),
  };
}
export const strippings = (ledger: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  strippingsWithWords(ledger.db, match, slice).map((row) => weightHit(ledger, row, words));

export const samples = ({ db }: Ledger, { match, words }: Asked, slice: Slice): Hit[] =>
  samplesWithWords(db, match, slice).map((row) => ({
    href: `/bench/wire/kinds/${row.wire_kind_id}`,
    name: row.wire_kind_name,
    facts: factsOf(`sample of ${writeDay(row.sampled_on)}`, row.is_undone === 1 ? 'taken back' : ''),
    text: linesWith(row.text, words),
  }));

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

export function checks({ db }: Ledger, { match, words }: Asked, slice: Slice): Hit[] {
  return checksWithWords(db, match, slice).map((row) => ({
    href: `/setup/scales/${row.scale_id}`,
    name: row.scale_name,
    facts: factsOf(`checked ${writeDay(row.checked_on)}`, row.is_undone === 1 ? 'taken back' : ''),
    text: linesWith(row.text, words),
  }));
}

export function returns({ db }: Ledger, { match, words }: Asked, slice: Slice): Hit[] {
  return returnsWithWords(db, match, slice).map((row) => ({
    href: `/manifests/${row.manifest_id}`,
    name: `Load ${row.label} of manifest ${row.manifest_number}`,
    facts: factsOf(`back in ${row.bin_code} ${writeDay(row.returned_on)}`, row.is_undone === 1 ? 'taken back' : ''),
    text: linesWith(row.text, words),
  }));
}

/** What has this very text as its code or number. */
export function exactly(ledger: Ledger, { text }: Asked, slice: Slice): Hit[] {
  const { db } = ledger;
  const bin = findBinByCode(db, text);
  return [
    ...(bin === undefined ? [] : [binHit(bin)]),
    ...itemNumbered(db, numberOfItem(text) ?? 0).map((row) => itemHit(row, [])),
    ...ticketsNumbered(db, text, slice).map((row) => ticketHit(ledger, row, [])),
    ...manifestsNumbered(db, text, slice).map((row) => manifestHit(row, [])),
  ].slice(0, slice.count);
}

/** Tickets whose total is the amount that the text is; none for a text that is no amount. */
export function withTotal(ledger: Ledger, { text }: Asked, slice: Slice): Hit[] {
  const { currency, decimalMark } = ledger.settings;
  const amount = readMoney(text, { currency, decimalMark });
  if (!amount.ok) return [];
  return ticketsOfTotal(ledger.db, amount.value, slice).map((row) => ticketHit(ledger, row, []));
}
