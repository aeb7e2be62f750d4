import type { Ledger } from '../../context.ts';
import { bestQuotes } from '../../home/compute.ts';
import { convertPrice, type UnitPrice } from '../../prices/compute.ts';
import type { Quote } from '../../prices/queries.ts';
import type { Day } from '../../units/day.ts';
import { Decimal } from '../../units/decimal.ts';
import type { JournalUnit } from './text.ts';

/** A price for another unit may have no end; with so many decimals the whole of a large bin is right to the cent. */
const DECIMALS = 12;

interface Priced {
  unit: JournalUnit;
  commodities: ReadonlyMap<number, string>;
}

/**
 * The best price of any yard for each grade, as of every day on which one was seen: by these a program that values the
 * bins comes to what the pages show. Prices by the piece have none by weight.
 */
export class BestPrices {
  readonly #priced: Priced;
  readonly #currency: string;
  /** The newest quote of each yard, by grade. */
  readonly #newest = new Map<number, Map<number, Quote>>();
  /** Grades with a quote of the day that is told. */
  readonly #seen = new Set<number>();
  #day: Day | null = null;

  constructor({ settings }: Ledger, priced: Priced) {
    this.#priced = priced;
    this.#currency = settings.currency;
  }

  /** Takes the next quote, in the order they were seen. @returns the lines of the day before, when it begins another */
  take(quote: Quote): string {
    const before = quote.seen_on === this.#day ? '' : this.rest();
    this.#day = quote.seen_on;
    const ofGrade = this.#newest.get(quote.grade_id) ?? new Map<number, Quote>();
    this.#newest.set(quote.grade_id, ofGrade.set(quote.yard_id, quote));
    this.#seen.add(quote.grade_id);
    return before;
  }

  /** The lines of the day that is told. */
  rest(): string {
    const lines = [...this.#seen].sort((a, b) => a - b).map((gradeId) => this.#line(gradeId));
    this.#seen.clear();
    return lines.join('');
  }

  #line(gradeId: number): string {
    const { unit, commodities } = this.#priced;
    const best = bestQuotes([...(this.#newest.get(gradeId)?.values() ?? [])]).get(gradeId);
    if (best === undefined) return '';
    const price = priceIn(best.unitPrice, unit).toDecimalPlaces(DECIMALS, Decimal.ROUND_HALF_UP).toFixed();
    return `P ${this.#day} ${commodities.get(gradeId) ?? ''} ${price} ${this.#currency}\n`;
  }
}

const priceIn = (unitPrice: UnitPrice, unit: JournalUnit): Decimal => convertPrice(unitPrice, unit) ?? new Decimal(0);
