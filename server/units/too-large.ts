/**
 * Figures that may each be right come to more together than a whole number holds exactly: a hundred tonnes at a million
 * a gram. A person can type that, so it is told to them; what is no whole number at all is a programmer's error.
 */
export class TooLarge extends RangeError {
  constructor() {
    super('Together these figures are larger than can be right. Check the weights, the prices and their units.');
    this.name = 'TooLarge';
  }
}

/** Passes a whole number that is held exactly. Throws TooLarge beyond, and RangeError on what is no whole number. */
export function wholeNumber(number: number, what: string): number {
  if (Math.abs(number) > Number.MAX_SAFE_INTEGER) throw new TooLarge();
  if (!Number.isInteger(number)) throw new RangeError(`not a whole number of ${what}: ${number}`);
  return number;
}
