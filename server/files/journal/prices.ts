import type { Ledger } from '../../context.ts';
import { bestQuoteFor } from '../../home/compute.ts';
import { convertPrice } from '../../prices/compute.ts';
import type { Quote } from '../../prices/queries.ts';
import type { Day } from '../../units/day.ts';
import { Decimal } from '../../units/decimal.ts';
import type { JournalUnit } from './text.ts';

/** A price for another unit may have no end; with so many decimals the whole of a large bin is right to the cent. */
const DECIMALS = 12;

interface Priced {
  unit: JournalUnit;
  commodities: ReadonlyMap<number, string>;
  /** Those that count, in the order they were seen. */
  quotes: readonly Quote[];
}

/**
 * The best price of any yard for each grade, as of every day on which one was seen: by these a program that values the
 * bins comes to what the pages show. Prices by the piece have none by weight.
 */
export function* priceLines({ settings }: Ledger, { unit, commodities, quotes }: Priced): Generator<string> {
  const newest = new Map<number, Map<number, Quote>>();
  for (const [day, seen] of Map.groupBy(quotes, (quote) => quote.seen_on)) {
    for (const quote of seen) {
      const ofGrade = newest.get(quote.grade_id) ?? new Map<number, Quote>();
      newest.set(quote.grade_id, ofGrade.set(quote.yard_id, quote));
    }
    const gradeIds = [...new Set(seen.map((quote) => quote.grade_id))].sort((a, b) => a - b);
    yield gradeIds
      .map((gradeId) => {
        const best = bestQuoteFor(gradeId, [...(newest.get(gradeId)?.values() ?? [])]);
        return best === null
          ? ''
          : priceLine(day, commodities.get(gradeId) ?? '', priceIn(best, unit), settings.currency);
      })
      .join('');
  }
}

const priceIn = ({ price, per }: Quote, unit: JournalUnit): Decimal =>
  convertPrice({ price: new Decimal(price), per }, unit) ?? new Decimal(0);

const priceLine = (day: Day, commodity: string, price: Decimal, currency: string): string =>
  `P ${day} ${commodity} ${price.toDecimalPlaces(DECIMALS, Decimal.ROUND_HALF_UP).toFixed()} ${currency}\n`;
