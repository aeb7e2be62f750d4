import { type Interval, type RatioEstimate, ratioOf } from '../statistics/ratio.ts';
import { mean } from '../statistics/summary.ts';
import type { MassUg } from '../units/mass.ts';
import { type GradePrices, likelyPrice, perKilogram, SECONDS_AN_HOUR } from './compute.ts';

// What past teardowns of a kind teach, all of it statistics and so in plain floating-point numbers.

/** One finished teardown of an item whose whole weight is known. */
export interface Teardown {
  readonly weightUg: MassUg;
  /** 0 when nobody looked at the clock. */
  readonly seconds: number;
  /** What went into bins, by grade id. */
  readonly outputs: ReadonlyMap<number, MassUg>;
  /** Parts kept. */
  readonly partsUg: MassUg;
}

/** The expected share of a grade in the weight of such a thing. */
export interface LearnedYield {
  readonly gradeId: number;
  readonly estimate: RatioEstimate;
}

export interface Learned {
  readonly count: number;
  /** Those with minutes. */
  readonly timed: number;
  /** Largest share first. */
  readonly yields: readonly LearnedYield[];
  /** Shares of the weight; what came out above the item's weight leaves no waste, never less than none. */
  readonly partsShare: number;
  readonly wasteShare: number;
  /** More came out than went in: something was weighed wrong. */
  readonly isTooMuch: boolean;
  /** Σ minutes / Σ kilograms of the timed ones; null without any. */
  readonly minutesPerKilogram: RatioEstimate | null;
  readonly meanMinutes: number | null;
}

const UG_A_KILOGRAM = 1e9;
export const kilograms = (mass: number): number => mass / UG_A_KILOGRAM;
/** More than the dust of adding up many weighings. */
const DUST = 1e-6;

/**
 * Expected yields Σ grade mass / Σ item mass, and minutes Σ minutes / Σ item mass, each with its 95 % interval; null
 * without any teardown. A teardown that gave none of a grade counts as nothing of it. Source: see ratioOf.
 */
export function learnFrom(teardowns: readonly Teardown[]): Learned | null {
  if (teardowns.length === 0) return null;
  const shareOf = (massOf: (one: Teardown) => number) =>
    ratioOf(teardowns.map((one) => ({ x: kilograms(one.weightUg), y: kilograms(massOf(one)) }))) as RatioEstimate;
  const gradeIds = [...new Set(teardowns.flatMap(({ outputs }) => [...outputs.keys()]))];
  const yields = gradeIds
    .map((gradeId) => ({ gradeId, estimate: shareOf(({ outputs }) => outputs.get(gradeId) ?? 0) }))
    .filter(({ estimate }) => estimate.ratio > 0)
    .sort((a, b) => b.estimate.ratio - a.estimate.ratio || a.gradeId - b.gradeId);
  const partsShare = shareOf(({ partsUg }) => partsUg).ratio;
  const rest = 1 - partsShare - yields.reduce((sum, { estimate }) => sum + estimate.ratio, 0);
  const timed = teardowns.filter(({ seconds }) => seconds > 0);
  return {
    count: teardowns.length,
    timed: timed.length,
    yields,
    partsShare,
    wasteShare: Math.max(0, rest),
    isTooMuch: rest < -DUST,
    minutesPerKilogram: ratioOf(timed.map(({ weightUg, seconds }) => ({ x: kilograms(weightUg), y: seconds / 60 }))),
    meanMinutes: mean(timed.map(({ seconds }) => seconds / 60)),
  };
}

export interface Likely {
  /** Money for one kilogram, in major units. */
  readonly money: RatioEstimate;
  /** Money for one hour; null unless every one of them was timed, and where there is no interval. */
  readonly perHour: Interval | null;
}

/**
 * How the money of such a teardown spreads: each past one is valued at today's prices less the disposal of its waste,
 * so that what goes together (more copper, less waste) goes together here too. Null without any teardown.
 * @param wastePerKilogram in major units
 */
export function likelyMoney(
  teardowns: readonly Teardown[],
  prices: GradePrices,
  wastePerKilogram: number,
): Likely | null {
  const valued = teardowns.map((one) => ({ ...one, money: moneyOf(one, prices, wastePerKilogram) }));
  const money = ratioOf(valued.map((one) => ({ x: kilograms(one.weightUg), y: one.money })));
  if (money === null) return null;
  const isTimed = valued.every(({ seconds }) => seconds > 0);
  const perHour = isTimed ? ratioOf(valued.map((one) => ({ x: one.seconds / SECONDS_AN_HOUR, y: one.money }))) : null;
  return { money, perHour: perHour?.interval ?? null };
}

function moneyOf({ weightUg, outputs, partsUg }: Teardown, prices: GradePrices, wastePerKilogram: number): number {
  let money = 0;
  let wasteUg: number = weightUg - partsUg;
  for (const [gradeId, mass] of outputs) {
    const price = prices.get(gradeId);
    if (price !== undefined) money += kilograms(mass) * perKilogram(likelyPrice(price));
    wasteUg -= mass;
  }
  return money - kilograms(wasteUg) * wastePerKilogram;
}
