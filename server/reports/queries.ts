import { sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { Settings } from '../setup/settings.ts';
import type { MassUg } from '../units/mass.ts';
import {
  addMonths,
  type Month,
  type RealisedPriceRow,
  type ReportFilter,
  realisedPrices,
  type SaleMonth,
  type ShrinkageRow,
  shrinkageByGrade,
  USUAL_MONTHS,
} from './compute.ts';
import { type ExpectedShrinkage, expectedShrinkage, type YardGradeSums } from './spread.ts';

/** What was sold, by month, grade and yard. Reads the monthly sums, so the cost is the months and not the sales. */
export function saleMonths(db: Db, filter: ReportFilter): SaleMonth[] {
  let query = build
    .selectFrom('sale_month')
    .innerJoin('grade', 'grade.id', 'sale_month.grade_id')
    .innerJoin('yard', 'yard.id', 'sale_month.yard_id')
    .select(['sale_month.grade_id as gradeId', 'grade.name as gradeName', 'grade.quoted_per as quotedPer'])
    .select(['sale_month.yard_id as yardId', 'yard.name as yardName', 'sale_month.sales as sales'])
    .select(['sale_month.home_ug as homeUg', 'sale_month.yard_ug as yardUg', 'sale_month.paid_ug as paidUg'])
    .select([
      'sale_month.weighed_ug as weighedUg',
      'sale_month.quoted_ug as quotedUg',
      'sale_month.quoted_micro as quotedMicro',
      'sale_month.paid_minor as paidMinor',
    ])
    .select(['sale_month.charges_minor as chargesMinor', sql<Month>`sale_month.month`.as('month')])
    .select(['sale_month.sold as sold', 'sale_month.home_squares as homeSquares'])
    .select(['sale_month.home_by_money as homeByMoney', 'sale_month.money_squares as moneySquares'])
    .select(['sale_month.weighed_squares as weighedSquares', 'sale_month.weighed_by_paid as weighedByPaid'])
    .select('sale_month.paid_squares as paidSquares')
    .orderBy('sale_month.month')
    .orderBy('sale_month.grade_id')
    .orderBy('sale_month.yard_id');
  if (filter.from !== null) query = query.where('sale_month.month', '>=', filter.from);
  if (filter.to !== null) query = query.where('sale_month.month', '<=', filter.to);
  if (filter.gradeId !== null) query = query.where('sale_month.grade_id', '=', filter.gradeId);
  if (filter.yardId !== null) query = query.where('sale_month.yard_id', '=', filter.yardId);
  return db.many(query);
}

/** The rows of the realised price report, for the page and the file alike; see realisedPrices. */
export const realisedPriceRows = (db: Db, settings: Settings, filter: ReportFilter): RealisedPriceRow[] =>
  realisedPrices(saleMonths(db, filter), filter, settings);

/** The rows of the shrinkage report, for the page and the file alike; see shrinkageByGrade. */
export const shrinkageRows = (db: Db, settings: Settings, filter: ReportFilter): ShrinkageRow[] =>
  shrinkageByGrade(saleMonths(db, filter), filter, settings);

/** The first and the newest month with a sale; undefined while nothing was sold. */
export function soldBetween(db: Db): { first: Month; newest: Month } | undefined {
  const end = (direction: 'asc' | 'desc') =>
    db.maybe(build.selectFrom('sale_month').select('month').orderBy('month', direction).limit(1))?.month as
      | Month
      | undefined;
  const [first, newest] = [end('asc'), end('desc')];
  return first === undefined || newest === undefined ? undefined : { first, newest };
}

/** Some months of the calendar, both ends included; null for all there are on that side. */
interface Months {
  readonly from: Month | null;
  readonly to: Month | null;
}

/** The months that planning looks back on: the usual number up to the newest sale, or all since the first. */
export function planningMonths(db: Db): Months {
  const sold = soldBetween(db);
  if (sold === undefined) return { from: null, to: null };
  const usual = addMonths(sold.newest, 1 - USUAL_MONTHS);
  const isBeforeAll = usual < sold.first;
  return { from: isBeforeAll ? sold.first : usual, to: sold.newest };
}

/** What was sold by weight, summed for each grade at each yard. Reads the monthly sums. */
export function shrinkageSums(db: Db, { from, to }: Months): YardGradeSums[] {
  let query = build
    .selectFrom('sale_month')
    .select(['grade_id as gradeId', 'yard_id as yardId'])
    .select(({ fn }) => [
      fn.sum<number>('sales').as('sales'),
      fn.sum<MassUg>('home_ug').as('homeUg'),
      fn.sum<MassUg>('weighed_ug').as('weighedUg'),
      fn.sum<MassUg>('paid_ug').as('paidUg'),
      fn.sum<number>('weighed_squares').as('weighedSquares'),
      fn.sum<number>('weighed_by_paid').as('weighedByPaid'),
      fn.sum<number>('paid_squares').as('paidSquares'),
    ])
    .groupBy(['grade_id', 'yard_id']);
  if (from !== null) query = query.where('month', '>=', from);
  if (to !== null) query = query.where('month', '<=', to);
  return db.many(query);
}

/**
 * The shrinkage to reckon with at a yard, by grade id; null where nothing was sold by weight at all. See
 * expectedShrinkage; the months are usually planningMonths.
 */
export function expectedShrinkages(
  db: Db,
  { yardId, gradeIds, ...months }: Months & { readonly yardId: number; readonly gradeIds: readonly number[] },
): Map<number, ExpectedShrinkage | null> {
  const sums = shrinkageSums(db, months);
  return new Map(gradeIds.map((gradeId) => [gradeId, expectedShrinkage(sums, { yardId, gradeId })]));
}
