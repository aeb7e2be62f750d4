import { Decimal } from '../units/decimal.ts';

/**
 * Splits a whole total by weights so that the parts add up to it exactly: each part is cut down to a whole number, and
 * what is left goes, one each, to the largest remainders, earlier parts first. Works for money and for micrograms.
 * @param total a safe integer, may be negative
 * @param weights not negative; when all are zero, equal shares
 */
export function splitWhole(total: number, weights: readonly Decimal[]): number[] {
  if (weights.length === 0) return [];
  const sum = weights.reduce((a, b) => a.plus(b), new Decimal(0));
  const shares = sum.isZero() ? weights.map(() => new Decimal(1)) : weights;
  const whole = sum.isZero() ? new Decimal(weights.length) : sum;
  const exact = shares.map((share) => share.times(Math.abs(total)).div(whole));
  const parts = exact.map((part) => part.floor().toNumber());
  const left = Math.abs(total) - parts.reduce((a, b) => a + b, 0);
  const byRemainder = exact
    .map((part, index) => ({ index, remainder: part.minus(part.floor()) }))
    .sort((a, b) => b.remainder.comparedTo(a.remainder) || a.index - b.index);
  for (const { index } of byRemainder.slice(0, left)) parts[index] = (parts[index] ?? 0) + 1;
  return parts.map((part) => (total < 0 && part !== 0 ? -part : part));
}
