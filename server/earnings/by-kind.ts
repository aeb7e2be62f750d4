import type { Currency } from '../money/currencies.ts';
import { type AmountMinor, sumMoney, toMajor } from '../money/money.ts';
import { type NoInterval, ratioOf } from '../statistics/ratio.ts';
import { Decimal } from '../units/decimal.ts';
import { type ItemEarnings, perHourOf, SECONDS_AN_HOUR } from './compute.ts';

/** What the items of one kind earned. */
export interface KindEarnings {
  readonly kindId: number;
  readonly kindName: string;
  readonly items: number;
  /** Those with minutes; only they count for the money per hour and the minutes each. */
  readonly timed: number;
  /** Sold and still in bins, less costs, of all items. */
  readonly moneyMinor: AmountMinor;
  readonly restMinor: AmountMinor;
  readonly costsMinor: AmountMinor;
  /** In major units. */
  readonly moneyEach: Decimal;
  readonly seconds: number;
  /** Null without any minutes. */
  readonly minutesEach: Decimal | null;
  /** Σ money / Σ hours of the timed ones, in major units; null without any minutes. */
  readonly perHour: Decimal | null;
  /** 95 % interval of it; null together with a reason. */
  readonly low: Decimal | null;
  readonly high: Decimal | null;
  readonly noInterval: NoInterval | null;
  /** What of the money before costs is an estimate of what is still there; null where there is no money. */
  readonly restShare: Decimal | null;
}

/** Money per hour as Σ money / Σ hours, so that a long job counts for more than a short one. Source: see ratioOf. */
function perHourOfAll(timed: readonly ItemEarnings[], currency: Currency) {
  const pairs = timed.map(({ item, moneyMinor }) => ({
    x: item.seconds / SECONDS_AN_HOUR,
    y: toMajor(moneyMinor, currency).toNumber(),
  }));
  const estimate = ratioOf(pairs);
  const interval = estimate?.interval ?? null;
  const seconds = timed.reduce((sum, { item }) => sum + item.seconds, 0);
  return {
    seconds,
    perHour: perHourOf(sumMoney(timed.map(({ moneyMinor }) => moneyMinor)), seconds, currency),
    low: interval === null ? null : new Decimal(interval.low),
    high: interval === null ? null : new Decimal(interval.high),
    noInterval: estimate === null ? ('few' as const) : estimate.noInterval,
  };
}

function kindOf(items: readonly ItemEarnings[], currency: Currency): KindEarnings {
  const { kindId, kindName } = (items[0] as ItemEarnings).item;
  const timed = items.filter(({ item }) => item.seconds > 0);
  const sum = (of: (one: ItemEarnings) => AmountMinor) => sumMoney(items.map(of));
  const moneyMinor = sum((one) => one.moneyMinor);
  const restMinor = sum((one) => one.restMinor);
  const taken = sum((one) => one.soldMinor) + restMinor;
  const rates = perHourOfAll(timed, currency);
  return {
    kindId,
    kindName,
    items: items.length,
    timed: timed.length,
    moneyMinor,
    restMinor,
    costsMinor: sum((one) => one.costsMinor),
    moneyEach: toMajor(moneyMinor, currency).div(items.length),
    minutesEach: timed.length === 0 ? null : new Decimal(rates.seconds).div(60 * timed.length),
    ...rates,
    restShare: taken > 0 ? new Decimal(restMinor).div(taken) : null,
  };
}

/** Best per hour first, those without minutes last. */
const bestFirst = (a: KindEarnings, b: KindEarnings): number => {
  if (a.perHour !== null && b.perHour !== null && !a.perHour.eq(b.perHour)) return b.perHour.comparedTo(a.perHour);
  if ((a.perHour === null) !== (b.perHour === null)) return a.perHour === null ? 1 : -1;
  return a.kindName < b.kindName ? -1 : 1;
};

/** One row for each kind, best per hour first. */
export function earningsByKind(items: readonly ItemEarnings[], currency: Currency): KindEarnings[] {
  const kinds = new Map<number, ItemEarnings[]>();
  for (const one of items) {
    const known = kinds.get(one.item.kindId);
    if (known === undefined) kinds.set(one.item.kindId, [one]);
    else known.push(one);
  }
  return [...kinds.values()].map((own) => kindOf(own, currency)).sort(bestFirst);
}

/** Kinds whose whole interval lies below what an hour is to bring: as far as the past tells, not worth the time. */
export const belowWage = (kinds: readonly KindEarnings[], wage: Decimal | null): KindEarnings[] =>
  wage === null ? [] : kinds.filter(({ high }) => high?.lt(wage) === true);
