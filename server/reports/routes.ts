import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Gap, ReportFrame, RowPage } from '../../views/reports/filters.ts';
import { type ReportsPage, reportsPage } from '../../views/reports/index.ts';
import type { Outlook } from '../../views/reports/outlook.ts';
import { type RealisedPricesPage, realisedPricesPage } from '../../views/reports/realised-prices.ts';
import { type ShrinkagePage, shrinkagePage } from '../../views/reports/shrinkage.ts';
import type { Ledger } from '../context.ts';
import type { Db } from '../db/database.ts';
import { type Problems, Reader, type Typed, Unreadable } from '../reading.ts';
import { listGrades, listYards } from '../setup/queries.ts';
import { ledgerOf, pageNumber, queryOf, ROWS_PER_PAGE, sendHtml, showOf } from '../web.ts';
import {
  addMonths,
  everySale,
  type Month,
  periodsBetween,
  type ReportFilter,
  realisedPricesOverall,
  shrinkageByPeriod,
  shrinkageOverall,
  USUAL_MONTHS,
} from './compute.ts';
import { readReportFilter } from './forms.ts';
import { planningMonths, realisedPriceRows, saleMonths, shrinkageRows, shrinkageSums, soldBetween } from './queries.ts';
import { readScaleReport } from './scale-report.ts';
import { expectedShrinkage } from './spread.ts';

/** What the sales teach: realised prices and shrinkage. Every filter is in the address. */
export async function reportRoutes(app: FastifyInstance): Promise<void> {
  app.get('/reports', (request, reply) =>
    sendHtml(reply, reportsPage(showOf(request), readReports(ledgerOf(request)))),
  );

  app.get('/reports/realised-prices', (request, reply) => {
    const frame = readFrame(request, '/reports/realised-prices');
    const parts = readRealisedPrices(ledgerOf(request), frame);
    return sendHtml(reply, realisedPricesPage(showOf(request), parts), statusOf(frame));
  });

  app.get('/reports/shrinkage', (request, reply) => {
    const frame = readFrame(request, '/reports/shrinkage');
    return sendHtml(reply, shrinkagePage(showOf(request), readShrinkage(ledgerOf(request), frame)), statusOf(frame));
  });
}

const statusOf = ({ state }: ReportFrame): number => (Object.keys(state.problems).length === 0 ? 200 : 422);

/** A report whose address cannot be read is about no sale; the page then says why and shows nothing else. */
const NO_SALE: ReportFilter = { ...everySale, splitYards: false };

function readFilter({ db, settings }: Ledger, typed: Typed): { filter: ReportFilter; problems: Problems } {
  try {
    return { filter: readReportFilter(db, new Reader(typed, settings), soldBetween(db)), problems: {} };
  } catch (error) {
    if (error instanceof Unreadable) return { filter: NO_SALE, problems: error.problems };
    throw error;
  }
}

function readFrame(request: FastifyRequest, path: string): ReportFrame {
  const ledger = ledgerOf(request);
  const typed = queryOf(request);
  const { filter, problems } = readFilter(ledger, typed);
  const sold = soldBetween(ledger.db);
  return {
    path,
    state: { typed, problems },
    filter,
    grades: listGrades(ledger.db),
    yards: listYards(ledger.db),
    months: sold === undefined ? [] : (periodsBetween(sold.first, sold.newest, 'month') as Month[]).reverse(),
    usualMonths: USUAL_MONTHS,
  };
}

const periodsOf = ({ from, to, by }: ReportFilter): string[] =>
  from === null || to === null ? [] : periodsBetween(from, to, by);

const pagesOf = (rows: readonly unknown[]): number => Math.max(1, Math.ceil(rows.length / ROWS_PER_PAGE));

/** The page that the address asks for, or the last one of the longest table. */
const pageWithin = (typed: Typed, ...tables: readonly (readonly unknown[])[]): number =>
  Math.min(pageNumber(typed), Math.max(...tables.map(pagesOf)));

const pageOf = <Row>(rows: readonly Row[], page: number): RowPage<Row> => ({
  rows: rows.slice((page - 1) * ROWS_PER_PAGE, page * ROWS_PER_PAGE),
  page,
  pages: pagesOf(rows),
});

/** The rows newest period first, each period without a sale in its place. */
function withGaps<Row extends { period: string | null }>(
  rows: readonly Row[],
  periods: readonly string[],
): (Row | Gap)[] {
  return [...periods].reverse().flatMap((period): (Row | Gap)[] => {
    const own = rows.filter((row) => row.period === period);
    return own.length === 0 ? [{ period, isGap: true }] : own;
  });
}

/** The rows newest period first; within a period they keep their order. */
const newestFirst = <Row extends { period: string | null }>(rows: readonly Row[]): Row[] =>
  [...rows].sort((a, b) => ((a.period ?? '') < (b.period ?? '') ? 1 : (a.period ?? '') > (b.period ?? '') ? -1 : 0));

function readRealisedPrices({ db, settings }: Ledger, frame: ReportFrame): RealisedPricesPage {
  const { filter, state } = frame;
  const rows = statusOf(frame) === 200 ? realisedPriceRows(db, settings, filter) : [];
  const overall = realisedPricesOverall(rows.length === 0 ? [] : saleMonths(db, filter), filter, settings);
  const periods = periodsOf(filter);
  const lines = filter.gradeId === null ? newestFirst(rows) : withGaps(rows, periods);
  const page = pageWithin(state.typed, overall, lines);
  return {
    ...frame,
    periods,
    rows,
    overall,
    overallPage: pageOf(overall, page),
    periodPage: pageOf(lines, page),
  };
}

function readShrinkage({ db, settings }: Ledger, frame: ReportFrame): ShrinkagePage {
  const { filter, state } = frame;
  const isRead = statusOf(frame) === 200;
  const months = isRead ? saleMonths(db, filter) : [];
  const isChosen = filter.gradeId !== null || filter.yardId !== null;
  const byPeriod = isChosen ? shrinkageByPeriod(months, filter, settings) : [];
  const periods = periodsOf(filter);
  const byGrade = isRead ? shrinkageRows(db, settings, filter) : [];
  const lines = byPeriod.length === 0 ? [] : withGaps(byPeriod, periods);
  const page = pageWithin(state.typed, byGrade, lines);
  return {
    ...frame,
    periods,
    byGrade,
    gradePage: pageOf(byGrade, page),
    overall: shrinkageOverall(months, filter, settings),
    byPeriod,
    periodPage: pageOf(lines, page),
    outlook: isRead ? readOutlook(db, frame) : null,
  };
}

/** What to reckon with next time, at the yard that was chosen or at each; only for one grade. */
function readOutlook(db: Db, { filter, yards }: ReportFrame): Outlook | null {
  const { gradeId, yardId } = filter;
  const { from, to } = planningMonths(db);
  if (gradeId === null || from === null || to === null) return null;
  const sums = shrinkageSums(db, { from, to });
  const salesHere = (id: number) => sums.find((row) => row.yardId === id && row.gradeId === gradeId)?.sales ?? 0;
  const asked = yards.filter(({ id }) => yardId === null || id === yardId);
  return {
    from,
    to,
    yards: asked.flatMap(({ id, name }) => {
      const expected = expectedShrinkage(sums, { yardId: id, gradeId });
      return expected === null ? [] : [{ name, expected, salesHere: salesHere(id) }];
    }),
  };
}

function readReports(ledger: Ledger): ReportsPage {
  const { db, settings } = ledger;
  const newest = soldBetween(db)?.newest;
  if (newest === undefined) {
    return { newest: null, shrinkage: undefined, scales: null, usualMonths: USUAL_MONTHS };
  }
  const together: ReportFilter = { ...everySale, splitYards: false, to: newest };
  const usual = { ...together, from: addMonths(newest, 1 - USUAL_MONTHS) };
  return {
    newest: { month: newest, prices: realisedPriceRows(db, settings, { ...together, from: newest }) },
    shrinkage: shrinkageOverall(saleMonths(db, usual), usual, settings)[0],
    scales: readScaleReport(ledger, {}),
    usualMonths: USUAL_MONTHS,
  };
}
