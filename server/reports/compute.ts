import { type Currency, minorDigits } from '../money/currencies.ts';
import { convertPrice, type PriceUnit, weighedGrams } from '../prices/compute.ts';
import type { NoInterval, RatioEstimate } from '../statistics/ratio.ts';
import { day, monthOf, quarterOf, readDay, yearOf } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { convertWeight, type MassUg, type MassUnit, massUg } from '../units/mass.ts';
import { accepted, type Read, refused } from '../units/result.ts';
import { type MoneySums, realisedPriceOf, shrinkageOf, type WeightSums } from './spread.ts';

/** Months in a report that names no first one, and those that planning looks back on. */
export const USUAL_MONTHS = 24;

/** A month of the local calendar, "2025-03". Months compare as text, earlier first. */
export type Month = string & { readonly __brand: 'Month' };

export const periodLengths = ['month', 'quarter', 'year'] as const;
export type PeriodLength = (typeof periodLengths)[number];

/** Which sales a report is about, and how it sets them apart. */
export interface ReportFilter {
  readonly by: PeriodLength;
  /** Null for every grade. */
  readonly gradeId: number | null;
  /** Null for every yard. */
  readonly yardId: number | null;
  /** Each yard apart, instead of all yards together. */
  readonly splitYards: boolean;
  /** Null for the whole of the ledger on that side. */
  readonly from: Month | null;
  readonly to: Month | null;
  /** Null for the ledger's own unit of weight, and prices as each grade is quoted. */
  readonly unit: MassUnit | null;
}

/** Every sale there was, month by month and yard by yard: what a file holds when nothing else is asked for. */
export const everySale: ReportFilter = {
  by: 'month',
  gradeId: null,
  yardId: null,
  splitYards: true,
  from: null,
  to: null,
  unit: null,
};

/** Reads a month as YYYY-MM, from 1990 to 2100. */
export function readMonth(typed: string): Read<Month> {
  const text = typed.trim();
  if (!/^\d{4}-\d{2}$/.test(text) || !readDay(`${text}-01`).ok) {
    return refused('Write the month as year and month, like 2025-03, from 1990 to 2100.');
  }
  return accepted(text as Month);
}

/** The month so many months later, or earlier with a negative count. */
export function addMonths(month: Month, count: number): Month {
  const [year = 0, monthOfYear = 1] = month.split('-').map((part) => Number.parseInt(part, 10));
  const months = year * 12 + monthOfYear - 1 + count;
  return `${Math.floor(months / 12)}-${String((months % 12) + 1).padStart(2, '0')}` as Month;
}

const PERIOD_OF = { month: monthOf, quarter: quarterOf, year: yearOf };

/** The period that a month lies in: "2025-03", "2025-Q1" or "2025". */
export const periodOf = (month: Month, by: PeriodLength): string => PERIOD_OF[by](day(`${month}-01`));

/** The first month of the period that a month lies in. */
export function startOfPeriod(month: Month, by: PeriodLength): Month {
  let start = month;
  while (periodOf(addMonths(start, -1), by) === periodOf(month, by)) start = addMonths(start, -1);
  return start;
}

/** Every period from one month to another, oldest first, also those in which nothing was sold. */
export function periodsBetween(from: Month, to: Month, by: PeriodLength): string[] {
  const periods = new Set<string>();
  for (let month = from; month <= to; month = addMonths(month, 1)) periods.add(periodOf(month, by));
  return [...periods];
}

/** What was sold of one grade to one yard in one month. `quotedMicro` is in millionths of a minor unit. */
export interface SaleMonth extends WeightSums, MoneySums {
  readonly month: Month;
  readonly gradeId: number;
  readonly gradeName: string;
  readonly quotedPer: PriceUnit;
  readonly yardId: number;
  readonly yardName: string;
  /** For what was paid by the piece, the home weight. */
  readonly yardUg: MassUg;
  readonly quotedMicro: number;
  /** The home weight that had a quote. */
  readonly quotedUg: MassUg;
}

const SUMMED = [
  'sales',
  'homeUg',
  'yardUg',
  'paidUg',
  'weighedUg',
  'quotedUg',
  'quotedMicro',
  'paidMinor',
  'chargesMinor',
] as const;
/** Σ over several sale months. Decimals: the quoted value of many years in millionths of a cent outgrows a float. */
type Sums = Readonly<Record<(typeof SUMMED)[number], Decimal>>;

function sumOf(months: readonly SaleMonth[]): Sums {
  const sums = SUMMED.map((name) => [name, months.reduce((total, one) => total.plus(one[name]), new Decimal(0))]);
  return Object.fromEntries(sums) as Sums;
}

/** Sets the months apart by a key, in the order in which the keys are first met. */
function groupBy(months: readonly SaleMonth[], keyOf: (month: SaleMonth) => string): SaleMonth[][] {
  const groups = new Map<string, SaleMonth[]>();
  for (const month of months) {
    const key = keyOf(month);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [month]);
    else group.push(month);
  }
  return [...groups.values()];
}

/** The key of a row: what is to be set apart, each part in a width that sorts as numbers do. */
const keyFor =
  (filter: ReportFilter, parts: { period: boolean; grade: boolean }) =>
  (month: SaleMonth): string =>
    [
      parts.period ? periodOf(month.month, filter.by) : '',
      parts.grade ? String(month.gradeId).padStart(16, '0') : '',
      filter.splitYards ? String(month.yardId).padStart(16, '0') : '',
    ].join('|');

function rowsApart(
  months: readonly SaleMonth[],
  filter: ReportFilter,
  parts: { period: boolean; grade: boolean },
): SaleMonth[][] {
  const keyOf = keyFor(filter, parts);
  const sorted = [...months].sort((a, b) => (keyOf(a) < keyOf(b) ? -1 : keyOf(a) > keyOf(b) ? 1 : 0));
  return groupBy(sorted, keyOf);
}

/** The yard of a row: the only one it may be about, or null when it sums all of them. */
const yardOf = (first: SaleMonth, filter: ReportFilter) =>
  filter.splitYards || filter.yardId !== null
    ? { yardId: first.yardId, yardName: first.yardName }
    : { yardId: null, yardName: null };

const inUnit = (mass: Decimal, unit: MassUnit): Decimal =>
  convertWeight({ amount: weighedGrams(massUg(mass.toNumber()), unit), unit: 'g' }, unit).amount;

/** Where the long run of a figure likely lies, 95 %, as far as the sales tell. */
export interface Spread {
  /** How many sales it was seen in. */
  readonly count: number;
  /** Null together with the other end and with a reason. */
  readonly low: Decimal | null;
  readonly high: Decimal | null;
  readonly noInterval: NoInterval | null;
}

/** The spread of an estimate, each end as a row writes its figure. */
function toSpread(estimate: RatioEstimate | null, write: (end: Decimal) => Decimal = (end) => end): Spread {
  const { count, interval, noInterval } = estimate ?? { count: 0, interval: null, noInterval: 'few' };
  if (interval === null) return { count, low: null, high: null, noInterval };
  return { count, low: write(new Decimal(interval.low)), high: write(new Decimal(interval.high)), noInterval };
}

/** How a report is written: the ledger's own unit where the filter names none, and its currency. */
export interface ReportSettings {
  readonly unit: MassUnit;
  readonly currency: Currency;
}

/** Σ of some sales with the prices they give. Weights are in `unit`; prices are in major units for one `per`. */
export interface RealisedPriceRow {
  /** "2025-03", "2025-Q1" or "2025"; null in a sum over every period. */
  readonly period: string | null;
  readonly gradeId: number;
  readonly gradeName: string;
  /** Null when the row sums all yards. */
  readonly yardId: number | null;
  readonly yardName: string | null;
  readonly unit: MassUnit;
  readonly per: MassUnit;
  readonly home: Decimal;
  readonly paidWeight: Decimal;
  /** Null when nothing of it was quoted by weight. */
  readonly quotedPrice: Decimal | null;
  /** Null when the yard paid for no weight at all. */
  readonly paidPrice: Decimal | null;
  readonly realisedPrice: Decimal;
  /** Of the realised price. */
  readonly spread: Spread;
  /** Realised over quoted; null when nothing was quoted. */
  readonly realisation: Decimal | null;
}

const priceUnitOf = (first: SaleMonth, filter: ReportFilter, unit: MassUnit): MassUnit =>
  filter.unit ?? (first.quotedPer === 'each' ? unit : first.quotedPer);

/**
 * Quoted Σ w p / Σ w over what had a quote, paid Σ amount / Σ v, realised Σ (amount − charges) / Σ w: quotients of sums, so that a large sale
 * counts for more than a small one.
 */
function realisedPrice(
  months: readonly SaleMonth[],
  filter: ReportFilter,
  { unit: ownUnit, currency }: ReportSettings,
  hasPeriod: boolean,
): RealisedPriceRow {
  const first = months[0] as SaleMonth;
  const sums = sumOf(months);
  const unit = filter.unit ?? ownUnit;
  const per = priceUnitOf(first, filter, unit);
  const minor = new Decimal(10).pow(minorDigits(currency));
  const quoted = sums.quotedMicro.div(minor.times(1_000_000));
  const received = sums.paidMinor.minus(sums.chargesMinor).div(minor);
  const quotedPrice = sums.quotedUg.isZero() ? null : quoted.div(inUnit(sums.quotedUg, per));
  const realised = received.div(inUnit(sums.homeUg, per));
  // One `per` is so many kilograms, and costs so many times the price of one.
  const fromKilogram = (end: Decimal) => convertWeight({ amount: end.div(minor), unit: per }, 'kg').amount;
  return {
    period: hasPeriod ? periodOf(first.month, filter.by) : null,
    gradeId: first.gradeId,
    gradeName: first.gradeName,
    ...yardOf(first, filter),
    unit,
    per,
    home: inUnit(sums.homeUg, unit),
    paidWeight: inUnit(sums.paidUg, unit),
    quotedPrice,
    paidPrice: sums.paidUg.isZero() ? null : sums.paidMinor.div(minor).div(inUnit(sums.paidUg, per)),
    realisedPrice: realised,
    spread: toSpread(realisedPriceOf(months), fromKilogram),
    realisation: quotedPrice === null || quotedPrice.isZero() ? null : realised.div(quotedPrice),
  };
}

/** One row for each period, grade and (when they are apart) yard with a sale, in that order, oldest first. */
export const realisedPrices = (
  months: readonly SaleMonth[],
  filter: ReportFilter,
  settings: ReportSettings,
): RealisedPriceRow[] =>
  rowsApart(months, filter, { period: true, grade: true }).map((each) => realisedPrice(each, filter, settings, true));

/** The same over all periods together: one row for each grade and (when they are apart) yard. */
export const realisedPricesOverall = (
  months: readonly SaleMonth[],
  filter: ReportFilter,
  settings: ReportSettings,
): RealisedPriceRow[] =>
  rowsApart(months, filter, { period: false, grade: true }).map((each) => realisedPrice(each, filter, settings, false));

/** Σ of some sales with the shares of the home weight that were not paid for. Weights are in `unit`. */
export interface ShrinkageRow {
  /** Null when the row sums every period. */
  readonly period: string | null;
  /** Null when the row sums all grades. */
  readonly gradeId: number | null;
  readonly gradeName: string | null;
  /** Null when the row sums all yards. */
  readonly yardId: number | null;
  readonly yardName: string | null;
  /** A sale counts once for each grade in it. */
  readonly sales: number;
  readonly unit: MassUnit;
  readonly home: Decimal;
  readonly yardWeight: Decimal;
  readonly paidWeight: Decimal;
  /** Shares of the home weight, 0.02 for two percent; positive is weight that was not paid. */
  readonly scaleShare: Decimal;
  readonly deductionShare: Decimal;
  readonly totalShare: Decimal;
  /** Of the total share. */
  readonly spread: Spread;
}

/**
 * (Σw − Σs)/Σw, (Σs − Σv)/Σw and their total: quotients of sums, never the mean of the sales' own shares. Over what was
 * paid by weight only: a sale by the piece has no weight at the yard to compare.
 */
function shrinkage(
  months: readonly SaleMonth[],
  filter: ReportFilter,
  settings: ReportSettings,
  parts: { period: boolean; grade: boolean },
): ShrinkageRow {
  const first = months[0] as SaleMonth;
  const sums = sumOf(months);
  const unit = filter.unit ?? settings.unit;
  const byPieceUg = sums.homeUg.minus(sums.weighedUg);
  const home = inUnit(sums.weighedUg, unit);
  const yardWeight = inUnit(sums.yardUg.minus(byPieceUg), unit);
  const paidWeight = inUnit(sums.paidUg.minus(byPieceUg), unit);
  return {
    period: parts.period ? periodOf(first.month, filter.by) : null,
    gradeId: parts.grade ? first.gradeId : null,
    gradeName: parts.grade ? first.gradeName : null,
    ...yardOf(first, filter),
    sales: sums.sales.toNumber(),
    unit,
    home,
    yardWeight,
    paidWeight,
    scaleShare: home.minus(yardWeight).div(home),
    deductionShare: yardWeight.minus(paidWeight).div(home),
    totalShare: home.minus(paidWeight).div(home),
    spread: toSpread(shrinkageOf(months)),
  };
}

const shrinkageApart =
  (parts: { period: boolean; grade: boolean }) =>
  (months: readonly SaleMonth[], filter: ReportFilter, settings: ReportSettings): ShrinkageRow[] =>
    rowsApart(
      months.filter((month) => month.weighedUg > 0),
      filter,
      parts,
    ).map((each) => shrinkage(each, filter, settings, parts));

/** One row for each grade and (when they are apart) yard, over all periods together. */
export const shrinkageByGrade = shrinkageApart({ period: false, grade: true });
/** One row for each period and (when they are apart) yard with a sale, the filter's grades together; oldest first. */
export const shrinkageByPeriod = shrinkageApart({ period: true, grade: false });
/** One row for everything, or one for each yard when they are apart. */
export const shrinkageOverall = shrinkageApart({ period: false, grade: false });

const FILE_DECIMALS = 4;
/** A figure for a file, at exactly 4 decimals, half away from zero; '' when there is none. */
const forFile = (value: Decimal | null): string =>
  value === null ? '' : value.toFixed(FILE_DECIMALS, Decimal.ROUND_HALF_UP).replace(/^-(?=0\.0+$)/, '');

const priceForFile = (price: Decimal | null, row: RealisedPriceRow): string =>
  forFile(price === null ? null : convertPrice({ price, per: row.per }, row.unit));

/** A row as the file has it: weights and prices in the row's one unit. An empty yard stands for all together. */
export const realisedPriceForFile = (row: RealisedPriceRow) => ({
  period: row.period ?? '',
  grade: row.gradeName,
  yard: row.yardName ?? '',
  unit: row.unit,
  home: forFile(row.home),
  paid_weight: forFile(row.paidWeight),
  quoted_price: priceForFile(row.quotedPrice, row),
  paid_price: priceForFile(row.paidPrice, row),
  realised_price: priceForFile(row.realisedPrice, row),
  realisation: forFile(row.realisation),
});

/** A row as the file has it; shares are of the home weight, 0.0200 for two percent. No interval is an empty cell. */
export const shrinkageForFile = (row: ShrinkageRow) => ({
  grade: row.gradeName ?? '',
  yard: row.yardName ?? '',
  sales: String(row.sales),
  unit: row.unit,
  home: forFile(row.home),
  yard_weight: forFile(row.yardWeight),
  paid_weight: forFile(row.paidWeight),
  scale_share: forFile(row.scaleShare),
  deduction_share: forFile(row.deductionShare),
  total_share: forFile(row.totalShare),
  low: forFile(row.spread.low),
  high: forFile(row.spread.high),
});
