import type { RatioEstimate } from '../statistics/ratio.ts';
import { Decimal } from '../units/decimal.ts';

/** What stripping is weighed against, all in major units (dollars) for one and the same unit of weight. */
export interface StripTerms {
  /** What the metal alone is paid. */
  readonly bare: Decimal;
  /** What the wire is paid with its insulation on. */
  readonly insulated: Decimal;
  /** What it costs to be rid of the waste; 0 for nothing. */
  readonly waste: Decimal;
  /** What the hours cost that go into one unit of wire; 0 where time is not counted. */
  readonly labour: Decimal;
}

/** Gain of stripping one unit of wire over selling it as it is: r·bare − insulated − (1 − r)·waste − labour. */
export const gainPerWeight = (recovery: Decimal, { bare, insulated, waste, labour }: StripTerms): Decimal =>
  recovery.times(bare).minus(insulated).minus(new Decimal(1).minus(recovery).times(waste)).minus(labour);

/**
 * The recovery at which stripping and selling come to the same: (insulated + waste + labour) / (bare + waste). Above 1
 * no wire is worth it. Null where metal and waste come to nothing, so that recovery does not matter.
 */
export function breakEvenRecovery({ bare, insulated, waste, labour }: StripTerms): Decimal | null {
  const perMetal = bare.plus(waste);
  return perMetal.isZero() ? null : insulated.plus(waste).plus(labour).div(perMetal);
}

/** The price of the metal at which both come to the same; null without any metal. */
export function breakEvenBarePrice(recovery: Decimal, { insulated, waste, labour }: StripTerms): Decimal | null {
  if (recovery.isZero()) return null;
  return insulated.plus(labour).plus(new Decimal(1).minus(recovery).times(waste)).div(recovery);
}

/** The part of a wire's weight that is metal, 0 to 1, and how far that figure can be trusted. */
export interface Recovery {
  readonly ratio: Decimal;
  /** Where the truth likely lies; null where nothing says how far it may be off. */
  readonly range: { readonly low: Decimal; readonly high: Decimal } | null;
}

const within = (share: number): Decimal => new Decimal(Math.min(1, Math.max(0, share)));

/** A recovery from samples; its interval is cut to what a share can be. */
export function recoveryOfSamples({ ratio, interval }: RatioEstimate): Recovery {
  const range = interval === null ? null : { low: within(interval.low), high: within(interval.high) };
  return { ratio: within(ratio), range };
}

export interface Verdict {
  /** Before one's own time. */
  readonly gainBeforeLabour: Decimal;
  /** After it; the same where time is not counted. */
  readonly gain: Decimal;
  /** Major units an hour, before one's own time; null where it is not known how fast one strips. */
  readonly perHour: Decimal | null;
  readonly advice: 'strip' | 'sell' | 'even';
  readonly breakEvenRecovery: Decimal | null;
  readonly breakEvenBare: Decimal | null;
  /** False where the range of the recovery has the break-even within it; null where there is no range. */
  readonly isSettled: boolean | null;
}

const NO_LABOUR = { labour: new Decimal(0) };

/**
 * Whether to strip.
 * @param perHour units of wire stripped in an hour; null where that is not known
 */
export function stripOrSell(recovery: Recovery, terms: StripTerms, perHour: Decimal | null): Verdict {
  const gain = gainPerWeight(recovery.ratio, terms);
  const gainBeforeLabour = gainPerWeight(recovery.ratio, { ...terms, ...NO_LABOUR });
  const evenAt = breakEvenRecovery(terms);
  return {
    gainBeforeLabour,
    gain,
    perHour: perHour === null ? null : gainBeforeLabour.times(perHour),
    advice: gain.isZero() ? 'even' : gain.gt(0) ? 'strip' : 'sell',
    breakEvenRecovery: evenAt,
    breakEvenBare: breakEvenBarePrice(recovery.ratio, terms),
    isSettled: isSettled(recovery, evenAt),
  };
}

function isSettled({ range }: Recovery, evenAt: Decimal | null): boolean | null {
  if (range === null || evenAt === null) return null;
  return evenAt.lt(range.low) || evenAt.gt(range.high);
}
