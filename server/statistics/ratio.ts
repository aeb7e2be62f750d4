import { studentQuantile } from './student.ts';

export interface Interval {
  readonly low: number;
  readonly high: number;
}

/** Sums over pairs (x, y), in any units; they must be finite. */
export interface RatioSums {
  readonly count: number;
  readonly x: number;
  readonly y: number;
  readonly xx: number;
  readonly xy: number;
  readonly yy: number;
}

/** Why there is no interval: too few pairs to see a spread, or pairs that show none. */
export type NoInterval = 'few' | 'equal';

export interface RatioEstimate {
  readonly count: number;
  /** Σy / Σx */
  readonly ratio: number;
  /** 95 % interval of the ratio; null together with a reason. */
  readonly interval: Interval | null;
  readonly noInterval: NoInterval | null;
}

/** Fewer pairs give no interval: two points always look alike or apart by chance. */
export const FEWEST_PAIRS = 3;

const CONFIDENCE = 0.95;

/** A spread below this share of the values is the dust of floating-point sums, not something seen on a scale. */
const NO_SPREAD = 1e-6;

/**
 * Ratio of sums R = Σy / Σx with its 95 % interval: se = √(Σ(y − R x)² / (n − 1) / n) / x̄ and Student's t with n − 1
 * degrees of freedom, without finite population correction and with the sample mean of x.
 * Source: Cochran, Sampling Techniques, 3rd ed., section 6.4 (from memory); Scheaffer, Mendenhall and Ott, Elementary
 * Survey Sampling, ratio estimation. In simulations it holds the truth in 94 to 95 % of cases from three pairs on where
 * x and the scatter are even, and in 89 to 92 % where a few pairs outweigh the rest (tests/domain/simulation.test.ts).
 * @param squares Σ(y − R x)²
 */
function estimate({ count, x, y }: Pick<RatioSums, 'count' | 'x' | 'y'>, squares: number, yy: number): RatioEstimate {
  const ratio = y / x;
  if (count < FEWEST_PAIRS) return { count, ratio, interval: null, noInterval: 'few' };
  if (squares <= NO_SPREAD ** 2 * yy) return { count, ratio, interval: null, noInterval: 'equal' };
  const half = studentQuantile((1 + CONFIDENCE) / 2, count - 1) * standardError({ count, x }, squares);
  return { count, ratio, interval: { low: ratio - half, high: ratio + half }, noInterval: null };
}

const standardError = ({ count, x }: Pick<RatioSums, 'count' | 'x'>, squares: number): number =>
  Math.sqrt(squares / (count - 1) / count) / (x / count);

/** The ratio from its sums; null when the x come to nothing, so that there is no ratio. */
export function ratioFromSums(sums: RatioSums): RatioEstimate | null {
  if (!(sums.x > 0)) return null;
  const ratio = sums.y / sums.x;
  const squares = sums.yy - 2 * ratio * sums.xy + ratio * ratio * sums.xx;
  return estimate(sums, Math.max(0, squares), sums.yy);
}

/** The ratio from the pairs themselves; null when the x come to nothing. */
export function ratioOf(pairs: readonly { readonly x: number; readonly y: number }[]): RatioEstimate | null {
  const count = pairs.length;
  const x = pairs.reduce((sum, pair) => sum + pair.x, 0);
  const y = pairs.reduce((sum, pair) => sum + pair.y, 0);
  if (!(x > 0)) return null;
  const squares = pairs.reduce((sum, pair) => sum + (pair.y - (y / x) * pair.x) ** 2, 0);
  const yy = pairs.reduce((sum, pair) => sum + pair.y * pair.y, 0);
  return estimate({ count, x, y }, squares, yy);
}
