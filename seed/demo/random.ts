import { Decimal } from '../../server/units/decimal.ts';

/**
 * Pseudo-random numbers that are the same at every start: the 32-bit generator known as mulberry32, which is in the
 * public domain. Good enough to scatter invented weights, and nothing else.
 */
export class Chance {
  #state: number;

  constructor(seed: number) {
    this.#state = seed >>> 0;
  }

  #next(): number {
    this.#state = (this.#state + 0x6d2b79f5) >>> 0;
    let mixed = this.#state;
    mixed = Math.imul(mixed ^ (mixed >>> 15), mixed | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  }

  /** A whole number from 0 to below `limit`. */
  below(limit: number): number {
    return Math.floor(this.#next() * limit);
  }

  /** True in `percent` of a hundred cases. */
  happens(percent: number): boolean {
    return this.below(100) < percent;
  }

  /** A figure between two others, in ten thousandths of the way. */
  between(low: Decimal | string, high: Decimal | string): Decimal {
    const from = new Decimal(low);
    return new Decimal(high).minus(from).times(this.below(10_001)).div(10_000).plus(from);
  }

  pick<T>(choices: readonly [T, ...T[]]): T {
    return choices[this.below(choices.length)] ?? choices[0];
  }
}
