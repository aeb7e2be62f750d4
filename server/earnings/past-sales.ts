import { type AmountMinor, amountMinor } from '../money/money.ts';
import { type Day, daysBetween } from '../units/day.ts';

/** One whole thing that was sold for reuse. */
export interface WholeSale {
  readonly price_minor: AmountMinor;
  readonly fees_minor: AmountMinor;
  readonly postage_minor: AmountMinor;
  readonly listed_on: Day | null;
  readonly sold_on: Day;
  readonly seconds: number;
}

/** What past sales of whole things of a kind say of the next one. */
export interface PastSales {
  readonly count: number;
  readonly price: AmountMinor;
  readonly fees: AmountMinor;
  readonly postage: AmountMinor;
  /** Price less fees and postage. */
  readonly net: AmountMinor;
  /** From offering to selling; null where no day of offering was kept. */
  readonly days: number | null;
  /** Null where no time was kept. */
  readonly minutes: number | null;
  /** Of all closed things of the kind, so many were sold whole, in percent. The others may never have been offered. */
  readonly percentSold: number;
  readonly closed: number;
}

/** The middle value, of an even number the mean of the two in the middle; null of none. */
export function median(values: readonly number[]): number | null {
  const sorted = [...values].sort((a, b) => a - b);
  const upper = sorted[Math.floor(sorted.length / 2)];
  const lower = sorted[Math.floor((sorted.length - 1) / 2)];
  return upper === undefined || lower === undefined ? null : (lower + upper) / 2;
}

/** Medians, as one lucky sale would lift a mean; to the minor unit. Null without any sale. @param closed of the kind */
export function pastSalesOf(sales: readonly WholeSale[], closed: number): PastSales | null {
  if (sales.length === 0) return null;
  const middle = (of: (sale: WholeSale) => number) => amountMinor(Math.round(median(sales.map(of)) ?? 0));
  const waits = sales.flatMap(({ listed_on, sold_on }) =>
    listed_on === null ? [] : [daysBetween(listed_on, sold_on)],
  );
  const seconds = median(sales.filter((sale) => sale.seconds > 0).map((sale) => sale.seconds));
  return {
    count: sales.length,
    price: middle((sale) => sale.price_minor),
    fees: middle((sale) => sale.fees_minor),
    postage: middle((sale) => sale.postage_minor),
    net: middle((sale) => sale.price_minor - sale.fees_minor - sale.postage_minor),
    days: median(waits),
    minutes: seconds === null ? null : seconds / 60,
    percentSold: Math.min(100, Math.round((sales.length * 100) / Math.max(closed, sales.length))),
    closed: Math.max(closed, sales.length),
  };
}
