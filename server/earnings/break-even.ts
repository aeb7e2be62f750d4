import { Decimal } from '../units/decimal.ts';
import { toWeight } from '../units/mass.ts';
import type { GradePrice } from './compute.ts';
import { type Option, type OptionKey, optionPerHour, type Part, type RankedOption } from './worth.ts';

/** Where an option stops being the best one. */
export interface Edge {
  readonly at: Decimal;
  /** The option that it is level with there. */
  readonly with: OptionKey;
}

/** The quotes of one grade between which an option is the best, the other prices as they are. */
export interface PriceEdges {
  readonly grade: GradePrice;
  /** Null where it is the best down to nothing. */
  readonly above: Edge | null;
  /** Null where it stays the best however high the price goes. */
  readonly below: Edge | null;
}

/** The grade of a teardown that brings the most. */
export function dearestPart({ parts }: Option): (Part & { price: GradePrice; money: Decimal }) | null {
  const priced = parts.flatMap((part) =>
    part.price === null || part.money === null ? [] : [{ ...part, price: part.price, money: part.money }],
  );
  return priced.reduce<(typeof priced)[number] | null>(
    (best, part) => (best === null || part.money.gt(best.money) ? part : best),
    null,
  );
}

/** How much more an option brings for each unit that the quote of a grade is higher. */
const slopeOf = ({ parts }: Option, { gradeId, per, realisation }: GradePrice): Decimal =>
  parts
    .filter((part) => part.gradeId === gradeId)
    .reduce((sum, { massUg }) => sum.plus(toWeight(massUg, per).amount.times(realisation ?? 1)), new Decimal(0));

/**
 * Between which quotes of one grade an option is the best one, every other price as it is. The value of each option is a
 * straight line in that quote, so each other option gives one quote at which the two are level; null where no quote
 * makes it the best.
 * @param ranked every option that can be compared, the one itself among them
 */
export function priceEdges(own: RankedOption, ranked: readonly RankedOption[], grade: GradePrice): PriceEdges | null {
  let above: Edge | null = null;
  let below: Edge | null = null;
  for (const other of ranked) {
    if (other.option.key === own.option.key) continue;
    const lead = own.value.minus(other.value);
    const slope = slopeOf(own.option, grade).minus(slopeOf(other.option, grade));
    if (slope.isZero()) {
      if (lead.isNegative()) return null;
      continue;
    }
    const edge = { at: grade.price.minus(lead.div(slope)), with: other.option.key };
    if (slope.isPositive()) above = above === null || edge.at.gt(above.at) ? edge : above;
    else below = below === null || edge.at.lt(below.at) ? edge : below;
  }
  if (below !== null && (below.at.lte(0) || (above !== null && below.at.lte(above.at)))) return null;
  return { grade, above: above?.at.gt(0) ? above : null, below };
}

/** Minutes below which an option is worth it. */
export interface MinutesEdge extends Edge {
  /** By the wage aimed at, or by what the next best brings for an hour. */
  readonly by: 'wage' | 'per hour';
}

/**
 * The minutes at which an option is level with the best of the others: with a wage, where what it brings more pays for
 * the time; without one, where it brings as much for an hour as the next best does. Null where no time is short enough,
 * and where the next best has no time to compare with.
 */
export function minutesEdge(
  own: RankedOption,
  ranked: readonly RankedOption[],
  wage: Decimal | null,
): MinutesEdge | null {
  const next = ranked.find(({ option }) => option.key !== own.option.key);
  if (next === undefined) return null;
  const { money } = own.option;
  if (money === null) return null;
  if (wage?.gt(0)) {
    const at = money.minus(next.value).times(60).div(wage);
    return at.gt(0) ? { at, with: next.option.key, by: 'wage' } : null;
  }
  const rate = optionPerHour(next.option);
  if (rate === null || rate.lte(0) || money.lte(0)) return null;
  return { at: money.times(60).div(rate), with: next.option.key, by: 'per hour' };
}

/** What the additional time of one option over another brings for an hour; null where it takes no more time. */
export function extraPerHour(more: Option, less: Option): Decimal | null {
  if (more.money === null || less.money === null || more.minutes === null || less.minutes === null) return null;
  const minutes = more.minutes.minus(less.minutes);
  return minutes.lte(0) ? null : more.money.minus(less.money).times(60).div(minutes);
}
