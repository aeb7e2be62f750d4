import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type CusumRules, tabularCusum } from '../../server/statistics/cusum.ts';
import { ewma } from '../../server/statistics/ewma.ts';
import { type RatioEstimate, type RatioSums, ratioFromSums, ratioOf } from '../../server/statistics/ratio.ts';
import { studentQuantile } from '../../server/statistics/student.ts';
import { mean, standardDeviation } from '../../server/statistics/summary.ts';
import {
  combinedUncertainty,
  resolutionUncertainty,
  toleranceUncertainty,
  type UncertaintyTerm,
} from '../../server/statistics/uncertainty.ts';

// Properties and edges of the small statistics. What they are checked against from outside is in tests/published.

interface Pair {
  x: number;
  y: number;
}

const NO_SUMS: RatioSums = { count: 0, x: 0, y: 0, xx: 0, xy: 0, yy: 0 };

/** The sums as the database keeps them: one sale after another put in, or with −1 taken out again. */
const withPair = (sums: RatioSums, { x, y }: Pair, times: 1 | -1 = 1): RatioSums => ({
  count: sums.count + times,
  x: sums.x + times * x,
  y: sums.y + times * y,
  xx: sums.xx + times * x * x,
  xy: sums.xy + times * x * y,
  yy: sums.yy + times * y * y,
});
const sumsOf = (pairs: readonly Pair[]): RatioSums =>
  pairs.reduce<RatioSums>((sums, pair) => withPair(sums, pair), NO_SUMS);

const KG_PER_LB = 0.45359237;
/** Home in hundredths of a pound from 1 to 2,000 lb, the yard in half pounds, off by up to 10 % and a pound; in kg. */
const sale: fc.Arbitrary<Pair> = fc
  .tuple(fc.integer({ min: 100, max: 200_000 }), fc.integer({ min: 900, max: 1100 }), fc.integer({ min: -2, max: 2 }))
  .map(([hundredths, thousandths, steps]) => ({
    x: (hundredths / 100) * KG_PER_LB,
    y: Math.max(0, Math.round((hundredths * thousandths) / 50_000) / 2 + steps / 2) * KG_PER_LB,
  }));

const halfWidth = ({ interval }: RatioEstimate): number => (interval === null ? 0 : (interval.high - interval.low) / 2);

/** @param dust what half the interval may differ by, besides a millionth of itself */
function expectSame(one: RatioEstimate | null, other: RatioEstimate | null, dust = 1e-6): void {
  if (one === null || other === null) {
    expect(one).toBe(other);
    return;
  }
  expect(one.count).toBe(other.count);
  expect(Math.abs(one.ratio - other.ratio)).toBeLessThan(1e-9);
  expect(Math.abs(halfWidth(one) - halfWidth(other))).toBeLessThanOrEqual(1e-6 * halfWidth(other) + dust);
}

describe('the ratio of sums', () => {
  test('comes out the same from sums and from pairs, for any realistic sales', () => {
    fc.assert(
      fc.property(fc.array(sale, { maxLength: 60 }), (sales) => {
        expectSame(ratioFromSums(sumsOf(sales)), ratioOf(sales));
        expect(ratioFromSums(sumsOf(sales))?.noInterval).toBe(ratioOf(sales)?.noInterval);
      }),
      { numRuns: 500 },
    );
  });

  test('comes out the same after sales were taken off the sums again', () => {
    fc.assert(
      fc.property(fc.array(sale, { minLength: 1, maxLength: 40 }), fc.array(sale, { maxLength: 40 }), (kept, taken) => {
        const all = [...kept, ...taken].reduce<RatioSums>((sums, pair) => withPair(sums, pair), NO_SUMS);
        const left = taken.reduce<RatioSums>((sums, pair) => withPair(sums, pair, -1), all);
        // Squares of large sales leave rounding dust of 1e-15 of themselves behind. Half an interval is at most 5.3 times
        // the root of what is added to Σ(y − R x)², over Σx: t is 4.303 at most, and √(3/2) comes from n / (n − 1).
        const squares = 1e-15 * all.count * (all.xx + all.xy + all.yy) + 1e-12 * sumsOf(kept).yy;
        expectSame(ratioFromSums(left), ratioOf(kept), (5.3 * Math.sqrt(squares)) / sumsOf(kept).x);
      }),
      { numRuns: 500 },
    );
  });

  test('does not depend on the unit, and follows the unit of y', () => {
    fc.assert(
      fc.property(fc.array(sale, { minLength: 3, maxLength: 30 }), (sales) => {
        const inMicrograms = sales.map(({ x, y }) => ({ x: x * 1e9, y: y * 1e9 }));
        expectSame(ratioOf(inMicrograms), ratioOf(sales));
        const inCents = ratioOf(sales.map(({ x, y }) => ({ x, y: y * 100 })));
        expect(inCents?.ratio ?? 0).toBeCloseTo((ratioOf(sales)?.ratio ?? 0) * 100, 9);
      }),
    );
  });

  test('has its middle in the interval and is never NaN or infinite, whatever the weights', () => {
    const weight = fc.oneof(fc.constant(0), fc.double({ min: 1e-9, max: 1e6, noNaN: true }));
    fc.assert(
      fc.property(fc.array(fc.record({ x: weight, y: weight }), { maxLength: 20 }), (pairs) => {
        for (const found of [ratioOf(pairs), ratioFromSums(sumsOf(pairs))]) {
          if (found === null) {
            expect(pairs.every(({ x }) => x === 0)).toBe(true);
            continue;
          }
          expect(Number.isFinite(found.ratio)).toBe(true);
          expect(found.interval === null).toBe(found.noInterval !== null);
          if (found.interval === null) continue;
          const { low, high } = found.interval;
          expect([low, high].every(Number.isFinite)).toBe(true);
          expect(low <= found.ratio && found.ratio <= high).toBe(true);
        }
      }),
      { numRuns: 500 },
    );
  });

  const both = (pairs: readonly Pair[]) => [ratioOf(pairs), ratioFromSums(sumsOf(pairs))];

  test('of fewer than three pairs has no interval, and says so', () => {
    for (const pairs of [
      [{ x: 40, y: 39 }],
      [
        { x: 40, y: 39 },
        { x: 20, y: 19.5 },
      ],
      [
        { x: 4, y: 3 },
        { x: 2, y: 2 },
      ],
    ]) {
      for (const found of both(pairs)) expect(found).toMatchObject({ interval: null, noInterval: 'few' });
    }
    const [three] = both([
      { x: 4, y: 3 },
      { x: 2, y: 2 },
      { x: 5, y: 4 },
    ]);
    expect(three?.noInterval).toBeNull();
  });

  test('of pairs that are all alike has no interval, and says so', () => {
    const inPounds = [12.35, 48.2, 31.05, 0.1, 612.4].map((weight) => ({ x: weight, y: weight * 0.97 }));
    const inKilograms = inPounds.map(({ x, y }) => ({ x: x * KG_PER_LB, y: y * KG_PER_LB }));
    const sameTwice = Array.from({ length: 40 }, () => ({ x: 25.3 * KG_PER_LB, y: 25.5 * KG_PER_LB }));
    // A whole number of micrograms is not exactly 97 %, and that must not pass for a spread either.
    const inMicrograms = inKilograms.map(({ x, y }) => ({ x: Math.round(x * 1e9), y: Math.round(y * 1e9) }));
    const paidNothing = inPounds.map(({ x }) => ({ x, y: 0 }));
    for (const pairs of [inPounds, inKilograms, sameTwice, inMicrograms, paidNothing]) {
      for (const found of both(pairs)) expect(found).toMatchObject({ interval: null, noInterval: 'equal' });
    }
  });

  test('sees one step of a scale in a small sale beside large ones', () => {
    const pairs = [...Array.from({ length: 20 }, () => ({ x: 2000, y: 2000 })), { x: 5, y: 4.5 }];
    for (const found of both(pairs)) expect(found?.noInterval).toBeNull();
    const [one, other] = both(pairs);
    expectSame(one ?? null, other ?? null);
  });

  test('of nothing is nothing: no x, no ratio', () => {
    for (const pairs of [[], [{ x: 0, y: 0 }], Array.from({ length: 5 }, () => ({ x: 0, y: 3 }))]) {
      expect(both(pairs)).toEqual([null, null]);
    }
    expect(ratioFromSums({ ...NO_SUMS, x: Number.NaN })).toBeNull();
  });

  test('hides no spread that sums lost below zero: rounding dust counts as none', () => {
    // Σ(y − R x)² from sums can come out a little below zero; its root would be NaN.
    const sums = sumsOf([0.1, 0.2, 0.3].map((x) => ({ x, y: x / 3 })));
    expect(ratioFromSums({ ...sums, xy: sums.xy * (1 + 1e-15) })).toMatchObject({
      interval: null,
      noInterval: 'equal',
    });
  });
});

describe("Student's t", () => {
  // Closed forms of the quantile for 1, 2 and 4 degrees of freedom: textbook algebra, by calculation.
  const closed: Record<number, (p: number) => number> = {
    1: (p) => Math.tan(Math.PI * (p - 0.5)),
    2: (p) => (2 * p - 1) * Math.sqrt(2 / (4 * p * (1 - p))),
    4: (p) => {
      const alpha = 4 * p * (1 - p);
      const q = Math.cos(Math.acos(Math.sqrt(alpha)) / 3) / Math.sqrt(alpha);
      return Math.sign(p - 0.5) * 2 * Math.sqrt(q - 1);
    },
  };

  test('agrees with the closed forms to seven digits', () => {
    for (const degrees of [1, 2, 4]) {
      for (const p of [0.6, 0.75, 0.9, 0.95, 0.975, 0.99, 0.995]) {
        const expected = closed[degrees]?.(p) ?? Number.NaN;
        expect(Math.abs(studentQuantile(p, degrees) / expected - 1)).toBeLessThan(1e-7);
      }
    }
  });

  test('falls towards the normal quantile 1.96 as sales grow, up to a million of them', () => {
    const degrees = [...Array.from({ length: 2000 }, (_, index) => index + 1), 10_000, 100_000, 1_000_000];
    const quantiles = degrees.map((each) => studentQuantile(0.975, each));
    for (const [index, quantile] of quantiles.entries()) {
      expect(quantile).toBeGreaterThan(1.9599);
      expect(quantile).toBeLessThanOrEqual((quantiles[index - 1] ?? Number.POSITIVE_INFINITY) + 1e-7);
    }
    expect(quantiles.at(-1)).toBeCloseTo(1.95997, 5);
  });
});

describe('the tabular CUSUM', () => {
  const RULES: CusumRules = { target: 0, slack: 0.5, limit: 5, resets: true };
  const values = fc.array(fc.double({ min: -6, max: 6, noNaN: true }), { maxLength: 60 });

  test('names the first value of the run as the beginning of the shift', () => {
    // Nothing for five values, then two standard deviations up: 1.5 more each time, past 5 at the fourth.
    const steps = tabularCusum([0, 0.3, -0.4, 0.2, 0, 2, 2, 2, 2, 2], RULES);
    expect(steps.map(({ signal }) => signal).indexOf('upper')).toBe(8);
    expect(steps[8]).toMatchObject({ upper: 6, upperRun: 4, signal: 'upper', shiftBegan: 5 });
    const down = tabularCusum([0, -2, -2, -2, -2], RULES);
    expect(down[4]).toMatchObject({ lower: 6, lowerRun: 4, signal: 'lower', shiftBegan: 1 });
  });

  test('signals above the limit, not at it', () => {
    expect(tabularCusum([5.5], RULES)[0]).toMatchObject({ upper: 5, signal: null, shiftBegan: null });
    expect(tabularCusum([5.75], RULES)[0]).toMatchObject({ signal: 'upper', shiftBegan: 0 });
  });

  test('begins both sums anew after a signal, and without that goes on signalling', () => {
    const shifted = Array.from({ length: 9 }, () => 2);
    const anew = tabularCusum(shifted, RULES);
    expect(anew.flatMap(({ signal }, index) => (signal === null ? [] : [index]))).toEqual([3, 7]);
    expect(anew[4]).toMatchObject({ upper: 1.5, upperRun: 1 });
    expect(anew[7]?.shiftBegan).toBe(4);
    const on = tabularCusum(shifted, { ...RULES, resets: false });
    expect(on.flatMap(({ signal }, index) => (signal === null ? [] : [index]))).toEqual([3, 4, 5, 6, 7, 8]);
    expect(on[8]).toMatchObject({ upper: 13.5, upperRun: 9, shiftBegan: 0 });
  });

  test('after a signal is as if it began with the next value', () => {
    fc.assert(
      fc.property(values, (run) => {
        const steps = tabularCusum(run, RULES);
        const at = steps.findIndex(({ signal }) => signal !== null);
        if (at < 0) return;
        const rest = tabularCusum(run.slice(at + 1), RULES);
        const moved = rest.map((step) => ({
          ...step,
          shiftBegan: step.shiftBegan === null ? null : step.shiftBegan + at + 1,
        }));
        expect(steps.slice(at + 1)).toEqual(moved);
      }),
    );
  });

  test('is the same on both sides: mirrored values mirror it', () => {
    fc.assert(
      fc.property(values, (run) => {
        const steps = tabularCusum(run, RULES);
        const mirrored = tabularCusum(
          run.map((value) => -value),
          RULES,
        );
        for (const [index, step] of steps.entries()) {
          const other = mirrored[index];
          expect([other?.upper, other?.lower]).toEqual([step.lower, step.upper]);
          expect([other?.upperRun, other?.lowerRun]).toEqual([step.lowerRun, step.upperRun]);
          expect(other?.shiftBegan).toBe(step.shiftBegan);
        }
      }),
    );
  });

  test('names a shift only at a signal, and never one that began before the last', () => {
    fc.assert(
      fc.property(values, (run) => {
        let last = -1;
        for (const [index, { signal, shiftBegan }] of tabularCusum(run, RULES).entries()) {
          expect(shiftBegan === null).toBe(signal === null);
          if (shiftBegan === null) continue;
          expect(shiftBegan).toBeGreaterThan(last);
          expect(shiftBegan).toBeLessThanOrEqual(index);
          last = index;
        }
      }),
    );
  });

  test('of no values has no steps', () => {
    expect(tabularCusum([], RULES)).toEqual([]);
  });
});

describe('the moving average', () => {
  test('of a constant stays at it', () => {
    expect(ewma([50, 50, 50], { weight: 0.3, start: 50 })).toEqual([50, 50, 50]);
  });

  test('with all its weight on the newest is the values themselves', () => {
    expect(ewma([3, 1, 2], { weight: 1, start: 99 })).toEqual([3, 1, 2]);
  });

  test('comes nearer to a new level by its weight each time', () => {
    const [first, second, third] = ewma([1, 1, 1], { weight: 0.3, start: 0 });
    expect(first).toBeCloseTo(0.3, 12);
    expect(second).toBeCloseTo(1 - 0.7 ** 2, 12);
    expect(third).toBeCloseTo(1 - 0.7 ** 3, 12);
  });

  test('stays within what it has seen', () => {
    const value = fc.double({ min: -1000, max: 1000, noNaN: true });
    fc.assert(
      fc.property(fc.array(value), value, fc.double({ min: 0.01, max: 1, noNaN: true }), (run, start, weight) => {
        const [least, most] = [Math.min(start, ...run) - 1e-9, Math.max(start, ...run) + 1e-9];
        const smoothed = ewma(run, { weight, start });
        expect(smoothed).toHaveLength(run.length);
        expect(smoothed.every((each) => each >= least && each <= most)).toBe(true);
      }),
    );
  });
});

describe('combined uncertainty', () => {
  const term = fc.double({ min: -1e6, max: 1e6, noNaN: true });

  const alone = (standard: number): UncertaintyTerm => ({ standard, cause: null });
  const ofScale = (standard: number, cause = 'bench'): UncertaintyTerm => ({ standard, cause });

  test('adds what moves together, and in squares what does not', () => {
    expect(combinedUncertainty([alone(3), alone(4)])).toBe(5);
    expect(combinedUncertainty([ofScale(3), ofScale(4)])).toBe(7);
    expect(combinedUncertainty([ofScale(3), ofScale(4, 'floor')])).toBe(5);
    // Weighed in and out again on a scale whose error is the same for both: it falls out.
    expect(combinedUncertainty([ofScale(0.1), ofScale(-0.1)])).toBe(0);
    expect(combinedUncertainty([ofScale(3), ofScale(3), alone(8)])).toBe(10);
  });

  test('of terms of one cause is the size of their sum, whatever their signs', () => {
    fc.assert(
      fc.property(fc.array(term, { maxLength: 20 }), (terms) => {
        const sum = Math.abs(terms.reduce((total, each) => total + each, 0));
        const found = combinedUncertainty(terms.map((each) => ofScale(each)));
        expect(Math.abs(found - sum)).toBeLessThanOrEqual(1e-12 * sum + 1e-150);
      }),
    );
  });

  test('is never NaN or below zero, at most the sum of its terms, and does not mind their order', () => {
    const cause = fc.constantFrom('bench', 'floor', 'yard', null);
    fc.assert(
      fc.property(fc.array(fc.tuple(term, cause), { maxLength: 12 }), (given) => {
        const terms = given.map(([standard, own]) => ({ standard, cause: own }));
        const found = combinedUncertainty(terms);
        const most = terms.reduce((total, each) => total + Math.abs(each.standard), 0);
        expect(found).toBeGreaterThanOrEqual(0);
        expect(found).toBeLessThanOrEqual(most * (1 + 1e-12) + 1e-12);
        expect(Math.abs(combinedUncertainty([...terms].reverse()) - found)).toBeLessThanOrEqual(1e-9 * most + 1e-12);
      }),
    );
  });

  test('of nothing is nothing, and so are a step and a tolerance of nothing', () => {
    expect([combinedUncertainty([]), resolutionUncertainty(0), toleranceUncertainty(0)]).toEqual([0, 0, 0]);
  });
});

describe('mean and standard deviation', () => {
  test('of no values are null; of one value there is no deviation', () => {
    expect([mean([]), standardDeviation([]), standardDeviation([3])]).toEqual([null, null, null]);
    expect(mean([3])).toBe(3);
  });

  test('of equal values are that value and nothing', () => {
    const tenths = Array.from({ length: 7 }, () => 0.1);
    expect(mean(tenths)).toBe(0.1);
    expect(standardDeviation(tenths)).toBe(0);
  });

  test('move with the values: the mean by as much, the deviation not at all', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -1000, max: 1000 }), { minLength: 2 }), (values) => {
        const far = values.map((value) => value + 1e9);
        expect(mean(far)).toBeCloseTo((mean(values) ?? 0) + 1e9, 5);
        expect(standardDeviation(far)).toBeCloseTo(standardDeviation(values) ?? 0, 5);
      }),
    );
  });
});
