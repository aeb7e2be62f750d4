import { type RatioEstimate, type RatioSums, ratioFromSums } from '../statistics/ratio.ts';
import type { MassUg } from '../units/mass.ts';

// How far a share or a price that was worked out from several sales may lie from what goes on in the long run. All of
// it is statistics, so in plain floating-point numbers; what was weighed and paid stays exact beside it.

/** Sums over sales that were paid by weight. Squares and products are in square kilograms. */
export interface WeightSums {
  /** How many were paid by weight. */
  readonly sales: number;
  readonly homeUg: MassUg;
  /** The home weight that was paid by weight; for what was paid by the piece, the paid weight is the home weight. */
  readonly weighedUg: MassUg;
  readonly paidUg: MassUg;
  readonly weighedSquares: number;
  readonly weighedByPaid: number;
  readonly paidSquares: number;
}

/** Sums over all sales, the money after charges. Squares and products are in kilograms and minor units. */
export interface MoneySums {
  /** How many there were, also those by the piece. */
  readonly sold: number;
  readonly homeUg: MassUg;
  readonly paidMinor: number;
  readonly chargesMinor: number;
  readonly homeSquares: number;
  readonly homeByMoney: number;
  readonly moneySquares: number;
}

const MICROGRAMS_A_KILOGRAM = 1e9;

const totalOf = <Row>(rows: readonly Row[], figureOf: (row: Row) => number): number =>
  rows.reduce((total, row) => total + figureOf(row), 0);

/** Pairs of home weight and paid weight, in kilograms. */
const weightPairs = (rows: readonly WeightSums[]): RatioSums => ({
  count: totalOf(rows, (row) => row.sales),
  x: totalOf(rows, (row) => row.weighedUg) / MICROGRAMS_A_KILOGRAM,
  y: totalOf(rows, (row) => row.paidUg - (row.homeUg - row.weighedUg)) / MICROGRAMS_A_KILOGRAM,
  xx: totalOf(rows, (row) => row.weighedSquares),
  xy: totalOf(rows, (row) => row.weighedByPaid),
  yy: totalOf(rows, (row) => row.paidSquares),
});

/** Pairs of home weight in kilograms and money after charges in minor units. */
const moneyPairs = (rows: readonly MoneySums[]): RatioSums => ({
  count: totalOf(rows, (row) => row.sold),
  x: totalOf(rows, (row) => row.homeUg) / MICROGRAMS_A_KILOGRAM,
  y: totalOf(rows, (row) => row.paidMinor - row.chargesMinor),
  xx: totalOf(rows, (row) => row.homeSquares),
  xy: totalOf(rows, (row) => row.homeByMoney),
  yy: totalOf(rows, (row) => row.moneySquares),
});

/**
 * Total shrinkage 1 − R with R = Σ paid / Σ home weight, as a share, 0.02 for two percent, with its 95 % interval: what
 * is the low end for R is the high end for what is missing. Null when nothing was paid by weight.
 * Source: see ratioFromSums.
 */
export function shrinkageOf(rows: readonly WeightSums[]): RatioEstimate | null {
  const paid = ratioFromSums(weightPairs(rows));
  if (paid === null) return null;
  const interval = paid.interval === null ? null : { low: 1 - paid.interval.high, high: 1 - paid.interval.low };
  return { ...paid, ratio: 1 - paid.ratio, interval };
}

/** Realised price Σ money after charges / Σ home weight, in minor units for a kilogram, with its 95 % interval. */
export const realisedPriceOf = (rows: readonly MoneySums[]): RatioEstimate | null => ratioFromSums(moneyPairs(rows));

/** Sums of one grade at one yard. */
export interface YardGradeSums extends WeightSums {
  readonly yardId: number;
  readonly gradeId: number;
}

/** The shrinkage to reckon with before a sale. */
export interface ExpectedShrinkage {
  /** Share of the home weight that will not be paid for, 0.02 for two percent; below zero when more was paid for. */
  readonly share: number;
  /** How many sales it is taken from. */
  readonly sales: number;
  /** What it is taken from: this grade at this yard, this grade at any yard, or every grade at any yard. */
  readonly basis: 'yard and grade' | 'grade' | 'ledger';
  /** 95 % interval of the share; null where the sales are too few or all alike. */
  readonly low: number | null;
  readonly high: number | null;
}

/** Fewer sales of a grade at a yard say less about the next one there than the sales of the grade at all yards. */
const FEWEST_HERE = 5;

/**
 * What of a grade will not be paid for at a yard: from the sales of the grade there when they are at least five, else
 * from those of the grade at any yard, else from all there are. Null when nothing was sold by weight.
 * @param sums of every grade at every yard, over the months that count
 */
export function expectedShrinkage(
  sums: readonly YardGradeSums[],
  { yardId, gradeId }: { yardId: number; gradeId: number },
): ExpectedShrinkage | null {
  const ofGrade = sums.filter((row) => row.gradeId === gradeId);
  const bases = [
    { basis: 'yard and grade', rows: ofGrade.filter((row) => row.yardId === yardId), fewest: FEWEST_HERE },
    { basis: 'grade', rows: ofGrade, fewest: 1 },
    { basis: 'ledger', rows: sums, fewest: 1 },
  ] as const;
  for (const { basis, rows, fewest } of bases) {
    const shrinkage = shrinkageOf(rows);
    if (shrinkage === null || shrinkage.count < fewest) continue;
    const { ratio, count, interval } = shrinkage;
    return { share: ratio, sales: count, basis, low: interval?.low ?? null, high: interval?.high ?? null };
  }
  return null;
}
