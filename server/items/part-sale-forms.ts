import { NO_MONEY } from '../money/money.ts';
import type { Reader } from '../reading.ts';
import type { PartSaleInput } from './part-sale-acts.ts';

/** The choice that stands for the whole item; a part is chosen by its id. */
export const WHOLE = 'whole';

/** Reads a sale for reuse: what, price, fees and postage, listed on (may stay empty), sold on. */
export function readPartSale(reader: Reader, itemId: number): PartSaleInput {
  const isWhole = reader.raw('what').toLowerCase() === WHOLE;
  const outputId = isWhole ? null : reader.requiredId('what', 'what was sold');
  const priceMinor = reader.money('price', { what: 'price' });
  const feesMinor = reader.money('fees', { what: 'amount', emptyIs: NO_MONEY });
  const postageMinor = reader.money('postage', { what: 'amount', emptyIs: NO_MONEY });
  const listedOn = reader.raw('listedOn') === '' ? null : reader.day('listedOn');
  const soldOn = reader.day('soldOn');
  const note = reader.note('note');
  reader.done();
  return { itemId, outputId, listedOn, soldOn, priceMinor, feesMinor, postageMinor, note };
}
