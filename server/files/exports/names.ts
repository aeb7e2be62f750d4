import type { Ledger } from '../../context.ts';
import { Reader, type Typed } from '../../reading.ts';
import { neutralise, writeCsvLines } from '../csv.ts';
import { earnings, itemEarnings } from './earnings.ts';
import type { ExportFile } from './export.ts';
import { inWeights } from './in-weights.ts';
import { itemKinds, items } from './items.ts';
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
  itemKinds,
  items,
  inWeights,
  loads,
  ticketLines,
  ticketTotals,
];
export const reportExports: readonly ExportFile[] = [
  onHand,
  reconciliation,
  tickets,
  realisedPrices,
  shrinkage,
  earnings,
  itemEarnings,
];

export const findExport = (name: string): ExportFile | undefined =>
  [...ledgerExports, ...reportExports].find((file) => file.name === name);

/** So many rows are written at a time: for some milliseconds' work, and a piece that is worth sending. */
const ROWS_IN_PIECE = 500;

/**
 * Writes an export as a CSV file, piece by piece. The caller sees to it that the ledger stands still meanwhile.
 * @param typed `unit` for the weights, and the filters of the report's page
 * @throws Unreadable at once when the unit or a filter cannot be read
 */
export function exportPieces(ledger: Ledger, file: ExportFile, typed: Typed): Generator<string, void, undefined> {
  const reader = new Reader(typed, ledger.settings);
  const unit = reader.raw('unit') === '' ? null : reader.massUnit('unit');
  reader.done();
  return piecesOf(file, file.rows(ledger, { unit, typed }));
}

function* piecesOf(file: ExportFile, rows: Iterable<Readonly<Record<string, string>>>) {
  const texts = new Set(file.texts);
  const cellsOf = (row: Readonly<Record<string, string>>) =>
    file.columns.map((column) => (texts.has(column) ? neutralise(row[column] ?? '') : (row[column] ?? '')));
  let piece = [[...file.columns]];
  for (const row of rows) {
    piece.push(cellsOf(row));
    if (piece.length < ROWS_IN_PIECE) continue;
    yield writeCsvLines(piece);
    piece = [];
  }
  if (piece.length > 0) yield writeCsvLines(piece);
}

/** Writes an export as one text; see exportPieces. */
export const writeExport = (ledger: Ledger, file: ExportFile, typed: Typed): string =>
  // One snapshot for all rows: the bench may go on weighing in meanwhile.
  ledger.db.sqlite.transaction(() => [...exportPieces(ledger, file, typed)].join('')).deferred();
