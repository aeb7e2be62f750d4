import { type CusumStep, type Side, tabularCusum } from '../statistics/cusum.ts';
import { ewma } from '../statistics/ewma.ts';
import { type Interval, type RatioEstimate, ratioOf } from '../statistics/ratio.ts';
import type { Day } from '../units/day.ts';
import { sumMass } from '../units/mass.ts';
import {
  type CheckSeen,
  type Comparison,
  errorOf,
  failedCheck,
  type KnownScale,
  type Missing,
  stretchesOf,
  type Verdict,
  verdictOn,
} from './compute.ts';

/** What one yard scale showed of what was weighed at home: Σ yard weight / Σ home weight, with its interval. */
export interface YardRatio {
  readonly scale: KnownScale;
  readonly sales: readonly Comparison[];
  readonly estimate: RatioEstimate;
}

/** Whether a yard showed less or more than the scale at home. */
export type Direction = 'less' | 'more';

/** Whose scale is likely off, as far as sales can tell. */
export type WhoseScale =
  /** Every yard shows it, and by about as much. */
  | { readonly kind: 'home'; readonly direction: Direction; readonly ratio: number }
  /** One yard stands apart from the others, which agree with home. */
  | { readonly kind: 'yard'; readonly direction: Direction; readonly yard: YardRatio }
  /** The same, but the ranges still overlap. */
  | { readonly kind: 'perhaps a yard'; readonly direction: Direction; readonly yard: YardRatio }
  /** Only one yard to compare with: the two scales differ, and which is off cannot be told. */
  | { readonly kind: 'one yard'; readonly direction: Direction; readonly yard: YardRatio }
  /** Something differs, and the yards do not agree on what. */
  | { readonly kind: 'unclear' }
  /** Every interval holds 1. */
  | { readonly kind: 'nothing' }
  /** No yard has enough sales for an interval. */
  | { readonly kind: 'too few' };

/** A yard whose ratio has an interval. */
interface Spread {
  readonly yard: YardRatio;
  readonly interval: Interval;
}

const directionOf = ({ low, high }: Interval): Direction | null => (high < 1 ? 'less' : low > 1 ? 'more' : null);
const overlap = (a: Interval, b: Interval): boolean => a.low <= b.high && b.low <= a.high;

/** The ratio of each yard scale, in the order in which they are first met. What several scales weighed is left out. */
export function yardRatios(comparisons: readonly Comparison[]): YardRatio[] {
  const byScale = new Map<string, { scale: KnownScale; sales: Comparison[] }>();
  for (const comparison of comparisons) {
    const scale = comparison.yardScale;
    if (scale === null) continue;
    const own = byScale.get(scale.key) ?? { scale, sales: [] };
    own.sales.push(comparison);
    byScale.set(scale.key, own);
  }
  return [...byScale.values()].flatMap(({ scale, sales }) => {
    const estimate = ratioOf(sales.map(({ homeUg, yardUg }) => ({ x: homeUg, y: yardUg })));
    return estimate === null ? [] : [{ scale, sales, estimate }];
  });
}

/**
 * Every yard's interval on the same side of 1 and overlapping: the home scale is the likelier cause. One yard apart from
 * the others, which agree with home: that yard, or how its loads travel. Else nothing is said.
 */
export function whoseScale(ratios: readonly YardRatio[]): WhoseScale {
  const spreads = ratios.flatMap((yard): Spread[] => {
    const { interval } = yard.estimate;
    return interval === null ? [] : [{ yard, interval }];
  });
  const [first] = spreads;
  if (first === undefined) return { kind: 'too few' };
  const off = spreads.filter(({ interval }) => directionOf(interval) !== null);
  if (off.length === 0) return { kind: 'nothing' };
  const direction = directionOf((off[0] as Spread).interval) ?? 'less';
  if (spreads.length === 1) return { kind: 'one yard', direction, yard: first.yard };
  if (isHome(spreads, direction)) return { kind: 'home', direction, ratio: together(spreads) };
  const [alone] = off as [Spread];
  if (off.length > 1) return { kind: 'unclear' };
  const isApart = spreads.every((other) => other === alone || !overlap(alone.interval, other.interval));
  return { kind: isApart ? 'yard' : 'perhaps a yard', direction, yard: alone.yard };
}

const isHome = (spreads: readonly Spread[], direction: Direction): boolean =>
  spreads.every(({ interval }) => directionOf(interval) === direction) &&
  spreads.every((one) => spreads.every((other) => overlap(one.interval, other.interval)));

function together(spreads: readonly Spread[]): number {
  const { homeUg, yardUg } = sumsOf(spreads.flatMap(({ yard }) => yard.sales));
  return yardUg / homeUg;
}

const sumsOf = (sales: readonly Comparison[]) => ({
  homeUg: sumMass(sales.map(({ homeUg }) => homeUg)),
  yardUg: sumMass(sales.map(({ yardUg }) => yardUg)),
});

/** Whether a day lies in a time, of which `from` is the first day and `until` the first after it; null has no end there. */
const liesWithin = (day: Day, { from, until }: { readonly from: Day | null; readonly until: Day | null }): boolean =>
  (from === null || day >= from) && (until === null || day < until);

/** What sales say of one scale at home in a time in which it was not adjusted. */
export interface HomeStretch {
  /** Null for what was weighed on several scales, or on none that was named. */
  readonly scale: KnownScale | null;
  readonly from: Day | null;
  readonly until: Day | null;
  /** The newest check of that time. */
  readonly lastCheck: CheckSeen | null;
  /** A check of that time that found the scale off the way that the yards differ: that answers it. */
  readonly foundOff: CheckSeen | null;
  readonly ratios: readonly YardRatio[];
  readonly finding: WhoseScale;
}

/** Each home scale by its stretches, the newest first; at the end what no single scale can answer for. */
export function homeStretches(comparisons: readonly Comparison[]): HomeStretch[] {
  const scales = new Map(comparisons.map(({ homeScale }) => [homeScale?.key ?? '', homeScale]));
  const keys = [...scales.keys()].sort((a, b) => (a === '' ? 1 : b === '' ? -1 : a < b ? -1 : 1));
  return keys.flatMap((key) => {
    const scale = scales.get(key) ?? null;
    const own = comparisons.filter(({ homeScale }) => (homeScale?.key ?? '') === key);
    return stretchesOf(scale?.checks ?? [])
      .map(({ from, until, checks }) => {
        const ratios = yardRatios(own.filter(({ soldOn }) => liesWithin(soldOn, { from, until })));
        const finding = whoseScale(ratios);
        const foundOff = scale === null ? null : checkBehind(finding, failedCheck(scale.traits, checks));
        return { scale, from, until, lastCheck: checks.at(-1) ?? null, foundOff, ratios, finding };
      })
      .filter(({ ratios }) => ratios.length > 0)
      .reverse();
  });
}

/** Yards show less than a scale that reads too much. Where they do not agree, any error found is worth settling first. */
function checkBehind(finding: WhoseScale, failed: CheckSeen | null): CheckSeen | null {
  if (failed === null || !('direction' in finding)) return failed;
  return (finding.direction === 'less') === errorOf(failed) > 0 ? failed : null;
}

/** In standard deviations: shifts of one are looked for, and a sum of five is a signal. Source: Montgomery, as in cusum.ts. */
export const CUSUM = { target: 0, slack: 0.5, limit: 5, resets: true } as const;

/** A sale whose two weights could be held against what the scales may differ. */
export interface WatchedSale {
  readonly comparison: Comparison;
  readonly z: number;
  readonly step: CusumStep;
  /** Yard weight over home weight, both smoothed over the sales up to this one. */
  readonly smoothed: number;
  /** At the first sale after a scale at home was adjusted, the day of it: the sums begin anew there. */
  readonly freshSince: Day | null;
}

/** A lasting difference that the sums found. */
export interface Shift {
  readonly direction: Direction;
  /** The first sale of it, and the one at which the sum passed the limit. */
  readonly began: Comparison;
  readonly found: Comparison;
  /** Σ yard weight / Σ home weight from the first sale of it to its end. */
  readonly ratio: number;
  /** Whether it was there from the first of the sales that were looked at, so that its beginning is not known. */
  readonly isFromStart: boolean;
  /** Whether all of it together is still within what the two scales may be off: steady, and perhaps wholly allowed. */
  readonly isWithinTolerance: boolean;
  /** The day after which it can no longer be told from these sales; null when it reaches to the newest one. */
  readonly until: Day | null;
  /** What ended it: an adjustment of a scale at home, or a difference the other way. */
  readonly endedBy: 'adjustment' | 'other way' | null;
}

/** One scale of a yard, sale after sale. */
export interface WatchedScale {
  readonly scale: KnownScale;
  readonly yardId: number;
  readonly sales: readonly WatchedSale[];
  readonly shifts: readonly Shift[];
  /** Sales that could not be held against anything, and what is not known for them. */
  readonly leftOut: number;
  readonly missing: readonly Missing[];
}

const DIRECTION: Record<Side, Direction> = { upper: 'more', lower: 'less' };

/** The days on which scales at home that these sales were weighed on were adjusted, in order. */
function adjustedOn(comparisons: readonly Comparison[]): Day[] {
  const scales = new Map(comparisons.map(({ homeScale }) => [homeScale?.key ?? '', homeScale]));
  const days = [...scales.values()].flatMap((scale) => stretchesOf(scale?.checks ?? []).map(({ until }) => until));
  return [...new Set(days.filter((day) => day !== null))].sort();
}

/** Sales in the order of their days, parted where a scale at home was adjusted. */
function partAt(days: readonly Day[], sales: readonly Comparison[]): Comparison[][] {
  const parts: Comparison[][] = [[], ...days.map(() => [])];
  for (const sale of sales) parts[days.filter((day) => sale.soldOn >= day).length]?.push(sale);
  return parts;
}

/**
 * A tabular CUSUM over z = (yard weight − home weight) / u for each scale of a yard, in the order of the sales, begun
 * anew after a signal and after an adjustment at home.
 */
export function watchScales(comparisons: readonly Comparison[]): WatchedScale[] {
  return yardRatios(comparisons).map(({ scale, sales: all }) => {
    const known = all.filter(({ z }) => z !== null);
    const days = adjustedOn(known);
    const parts = partAt(days, known).map((part, index) => watchPart(part, days[index] ?? null));
    return {
      scale,
      yardId: all[0]?.yardId ?? 0,
      sales: parts.flatMap(({ sales }, index) =>
        sales.map((sale, at) => ({ ...sale, freshSince: at === 0 ? (days[index - 1] ?? null) : null })),
      ),
      shifts: parts.flatMap(({ shifts }) => shifts),
      leftOut: all.length - known.length,
      missing: all.flatMap(({ verdict }) => (verdict.kind === 'unknown' ? verdict.missing : [])),
    };
  });
}

/** What each sale counts in the smoothed line. Source: NIST/SEMATECH e-Handbook, 6.3.2.4: usually 0.2 to 0.3. */
const SMOOTHING = 0.2;

/** The quotient of two smoothed weights, begun at no difference: a light load's large percentage counts for little. */
function smoothedRatios(sales: readonly Comparison[]): number[] {
  const rules = { weight: SMOOTHING, start: sales[0]?.homeUg ?? 0 };
  const home = ewma(
    sales.map(({ homeUg }) => homeUg),
    rules,
  );
  const yard = ewma(
    sales.map(({ yardUg }) => yardUg),
    rules,
  );
  return sales.map((_, index) => (yard[index] ?? 1) / (home[index] ?? 1));
}

function watchPart(part: readonly Comparison[], until: Day | null) {
  const z = part.map((sale) => sale.z ?? 0);
  const steps = tabularCusum(z, CUSUM);
  const smoothed = smoothedRatios(part);
  const sales = part.map((comparison, index) => ({
    comparison,
    z: z[index] ?? 0,
    step: steps[index] as CusumStep,
    smoothed: smoothed[index] ?? 1,
  }));
  return { sales, shifts: shiftsOf(part, steps, until) };
}

/** The verdict on several sales as one: the errors of a scale that lasts through all of them add up. */
function verdictOnAll(sales: readonly Comparison[]): Verdict {
  const { homeUg, yardUg } = sumsOf(sales);
  return verdictOn(
    homeUg,
    yardUg,
    sales.flatMap(({ weighings }) => weighings),
  );
}

/** The signals of a stretch; those that follow one another on the same side are one shift that went on. */
function shiftsOf(part: readonly Comparison[], steps: readonly CusumStep[], until: Day | null): Shift[] {
  const begun: { side: Side; began: number; found: number }[] = [];
  for (const [index, { signal, shiftBegan }] of steps.entries()) {
    if (signal === null || shiftBegan === null || begun.at(-1)?.side === signal) continue;
    begun.push({ side: signal, began: shiftBegan, found: index });
  }
  return begun.map(({ side, began, found }, order) => {
    const next = begun[order + 1]?.began;
    const within = part.slice(began, next);
    const { homeUg, yardUg } = sumsOf(within);
    return {
      direction: DIRECTION[side],
      began: part[began] as Comparison,
      found: part[found] as Comparison,
      ratio: yardUg / homeUg,
      isFromStart: began === 0,
      isWithinTolerance: verdictOnAll(within).kind === 'explained',
      until: next === undefined ? until : (part[next] as Comparison).soldOn,
      endedBy: next !== undefined ? 'other way' : until !== null ? 'adjustment' : null,
    };
  });
}

/** Whether two differences were there at the same time. */
const isAtOnce = (one: Shift, other: Shift): boolean =>
  (one.until === null || other.began.soldOn < one.until) && (other.until === null || one.began.soldOn < other.until);

/** Whether all yards, or a check, say of the scale at home that it was off that way when a difference began. */
const isOfHome = ({ began, direction }: Shift, stretches: readonly HomeStretch[]): boolean =>
  stretches.some(
    ({ scale, from, until, finding, foundOff }) =>
      scale !== null &&
      scale.key === began.homeScale?.key &&
      liesWithin(began.soldOn, { from, until }) &&
      ((finding.kind === 'home' && finding.direction === direction) ||
        (foundOff !== null && (direction === 'less') === errorOf(foundOff) > 0)),
  );

/**
 * Whose a lasting difference at one yard likely is: of home when all yards or a check say so, or another yard shows the
 * same at that time; of the yard when the others were sold to and do not; null when nobody else was sold to.
 */
export function likelyCause(
  shift: Shift,
  watched: readonly WatchedScale[],
  stretches: readonly HomeStretch[],
): 'home' | 'yard' | null {
  if (isOfHome(shift, stretches)) return 'home';
  const others = watched.filter(({ yardId }) => yardId !== shift.began.yardId);
  const isAlike = ({ shifts }: WatchedScale) =>
    shifts.some((other) => other.direction === shift.direction && isAtOnce(shift, other));
  if (others.some(isAlike)) return 'home';
  const span = { from: shift.began.soldOn, until: shift.until };
  const isMeanwhile = ({ comparison }: WatchedSale) => liesWithin(comparison.soldOn, span);
  return others.some(({ sales }) => sales.some(isMeanwhile)) ? 'yard' : null;
}

/** A lasting difference that reaches to the newest sale, and the yard's scale that it is at. */
export interface OpenShift {
  readonly scale: KnownScale;
  readonly shift: Shift;
}

export const openShifts = (watched: readonly WatchedScale[]): OpenShift[] =>
  watched.flatMap(({ scale, shifts }) =>
    shifts.filter(({ until }) => until === null).map((shift) => ({ scale, shift })),
  );
