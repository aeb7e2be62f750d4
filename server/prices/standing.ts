import { type Day, daysBetween } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import type { MassUnit } from '../units/mass.ts';
import { convertPrice, type PriceUnit } from './compute.ts';

/** What a comparison of quotes needs to know of one. */
export interface QuotedPrice {
  id: number;
  yard_id: number;
  price: string;
  per: PriceUnit;
  seen_on: Day;
}

/** A quote in another unit of weight, unrounded; null for a price per piece. */
export const quoteInUnit = ({ price, per }: QuotedPrice, unit: MassUnit): Decimal | null =>
  convertPrice({ price: new Decimal(price), per }, unit);

/**
 * The ids of the highest quotes for one grade. Empty with fewer than two that can be compared, as a price alone is not
 * the best of any; prices per piece are compared only when no other is there. Equal prices are all the best.
 */
export function bestQuotes(quotes: readonly QuotedPrice[]): Set<number> {
  const weighed = quotes.flatMap((quote) => {
    const price = quoteInUnit(quote, 'g');
    return price === null ? [] : [{ id: quote.id, price }];
  });
  const compared =
    weighed.length > 0 ? weighed : quotes.map((quote) => ({ id: quote.id, price: new Decimal(quote.price) }));
  if (compared.length < 2) return new Set();
  const highest = Decimal.max(...compared.map(({ price }) => price));
  return new Set(compared.filter(({ price }) => price.eq(highest)).map(({ id }) => id));
}

/** Newest first, by the day it was seen; of one day, what was written last counts. */
const newestFirst = (a: QuotedPrice, b: QuotedPrice): number =>
  a.seen_on === b.seen_on ? b.id - a.id : a.seen_on < b.seen_on ? 1 : -1;

export interface StandingPoint {
  day: Day;
  /** Digits of the price in the unit asked for; null before the yard's first quote. */
  price: string | null;
  /** Whether a quote was seen that day, or since the day before it in the list. */
  isSeen: boolean;
}

const MOST_POINTS = 120;
const MILLISECONDS_A_DAY = 86_400_000;

const addDays = (day: Day, days: number): Day =>
  new Date(Date.parse(`${day}T00:00:00Z`) + days * MILLISECONDS_A_DAY).toISOString().slice(0, 10) as Day;

/** Evenly spaced days that end on `last` and begin on or before `first`, at most about MOST_POINTS of them. */
export function spreadDays(first: Day, last: Day): Day[] {
  const span = Math.max(0, daysBetween(first, last));
  const step = Math.max(1, Math.ceil(span / MOST_POINTS));
  const count = Math.ceil(span / step);
  return Array.from({ length: count + 1 }, (_, index) => addDays(last, (index - count) * step));
}

/** One yard's price on each of some days, as it stood: a quote stands until the next one. */
export function standingPrices(quotes: readonly QuotedPrice[], days: readonly Day[], unit: MassUnit): StandingPoint[] {
  const known = [...quotes].sort(newestFirst).flatMap((quote) => {
    const price = quoteInUnit(quote, unit);
    return price === null ? [] : [{ seenOn: quote.seen_on, digits: price.toString() }];
  });
  return days.map((day, index) => {
    const newest = known.find(({ seenOn }) => seenOn <= day);
    const before = days[index - 1];
    return {
      day,
      price: newest?.digits ?? null,
      isSeen: newest !== undefined && (before === undefined || newest.seenOn > before),
    };
  });
}
