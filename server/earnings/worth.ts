import type { Interval, NoInterval } from '../statistics/ratio.ts';
import { Decimal } from '../units/decimal.ts';
import { convertWeight, type MassUg, massUg, toWeight } from '../units/mass.ts';
import { type GradePrice, type GradePrices, likelyPrice, perKilogram, type WeightPrice } from './compute.ts';
import { kilograms, type Learned, type Likely, learnFrom, likelyMoney, type Teardown } from './learned.ts';

/** What can be done with a thing. `rule` is a teardown that is only known by a rule of thumb. */
export type OptionKey = 'whole' | 'as is' | 'coarse' | 'fine' | 'rule' | 'discard';

/** Why an option has no money: nothing was said or set that it could be reckoned from. */
export type Missing = 'no price' | 'no grade' | 'no quote' | 'no history';

/** One grade that a thing would give. */
export interface Part {
  readonly gradeId: number;
  readonly massUg: MassUg;
  /** Share of the whole weight, with its 95 % interval where it was learned. */
  readonly share: number;
  readonly interval: Interval | null;
  /** Null where no yard quotes the grade by weight: it counts as nothing. */
  readonly price: GradePrice | null;
  /** In major units, unrounded. */
  readonly money: Decimal | null;
}

/** One thing that can be done, in major units of money and unrounded. */
export interface Option {
  readonly key: OptionKey;
  /** Null where it cannot be said, with the reason. */
  readonly money: Decimal | null;
  readonly missing: Missing | null;
  /** Null where nobody knows. */
  readonly minutes: Decimal | null;
  readonly parts: readonly Part[];
  /** What throwing its waste away costs, taken off the money already. */
  readonly wasteMoney: Decimal;
  readonly wasteUg: MassUg;
  /** 95 % interval of the money and of the money per hour, from past teardowns. */
  readonly range: Interval | null;
  readonly hourRange: Interval | null;
  readonly noInterval: NoInterval | null;
  /** What it was learned from; null for what was not. */
  readonly learned: Learned | null;
}

const NOTHING = {
  missing: null,
  parts: [],
  wasteMoney: new Decimal(0),
  wasteUg: massUg(0),
  range: null,
  hourRange: null,
  noInterval: null,
  learned: null,
} as const;

/** An option that no money can be given for. */
export const unknownOption = (key: OptionKey, missing: Missing): Option => ({
  ...NOTHING,
  key,
  money: null,
  minutes: null,
  missing,
});

/** What a mass brings, in major units, unrounded. */
const worthOf = (mass: MassUg, price: WeightPrice): Decimal =>
  convertWeight({ amount: price.price.times(toWeight(mass, 'g').amount), unit: 'g' }, price.per).amount;

/** So much of a weight, to the microgram. */
const partOf = (weight: MassUg, share: number): MassUg => massUg(Math.round(weight * share));

function toPart(weight: MassUg, prices: GradePrices, one: Pick<Part, 'gradeId' | 'share' | 'interval'>): Part {
  const price = prices.get(one.gradeId) ?? null;
  const mass = partOf(weight, one.share);
  return { ...one, massUg: mass, price, money: price === null ? null : worthOf(mass, likelyPrice(price)) };
}

/** Everything that options are reckoned from. */
export interface Thing {
  readonly weightUg: MassUg;
  readonly prices: GradePrices;
  /** What throwing waste away costs; null where nothing is set. */
  readonly waste: WeightPrice | null;
}

/** Selling it whole: price × chance − fees − postage, in major units; the chance is a share of one. */
export interface Resale {
  readonly price: Decimal;
  readonly chance: Decimal;
  readonly fees: Decimal;
  readonly postage: Decimal;
  readonly minutes: Decimal | null;
}

export const wholeOption = ({ price, chance, fees, postage, minutes }: Resale): Option => ({
  ...NOTHING,
  key: 'whole',
  money: price.times(chance).minus(fees).minus(postage),
  minutes,
});

/** Selling it to a yard as it is. @param gradeId what a yard takes it as */
export function asIsOption({ weightUg, prices }: Thing, gradeId: number | null, minutes: Decimal): Option {
  if (gradeId === null) return unknownOption('as is', 'no grade');
  const part = toPart(weightUg, prices, { gradeId, share: 1, interval: null });
  if (part.money === null) return { ...unknownOption('as is', 'no quote'), parts: [part] };
  return { ...NOTHING, key: 'as is', money: part.money, minutes, parts: [part] };
}

/** @param cost what it costs to throw away, in major units */
export const discardOption = (cost: Decimal, minutes: Decimal): Option => ({
  ...NOTHING,
  key: 'discard',
  money: cost.negated(),
  minutes,
});

/** What a weight costs to throw away. */
export const wasteCostOf = (mass: MassUg, waste: WeightPrice | null): Decimal =>
  waste === null ? new Decimal(0) : worthOf(mass, waste);

interface Gives {
  readonly parts: readonly Part[];
  readonly wasteUg: MassUg;
  readonly minutes: Decimal | null;
}

/** The money of what a teardown gives, less the disposal of its waste; without any quoted grade there is none. */
function teardown({ waste }: Thing, key: OptionKey, { parts, wasteUg, minutes }: Gives): Option {
  const wasteMoney = wasteCostOf(wasteUg, waste);
  const known = parts.flatMap(({ money }) => (money === null ? [] : [money]));
  const isUnknown = known.length === 0 && parts.length > 0;
  const money = known.reduce((sum, one) => sum.plus(one), new Decimal(0)).minus(wasteMoney);
  return {
    ...NOTHING,
    key,
    money: isUnknown ? null : money,
    missing: isUnknown ? 'no quote' : null,
    minutes,
    parts,
    wasteMoney,
    wasteUg,
  };
}

const times = (range: Interval | null, factor: number): Interval | null =>
  range === null ? null : { low: range.low * factor, high: range.high * factor };

/** Taking it apart as past ones of its kind were, to one depth. */
export function learnedOption(thing: Thing, key: 'coarse' | 'fine', past: readonly Teardown[]): Option {
  const learned = learnFrom(past);
  if (learned === null) return unknownOption(key, 'no history');
  const { weightUg, prices, waste } = thing;
  const parts = learned.yields.map(({ gradeId, estimate }) =>
    toPart(weightUg, prices, { gradeId, share: estimate.ratio, interval: estimate.interval }),
  );
  const weight = kilograms(weightUg);
  const rate = learned.minutesPerKilogram?.ratio;
  const option = teardown(thing, key, {
    parts,
    wasteUg: partOf(weightUg, learned.wasteShare),
    minutes: rate === undefined ? null : new Decimal(rate).times(weight),
  });
  if (option.money === null) return { ...option, learned };
  const { money, perHour } = likelyMoney(past, prices, waste === null ? 0 : perKilogram(waste)) as Likely;
  return {
    ...option,
    learned,
    range: times(money.interval, weight),
    hourRange: perHour,
    noInterval: money.noInterval,
  };
}

/** A rule of thumb for a kind: shares of the weight, and minutes for one; never mixed with what was weighed. */
export interface Rule {
  readonly yields: readonly { readonly gradeId: number; readonly share: number }[];
  readonly minutes: Decimal | null;
}

export function ruleOption(thing: Thing, rule: Rule): Option {
  if (rule.yields.length === 0) return unknownOption('rule', 'no history');
  const parts = rule.yields.map((one) => toPart(thing.weightUg, thing.prices, { ...one, interval: null }));
  const waste = 1 - rule.yields.reduce((sum, { share }) => sum + share, 0);
  const wasteUg = partOf(thing.weightUg, Math.max(0, waste));
  return teardown(thing, 'rule', { parts, wasteUg, minutes: rule.minutes });
}

/** Money for an hour of it; null where money or minutes are not known or no time is counted. */
export const optionPerHour = ({ money, minutes }: Option): Decimal | null =>
  money === null || minutes === null || minutes.isZero() ? null : money.times(60).div(minutes);

/**
 * What an option is worth once the time is paid for: money − wage × hours; without a wage the money alone. Null where
 * that cannot be said.
 */
export function valueOfOption({ money, minutes }: Option, wage: Decimal | null): Decimal | null {
  if (money === null || wage === null) return money;
  return minutes === null ? null : money.minus(wage.times(minutes).div(60));
}

export interface RankedOption {
  readonly option: Option;
  readonly value: Decimal;
}

/** Those that can be compared, the best first. */
export const rankOptions = (options: readonly Option[], wage: Decimal | null): RankedOption[] =>
  options
    .flatMap((option) => {
      const value = valueOfOption(option, wage);
      return value === null ? [] : [{ option, value }];
    })
    .sort((a, b) => b.value.comparedTo(a.value));

export const isTeardown = ({ key }: Option): boolean => key === 'coarse' || key === 'fine' || key === 'rule';
