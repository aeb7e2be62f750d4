import type { Depth, ItemStatus } from '../items/table.ts';
import type { Holding } from '../layers/queries.ts';
import type { Currency } from '../money/currencies.ts';
import { type AmountMinor, addMoney, NO_MONEY, subtractMoney, sumMoney, toMajor } from '../money/money.ts';
import { worthOfMass } from '../prices/compute.ts';
import type { Day } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { addMass, convertWeight, type MassUg, type MassUnit, sumMass } from '../units/mass.ts';

/** A price by weight, in major units. */
export interface WeightPrice {
  readonly price: Decimal;
  readonly per: MassUnit;
}

/** What a grade likely brings today: the best current quote, and how much of a quote was realised so far. */
export interface GradePrice extends WeightPrice {
  readonly gradeId: number;
  readonly gradeName: string;
  /** Who quoted it; `price` is the highest of the yards' newest quotes by weight. */
  readonly yardName: string;
  readonly seenOn: Day;
  /** Realised over quoted in the months that planning looks back on; null where none of it was sold then. */
  readonly realisation: Decimal | null;
}

/** By grade id; a grade without a quote by weight is not in it. */
export type GradePrices = ReadonlyMap<number, GradePrice>;

/** The quote times its realisation; where nothing is realised yet, the quote itself. */
export const likelyPrice = ({ price, per, realisation }: GradePrice): WeightPrice => ({
  price: realisation === null ? price : price.times(realisation),
  per,
});

/** A price for one kilogram, as a float for statistics. */
export const perKilogram = ({ price, per }: WeightPrice): number =>
  convertWeight({ amount: price, unit: 'kg' }, per).amount.toNumber();

/** What is known of one item beside its material. */
export interface EarningItem {
  readonly id: number;
  readonly kindId: number;
  readonly kindName: string;
  readonly name: string;
  readonly status: ItemStatus;
  readonly depth: Depth;
  readonly closedOn: Day | null;
  readonly weightUg: MassUg | null;
  readonly costMinor: AmountMinor;
  readonly disposalMinor: AmountMinor;
  /** Work that was not undone. */
  readonly seconds: number;
  /** Its time is running now; that time counts once it is stopped. */
  readonly isRunning: boolean;
  /** Sold for reuse: price less fees and postage, and how many sales it was. */
  readonly reuseMinor: AmountMinor;
  readonly reuseSales: number;
  /** Parts that were kept and not sold: they count as nothing. */
  readonly partsKept: number;
}

/** One grade that an item gave, and what is left of it. */
export interface GradeLine extends Holding {
  readonly restUg: MassUg;
  /** Null where no yard quotes the grade by weight. */
  readonly price: GradePrice | null;
  /** What the rest would bring; null without a quote, and at a price that cannot be right. */
  readonly restMinor: AmountMinor | null;
}

export interface ItemEarnings {
  readonly item: EarningItem;
  readonly grades: readonly GradeLine[];
  /** Its shares of tickets, after charges. */
  readonly scrapMinor: AmountMinor;
  /** Scrap and reuse together, before costs. */
  readonly soldMinor: AmountMinor;
  /** An estimate: what is still in bins or loaded, at today's likely prices. */
  readonly restMinor: AmountMinor;
  readonly restUg: MassUg;
  /** Of the rest, what no price is known for: it counts as nothing. */
  readonly unquotedUg: MassUg;
  /** What it cost to get and to throw away. */
  readonly costsMinor: AmountMinor;
  /** Sold and rest less costs. */
  readonly moneyMinor: AmountMinor;
  /** In major units; null without any time. */
  readonly perHour: Decimal | null;
  /** Closed, and nothing of it in bins or on the way. */
  readonly isFullySold: boolean;
}

export const SECONDS_AN_HOUR = 3600;

function gradeLine(holding: Holding, prices: GradePrices, currency: Currency): GradeLine {
  const restUg = addMass(holding.in_bins_ug, holding.loaded_ug);
  const price = prices.get(holding.grade_id) ?? null;
  const restMinor = price === null ? null : worthOfMass(restUg, likelyPrice(price), currency);
  return { ...holding, restUg, price, restMinor };
}

/** Money for an hour, in major units; null without any time. */
export const perHourOf = (money: AmountMinor, seconds: number, currency: Currency): Decimal | null =>
  seconds === 0 ? null : toMajor(money, currency).times(SECONDS_AN_HOUR).div(seconds);

/** What an item earned: sold so far, what is still there as an estimate apart, less what it cost. */
export function itemEarnings(
  item: EarningItem,
  holdings: readonly Holding[],
  prices: GradePrices,
  currency: Currency,
): ItemEarnings {
  const grades = holdings.map((holding) => gradeLine(holding, prices, currency));
  const scrapMinor = sumMoney(grades.map((line) => line.earned_minor));
  const soldMinor = addMoney(scrapMinor, item.reuseMinor);
  const restMinor = sumMoney(grades.map((line) => line.restMinor ?? NO_MONEY));
  const costsMinor = addMoney(item.costMinor, item.disposalMinor);
  const moneyMinor = subtractMoney(addMoney(soldMinor, restMinor), costsMinor);
  const restUg = sumMass(grades.map((line) => line.restUg));
  return {
    item,
    grades,
    scrapMinor,
    soldMinor,
    restMinor,
    restUg,
    unquotedUg: sumMass(grades.filter((line) => line.restMinor === null).map((line) => line.restUg)),
    costsMinor,
    moneyMinor,
    perHour: perHourOf(moneyMinor, item.seconds, currency),
    isFullySold: item.status !== 'waiting' && restUg === 0,
  };
}

/** What an hour is to bring, as kept in the settings; null where none is aimed at. */
export const wageOf = ({ wage }: { readonly wage: string }): Decimal | null => (wage === '' ? null : new Decimal(wage));
