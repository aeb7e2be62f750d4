import type { Ledger } from '../../context.ts';
import { Reader } from '../../reading.ts';
import { everySale, type ReportFilter, realisedPriceForFile, shrinkageForFile } from '../../reports/compute.ts';
import { readReportFilter } from '../../reports/forms.ts';
import { realisedPriceRows, shrinkageRows, soldBetween } from '../../reports/queries.ts';
import { type ExportQuery, exportFile } from './export.ts';

const FILTERS = ['by', 'grade', 'yard', 'split', 'from', 'to'];

/** The page's own filter when its address has one; otherwise every sale there was, each yard apart. */
function filterOf({ db, settings }: Ledger, { unit, typed }: ExportQuery): ReportFilter {
  if (!FILTERS.some((name) => name in typed)) return { ...everySale, unit };
  return readReportFilter(db, new Reader(typed, settings), soldBetween(db));
}

export const realisedPrices = exportFile({
  name: 'realised-prices',
  sentence: 'What was quoted, paid and really earned for each grade, month by month and yard by yard.',
  columns: [
    'period',
    'grade',
    'yard',
    'unit',
    'home',
    'paid_weight',
    'quoted_price',
    'paid_price',
    'realised_price',
    'realisation',
  ],
  texts: ['grade', 'yard'],
  rows: (ledger, query) =>
    realisedPriceRows(ledger.db, ledger.settings, filterOf(ledger, query)).map(realisedPriceForFile),
});

export const shrinkage = exportFile({
  name: 'shrinkage',
  sentence:
    'How much of the home weight was not paid for, by grade and yard, by scale or deduction, and its likely range.',
  columns: [
    'grade',
    'yard',
    'sales',
    'unit',
    'home',
    'yard_weight',
    'paid_weight',
    'scale_share',
    'deduction_share',
    'total_share',
    'low',
    'high',
  ],
  texts: ['grade', 'yard'],
  rows: (ledger, query) => shrinkageRows(ledger.db, ledger.settings, filterOf(ledger, query)).map(shrinkageForFile),
});
