import type { Ledger } from '../context.ts';
import { isStillNamed } from '../db/trouble.ts';
import { changeBetween, type Fields } from '../history/change.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { type AmountMinor, NO_MONEY } from '../money/money.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import type { ReadWeight } from '../units/read-weight.ts';
import { itemChangeSaid, itemSaid } from './change-words.ts';
import { isGoneWhole, itemName, refuseGoneWhole } from './compute.ts';
import { saveItemKind } from './kind-acts.ts';
import { findItemKind, findItemKindByName } from './kind-queries.ts';
import {
  deleteItem,
  findItem,
  hasAttachments,
  hasWholeSale,
  type Item,
  type ItemOfKind,
  insertItem,
  isInBins,
  updateItem,
} from './queries.ts';
import type { Depth, Got, ItemStatus } from './table.ts';

/** How an item ended. */
export interface ItemEnd {
  status: Exclude<ItemStatus, 'waiting'>;
  /** '' for what was not taken apart. */
  depth: Depth;
  closedOn: Day;
  /** What it cost to throw away, or what was left of it. */
  disposalMinor: AmountMinor;
}

/** The item, or a refusal. */
export function itemAtHand({ db }: Ledger, itemId: number, field = ''): ItemOfKind {
  const item = findItem(db, itemId);
  if (item === undefined) throw new Refusal('not_found', field, `There is no item ${itemId}.`);
  return item;
}

/**
 * Says how an item ended. One that was sold whole or thrown away must be reopened first; one of which something is in a
 * bin was taken apart or sold as is, so neither of the two can be said of it.
 */
export function closeItem(ledger: Ledger, itemId: number, end: ItemEnd): void {
  ledger.db.transaction(() => {
    refuseGoneWhole(itemAtHand(ledger, itemId));
    changeItem(ledger, itemId, endRow(end), CLOSED[end.status]);
  });
}

const endRow = ({ status, depth, closedOn, disposalMinor }: ItemEnd) => ({
  status,
  depth: status === 'taken apart' ? depth : ('' as const),
  closed_on: closedOn,
  disposal_minor: disposalMinor,
});

const CLOSED: Record<ItemEnd['status'], string> = {
  'taken apart': 'took an item apart',
  'as is': 'sold an item as is',
  'sold whole': 'sold an item whole',
  discarded: 'threw an item away',
};

/** Puts an item back to waiting: what was said of its end is taken back. */
export function reopenItem(ledger: Ledger, itemId: number): void {
  ledger.db.transaction(() => {
    const { status } = itemAtHand(ledger, itemId);
    if (status === 'waiting') throw new Refusal('already_undone', '', `${itemName(itemId)} is waiting already.`);
    if (hasWholeSale(ledger.db, itemId)) {
      const say = 'It is written down as sold whole. Take that sale back, and it waits again.';
      throw new Refusal('in_use', '', say);
    }
    changeItem(ledger, itemId, WAITING, 'put an item back to waiting');
  });
}

/** What is said of an item when it is picked up, and may be put right at any time. */
export interface ItemInput {
  kindId: number;
  name: string;
  pickedUpOn: Day;
  got: Got;
  source: string;
  proof: string;
  costMinor: AmountMinor;
  /** Its whole weight; null when it was not weighed. */
  weight: Pick<ReadWeight, 'typed' | 'weight' | 'massUg'> | null;
  note: string;
}

/** An item's own columns, without its number and when it was written down. */
export type ItemRow = Omit<Item, 'id' | 'recorded_at'>;

const WAITING = { status: 'waiting', depth: '', closed_on: null, disposal_minor: NO_MONEY } as const;

const rowOf = ({ weight, ...input }: ItemInput): Omit<ItemRow, keyof typeof WAITING> => ({
  item_kind_id: input.kindId,
  name: input.name,
  picked_up_on: input.pickedUpOn,
  got: input.got,
  source: input.source,
  proof: input.proof,
  cost_minor: input.costMinor,
  weight_typed: weight?.typed ?? '',
  weight_unit: weight?.weight.unit ?? '',
  weight_ug: weight?.massUg ?? null,
  note: input.note,
});

/** How an item of a file ended, and its number there. */
export interface ItemOfFile {
  /** Null for the next one. */
  number: number | null;
  end: ItemEnd | null;
}

/** Writes down what was picked up. @returns its number */
export function pickUp(
  ledger: Ledger,
  input: ItemInput,
  { number, end }: ItemOfFile = { number: null, end: null },
): number {
  return addItem(ledger, { ...rowOf(input), ...(end === null ? WAITING : endRow(end)) }, number);
}

/** Adds an item as it is said to be: from a form, from a file, or as the trail has it. @returns its number */
export function addItem(ledger: Ledger, row: ItemRow, number: number | null): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    refuseWrong(ledger, row, null);
    if (number !== null && findItem(db, number) !== undefined) {
      throw new Refusal('name_taken', 'item', `There is an item ${number} already. Give this one another number.`);
    }
    const id = insertItem(db, { ...row, ...(number === null ? {} : { id: number }), recorded_at: clock.now() });
    noteEvent(ledger, 'added an item', 'item', id, {
      detail: itemSaid(ledger, id, row.item_kind_id),
      change: { before: null, after: { id, ...row } },
    });
    return id;
  });
}

/** Puts right what is said of an item. */
export function correctItem(ledger: Ledger, itemId: number, input: ItemInput, end: Partial<ItemRow> = {}): void {
  changeItem(ledger, itemId, { ...rowOf(input), ...end }, 'changed an item');
}

/** Changes an item; the trail keeps what it said before. Nothing is written when nothing changed. */
export function changeItem(ledger: Ledger, itemId: number, change: Partial<ItemRow>, act: string): void {
  ledger.db.transaction(() => {
    const { id, recorded_at: _, kind_name: __, ...before } = itemAtHand(ledger, itemId);
    const between = changeBetween(before as Fields, change as Fields);
    if (between === null) return;
    refuseWrong(ledger, { ...before, ...change }, id);
    updateItem(ledger.db, id, change);
    noteEvent(ledger, act, 'item', id, { detail: itemChangeSaid(ledger, between), change: between });
  });
}

/** Refuses what cannot be so, whichever way it came: typed, from a file, or put back from the trail. */
function refuseWrong(ledger: Ledger, row: ItemRow, id: number | null): void {
  if (findItemKind(ledger.db, row.item_kind_id) === undefined) {
    throw new Refusal('not_found', 'kind', 'Choose a kind from the list, or type a new one.');
  }
  refuseFuture(ledger, row.picked_up_on, 'pickedUpOn');
  if (id !== null && row.status !== 'sold whole' && hasWholeSale(ledger.db, id)) {
    const say = 'It is written down as sold whole. Take that sale back, and it waits again.';
    throw new Refusal('in_use', '', say);
  }
  if (row.closed_on === null) return;
  refuseFuture(ledger, row.closed_on, 'closedOn');
  if (row.closed_on < row.picked_up_on) {
    throw new Refusal('day_before_pick_up', 'closedOn', 'That is before the day on which it was picked up.');
  }
  if (id === null || !isGoneWhole(row.status) || !isInBins(ledger.db, id)) return;
  const say =
    'Some of it is in bins already, so it did not leave whole. Say that it was taken apart, or take those weighings ' +
    'back first.';
  throw new Refusal('in_use', '', say);
}

/** Removes an item that was written down by mistake; the database's own keys say whether anything rests on it. */
export function removeItem(ledger: Ledger, itemId: number): void {
  const { db } = ledger;
  db.transaction(() => {
    const { recorded_at: _, kind_name: __, ...row } = itemAtHand(ledger, itemId);
    const stays = (what: string) => {
      return new Refusal(
        'in_use',
        '',
        `${itemName(itemId)} stays, because ${what}. It can be thrown away or put right.`,
      );
    };
    if (hasAttachments(db, itemId)) throw stays('photos or papers are kept with it');
    try {
      db.savepoint(() => deleteItem(db, itemId));
    } catch (error) {
      if (!isStillNamed(error)) throw error;
      throw stays('weighings, time or sales name it');
    }
    noteEvent(ledger, 'removed an item', 'item', itemId, {
      detail: itemSaid(ledger, itemId, row.item_kind_id),
      change: { before: row as Fields, after: null },
    });
  });
}

/** The kind of that name, which is added when there is none. @returns its id */
export const kindNamed = (ledger: Ledger, name: string): number =>
  findItemKindByName(ledger.db, name)?.id ??
  saveItemKind(ledger, null, { name, cautions: '', as_is_grade_id: null, rule_minutes: '', note: '', yields: [] });
