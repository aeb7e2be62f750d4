import type { ScaleReportPage } from '../../views/reports/scales.ts';
import type { Ledger } from '../context.ts';
import { Reader, type Typed, Unreadable } from '../reading.ts';
import { comparisonsAtYard, readKnownScales } from '../scales/comparisons.ts';
import { homeStretches, watchScales } from '../scales/whose.ts';
import { listYards, type Yard } from '../setup/queries.ts';
import { day } from '../units/day.ts';
import { addMonths, everySale, type Month, periodsBetween, type ReportFilter, USUAL_MONTHS } from './compute.ts';
import { readReportFilter } from './forms.ts';
import { soldBetween } from './queries.ts';

/** Reads what the sales say of every scale, in the months that the address asks for. */
export function readScaleReport(ledger: Ledger, typed: Typed): ScaleReportPage {
  const { db, settings } = ledger;
  const sold = soldBetween(db);
  const frame = {
    months: sold === undefined ? [] : (periodsBetween(sold.first, sold.newest, 'month') as Month[]).reverse(),
    yards: listYards(db),
    usualMonths: USUAL_MONTHS,
  };
  try {
    const { from, to, yardId } = readReportFilter(db, new Reader(typed, settings), sold);
    const filter = { ...everySale, from, to, yardId };
    return { ...frame, state: { typed, problems: {} }, filter, ...findings(ledger, frame.yards, filter) };
  } catch (error) {
    if (!(error instanceof Unreadable)) throw error;
    return { ...frame, state: { typed, problems: error.problems }, filter: everySale, ...NOTHING };
  }
}

const NOTHING = { stretches: [], watched: [], shown: [], yardsWithoutSale: [] };

function findings(ledger: Ledger, yards: readonly Yard[], { from, to, yardId }: ReportFilter) {
  if (from === null || to === null) return NOTHING;
  const scales = readKnownScales(ledger.db);
  // Every yard takes part, also where one is looked at: whose scale is off only several of them can say.
  const span = { from: day(`${from}-01`), until: day(`${addMonths(to, 1)}-01`) };
  const atYards = yards.map(({ id, name }) => ({
    name,
    sales: comparisonsAtYard(ledger, scales, { yardId: id, ...span }),
  }));
  const comparisons = atYards
    .flatMap(({ sales }) => sales)
    .sort((a, b) => (a.soldOn < b.soldOn ? -1 : a.soldOn > b.soldOn ? 1 : 0));
  const watched = watchScales(comparisons);
  return {
    stretches: homeStretches(comparisons),
    watched,
    shown: watched.filter(({ yardId: id }) => yardId === null || id === yardId),
    yardsWithoutSale: atYards.filter(({ sales }) => sales.length === 0).map(({ name }) => name),
  };
}
