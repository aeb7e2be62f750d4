import type { Ledger } from '../../context.ts';
import { Reader, type Typed } from '../../reading.ts';
import { neutralise, writeCsv } from '../csv.ts';
import type { ExportFile } from './export.ts';
import { inWeights } from './in-weights.ts';
import { loads } from './loads.ts';
import { onHand } from './on-hand.ts';
import { reconciliation } from './reconciliation.ts';
import { realisedPrices, shrinkage } from './reports.ts';
import { scaleChecks } from './scale-checks.ts';
import { bins, grades, quotes, scales, yardScales, yards } from './setup.ts';
import { ticketLines, tickets, ticketTotals } from './tickets.ts';

/** The files that an empty ledger can be filled from again, in the order of their import. */
export const ledgerExports: readonly ExportFile[] = [
  grades,
  bins,
  yards,
  yardScales,
  scales,
  scaleChecks,
  quotes,
  inWeights,
  loads,
  ticketLines,
  ticketTotals,
];
export const reportExports: readonly ExportFile[] = [onHand, reconciliation, tickets, realisedPrices, shrinkage];

export const findExport = (name: string): ExportFile | undefined =>
  [...ledgerExports, ...reportExports].find((file) => file.name === name);

/**
 * Writes an export as the text of a CSV file.
 * @param typed `unit` for the weights, and the filters of the report's page
 * @throws Unreadable when the unit or a filter cannot be read
 */
export function writeExport(ledger: Ledger, file: ExportFile, typed: Typed): string {
  const reader = new Reader(typed, ledger.settings);
  const unit = reader.raw('unit') === '' ? null : reader.massUnit('unit');
  reader.done();
  const cellsOf = (row: Readonly<Record<string, string>>) =>
    file.columns.map((column) => {
      const cell = row[column] ?? '';
      return file.texts.includes(column) ? neutralise(cell) : cell;
    });
  // One snapshot for all rows: the bench may go on weighing in meanwhile.
  const rows = ledger.db.sqlite.transaction(() => file.rows(ledger, { unit, typed })).deferred();
  return writeCsv(file.columns, rows.map(cellsOf));
}
