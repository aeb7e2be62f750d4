import type { Ledger } from '../context.ts';
import { changeBetween, type Fields } from '../history/change.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { type AmountMinor, NO_MONEY } from '../money/money.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import { isGoneWhole, itemName, refuseGoneWhole } from './compute.ts';
import { findItem, type Item, type ItemOfKind, isInBins, updateItem } from './queries.ts';
import type { Depth, ItemStatus } from './table.ts';

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
export function closeItem(ledger: Ledger, itemId: number, { status, depth, closedOn, disposalMinor }: ItemEnd): void {
  ledger.db.transaction(() => {
    const before = itemAtHand(ledger, itemId);
    refuseGoneWhole(before);
    refuseFuture(ledger, closedOn, 'closedOn');
    if (closedOn < before.picked_up_on) {
      throw new Refusal('day_before_pick_up', 'closedOn', 'This day is before the item was picked up.');
    }
    if (isGoneWhole(status) && isInBins(ledger.db, itemId)) {
      const say =
        'Some of it is in bins already, so it did not leave whole. Say that it was taken apart, or take those ' +
        'weighings back first.';
      throw new Refusal('in_use', '', say);
    }
    const after = { status, depth, closed_on: closedOn, disposal_minor: disposalMinor };
    keepChange(ledger, before, after, `closed an item: ${status}`);
  });
}

/** Puts an item back to waiting: what was said of its end is taken back. */
export function reopenItem(ledger: Ledger, itemId: number): void {
  ledger.db.transaction(() => {
    const before = itemAtHand(ledger, itemId);
    if (before.status === 'waiting') {
      throw new Refusal('already_undone', '', `${itemName(itemId)} is waiting already.`);
    }
    const after = { status: 'waiting', depth: '', closed_on: null, disposal_minor: NO_MONEY } as const;
    keepChange(ledger, before, after, 'put an item back to waiting');
  });
}

/** Stores what changed of an item, and writes it into the trail with what was before; nothing when nothing changed. */
function keepChange(ledger: Ledger, before: Item, after: Partial<Omit<Item, 'id' | 'recorded_at'>>, act: string): void {
  const change = changeBetween({ ...before } as Fields, { ...after } as Fields);
  if (change === null) return;
  updateItem(ledger.db, before.id, after);
  noteEvent(ledger, act, 'item', before.id, { detail: itemName(before.id), change });
}
