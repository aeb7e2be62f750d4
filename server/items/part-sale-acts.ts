import type { Ledger } from '../context.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { type AmountMinor, NO_MONEY, writeMoney } from '../money/money.ts';
import { Refusal } from '../refusal.ts';
import { asPart, noteEvent } from '../trail.ts';
import { type Day, writeDay } from '../units/day.ts';
import { closeItem, itemAtHand, reopenItem } from './acts.ts';
import { itemName, refuseGoneWhole } from './compute.ts';
import { findPartSale, insertPartSale, insertPartSaleUndone, standingSaleOf } from './part-sale-queries.ts';
import { type ItemOfKind, isInBins } from './queries.ts';
import { findOutput, type ItemOutput } from './teardown-queries.ts';
import { refuseBeforePickUp } from './work-acts.ts';
import { findClock } from './work-queries.ts';

export interface PartSaleInput {
  itemId: number;
  /** The part; null when the whole item was sold. */
  outputId: number | null;
  listedOn: Day | null;
  soldOn: Day;
  priceMinor: AmountMinor;
  feesMinor: AmountMinor;
  postageMinor: AmountMinor;
  note: string;
}

/** Writes down that a part, or the whole item, was sold for reuse; sold whole, the item is closed. @returns the sale's id */
export function recordPartSale(ledger: Ledger, input: PartSaleInput): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const item = itemAtHand(ledger, input.itemId);
    refuseSoldTwice(ledger, input);
    if (input.outputId === null) refuseWhole(ledger, item);
    else partAtHand(ledger, item, input.outputId);
    refuseFuture(ledger, input.soldOn, 'soldOn');
    refuseBeforePickUp(item, input.soldOn, 'soldOn');
    if (input.listedOn !== null && input.listedOn > input.soldOn) {
      throw new Refusal('day_before_listing', 'listedOn', 'It cannot have been listed after it was sold.');
    }
    const id = insertPartSale(db, {
      item_id: item.id,
      item_output_id: input.outputId,
      listed_on: input.listedOn,
      sold_on: input.soldOn,
      price_minor: input.priceMinor,
      fees_minor: input.feesMinor,
      postage_minor: input.postageMinor,
      note: input.note,
      recorded_at: clock.now(),
    });
    if (input.outputId === null) closeAsSold(ledger, item, input.soldOn);
    noteEvent(ledger, input.outputId === null ? 'sold an item whole' : 'sold a part', 'part_sale', id);
    return id;
  });
}

/** Nothing is sold twice; the sentence names the first sale. */
function refuseSoldTwice(ledger: Ledger, { itemId, outputId }: PartSaleInput): void {
  const first = standingSaleOf(ledger.db, itemId, outputId);
  if (first === undefined) return;
  const { settings } = ledger;
  const price = writeMoney(first.price_minor, settings.currency, settings.decimalMark);
  const what = first.part_name ?? itemName(itemId);
  throw new Refusal(
    'sold_already',
    'what',
    `${what} was sold already, on ${writeDay(first.sold_on)} for ${price}. If that is not so, take that sale back first.`,
  );
}

function refuseWhole(ledger: Ledger, item: ItemOfKind): void {
  refuseGoneWhole(item, 'what');
  if (isInBins(ledger.db, item.id)) {
    const say =
      'Some of it was weighed into bins, so it cannot be sold whole any more. Sell the parts that were kept, or take ' +
      'those weighings back first.';
    throw new Refusal('in_use', 'what', say);
  }
  if (findClock(ledger.db, item.id) !== undefined) {
    throw new Refusal('clock_running', 'what', `The time of ${itemName(item.id)} is still running. Stop it first.`);
  }
}

/** The part that is to be sold: kept, of this item, and not taken back. */
function partAtHand({ db }: Ledger, item: ItemOfKind, outputId: number): ItemOutput {
  const part = findOutput(db, outputId);
  if (part === undefined || part.item_id !== item.id || part.kind !== 'part' || part.is_undone === 1) {
    throw new Refusal('not_a_part', 'what', 'Choose a part of this item from the list, or the whole item.');
  }
  return part;
}

function closeAsSold(ledger: Ledger, item: ItemOfKind, soldOn: Day): void {
  closeItem(asPart(ledger), item.id, { status: 'sold whole', depth: '', closedOn: soldOn, disposalMinor: NO_MONEY });
}

/** Takes a sale back: it counts no more and stays in the list. An item that was sold whole is waiting again. */
export function undoPartSale(ledger: Ledger, saleId: number): void {
  ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const sale = findPartSale(db, saleId);
    if (sale === undefined) throw new Refusal('not_found', '', 'There is no such sale.');
    if (sale.is_undone) throw new Refusal('already_undone', '', 'This sale was already taken back.');
    insertPartSaleUndone(db, saleId, clock.now());
    const item = itemAtHand(ledger, sale.item_id);
    if (sale.item_output_id === null && item.status === 'sold whole') reopenItem(asPart(ledger), item.id);
    noteEvent(ledger, 'took a sale for reuse back', 'part_sale', saleId);
  });
}
