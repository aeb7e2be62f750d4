import { sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { Settings } from '../setup/settings.ts';
import {
  type Month,
  type RealisedPriceRow,
  type ReportFilter,
  realisedPrices,
  type SaleMonth,
  type ShrinkageRow,
  shrinkageByGrade,
} from './compute.ts';

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
