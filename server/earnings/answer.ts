import type { Decimal } from '../units/decimal.ts';
import { dearestPart, extraPerHour, type MinutesEdge, minutesEdge, type PriceEdges, priceEdges } from './break-even.ts';
import { isTeardown, type Option, type RankedOption, rankOptions } from './worth.ts';

/** What to do with a thing, and how much would have to change for it to be something else. */
export interface Answer {
  /** Those that can be compared, the best first, then those that cannot. */
  readonly options: readonly Option[];
  /** Null where nothing but throwing it away can be reckoned: that is no comparison. */
  readonly best: RankedOption | null;
  readonly next: RankedOption | null;
  /** What the best is worth more than the next; null without a next. */
  readonly lead: Decimal | null;
  /** The past teardowns differ so much that it may be the other way round. */
  readonly isClose: boolean;
  /** Of the best teardown there is, whether it is the answer or not. */
  readonly edges: TeardownEdges | null;
}

export interface TeardownEdges {
  readonly own: RankedOption;
  readonly isBest: boolean;
  readonly dearest: string | null;
  /** Null where no quote of that grade makes it the best. */
  readonly price: PriceEdges | null;
  readonly minutes: MinutesEdge | null;
  /** What its additional time brings for an hour over the best of the others. */
  readonly extra: { readonly over: Option; readonly perHour: Decimal } | null;
}

/** How far a value may lie below and above where it was put, as far as past teardowns tell. */
function reachOf({ money, range }: Option): { down: number; up: number } {
  if (money === null || range === null) return { down: 0, up: 0 };
  const at = money.toNumber();
  return { down: at - range.low, up: range.high - at };
}

const isCloseTo = (best: RankedOption, next: RankedOption): boolean => {
  const lead = best.value.minus(next.value);
  return lead.lt(reachOf(best.option).down) || lead.lt(reachOf(next.option).up);
};

function edgesOf(ranked: readonly RankedOption[], wage: Decimal | null): TeardownEdges | null {
  const own = ranked.find(({ option }) => isTeardown(option));
  if (own === undefined || ranked.length < 2) return null;
  const dearest = dearestPart(own.option);
  const other = ranked.find((one) => one !== own) as RankedOption;
  const perHour = extraPerHour(own.option, other.option);
  return {
    own,
    isBest: ranked[0] === own,
    dearest: dearest?.price.gradeName ?? null,
    price: dearest === null ? null : priceEdges(own, ranked, dearest.price),
    minutes: minutesEdge(own, ranked, wage),
    extra: perHour === null ? null : { over: other.option, perHour },
  };
}

/** Compares options by what they are worth: by money less the time at the wage aimed at, without a wage by money. */
export function answerOf(options: readonly Option[], wage: Decimal | null): Answer {
  const ranked = rankOptions(options, wage);
  const rest = options.filter((option) => !ranked.some((one) => one.option === option));
  const isComparison = ranked.some(({ option }) => option.key !== 'discard');
  const [best = null, next = null] = isComparison ? ranked : [];
  return {
    options: [...ranked.map(({ option }) => option), ...rest],
    best,
    next,
    lead: best === null || next === null ? null : best.value.minus(next.value),
    isClose: best !== null && next !== null && isCloseTo(best, next),
    edges: isComparison ? edgesOf(ranked, wage) : null,
  };
}
