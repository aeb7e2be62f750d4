import { type AmountMinor, amountMinor } from '../money/money.ts';
import { type Day, daysBetween } from '../units/day.ts';

export interface SaleMoney {
  price_minor: AmountMinor;
  fees_minor: AmountMinor;
  postage_minor: AmountMinor;
}

/** What a sale left: price less fees less postage. Below zero when they ate it up. */
export const netOfSale = ({ price_minor: price, fees_minor: fees, postage_minor: postage }: SaleMoney): AmountMinor =>
  amountMinor(price - fees - postage);

/** Days from listing to sale; null when it was never listed. */
export const daysToSell = ({
  listed_on: listed,
  sold_on: sold,
}: {
  listed_on: Day | null;
  sold_on: Day;
}): number | null => (listed === null ? null : daysBetween(listed, sold));

/** The middle of some whole numbers, between two of them the half; null of none. */
export function medianOf(numbers: readonly number[]): number | null {
  const sorted = [...numbers].sort((a, b) => a - b);
  const upper = sorted[Math.floor(sorted.length / 2)];
  const lower = sorted[Math.floor((sorted.length - 1) / 2)];
  return upper === undefined || lower === undefined ? null : (upper + lower) / 2;
}
