import { recordPartSale } from '../../server/items/part-sale-acts.ts';
import { outputsOfItem } from '../../server/items/teardown-queries.ts';
import { amountMinor } from '../../server/money/money.ts';
import { day } from '../../server/units/day.ts';
import type { Agenda, Household } from './household.ts';

/** A sale for reuse: the part of an item, or null for the whole item; amounts in cents. */
type Sale = readonly [
  item: number,
  part: string | null,
  listed: string,
  sold: string,
  price: number,
  fees: number,
  postage: number,
];

const sales: readonly Sale[] = [
  [1, 'drain pump', '2025-01-06', '2025-01-20', 1200, 120, 0],
  [4, 'memory, six pieces', '2025-02-18', '2025-03-03', 1800, 235, 410],
  [14, null, '2025-07-24', '2025-08-11', 3500, 350, 980],
];

/** What was worth more to somebody as it was than as metal. */
export function planReuse(house: Household, agenda: Agenda): void {
  for (const [itemId, part, listed, sold, price, fees, postage] of sales) {
    agenda.on(sold, (soldOn) => {
      const output = outputsOfItem(house.db, itemId).find(({ name }) => name === part);
      recordPartSale(house.at(soldOn), {
        itemId,
        outputId: output?.id ?? null,
        listedOn: day(listed),
        soldOn,
        priceMinor: amountMinor(price),
        feesMinor: amountMinor(fees),
        postageMinor: amountMinor(postage),
        note: '',
      });
    });
  }
}
