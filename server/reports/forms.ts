import type { Db } from '../db/database.ts';
import type { Reader } from '../reading.ts';
import { findGrade, findYard } from '../setup/queries.ts';
import {
  addMonths,
  type Month,
  type PeriodLength,
  periodLengths,
  type ReportFilter,
  readMonth,
  startOfPeriod,
  USUAL_MONTHS,
} from './compute.ts';

/** A choice of the list, or null for all of them ('' or "all" in the address). */
function idOrAll(reader: Reader, field: string): number | null {
  return reader.raw(field).toLowerCase() === 'all' ? null : reader.id(field);
}

const monthOrNull = (reader: Reader, field: string): Month | null =>
  reader.raw(field) === '' ? null : reader.take(field, readMonth(reader.raw(field)));

type Sold = { first: Month; newest: Month } | undefined;

/** The first month of a report that names none: the usual number of months before its last one. */
function usualStart(to: Month, by: PeriodLength, sold: { first: Month }): Month {
  // A year of which nine months are left out would be taken for a whole one.
  const usual = startOfPeriod(addMonths(to, 1 - USUAL_MONTHS), by);
  // A report that begins before the first sale would begin with a long gap.
  return usual < sold.first && sold.first <= to ? sold.first : usual;
}

/**
 * Reads a report's filter from its address: by, grade, yard, split, from, to, unit. What is left out is by month, all
 * grades, all yards together, the last 24 months up to the newest sale.
 * @param sold the months between which there were sales, for what the address leaves out
 */
export function readReportFilter(db: Db, reader: Reader, sold: Sold): ReportFilter {
  const by = reader.raw('by') === '' ? 'month' : reader.choice('by', periodLengths, 'one of these');
  const gradeId = idOrAll(reader, 'grade');
  if (gradeId !== null && findGrade(db, gradeId) === undefined) {
    reader.problem('grade', 'There is no such grade. Choose one from the list.');
  }
  const yardId = idOrAll(reader, 'yard');
  if (yardId !== null && findYard(db, yardId) === undefined) {
    reader.problem('yard', 'There is no such yard. Choose one from the list.');
  }
  const split = reader.raw('split') === '' ? 'no' : reader.choice('split', ['yard', 'no'], 'one of these');
  const unit = reader.raw('unit') === '' ? null : reader.massUnit('unit');
  const from = monthOrNull(reader, 'from');
  const to = monthOrNull(reader, 'to') ?? sold?.newest ?? null;
  if (from && to && from > to) reader.problem('from', 'The first month cannot be after the last one.');
  reader.done();
  const start = from ?? (to === null || sold === undefined ? null : usualStart(to, by, sold));
  return { by, gradeId, yardId, splitYards: split === 'yard', from: start, to, unit };
}
