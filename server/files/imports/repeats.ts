import type { Day } from '../../units/day.ts';
import { readDay } from '../../units/day.ts';
import type { ImportJob, ImportRow } from './rows.ts';

/** So many repeated rows are named; the rest are counted. */
const MOST_NAMED = 5;

/** The days that a column of the file spans; null when it has none that can be read. */
export function daysSpanned(rows: readonly ImportRow[], column: string): { from: Day; to: Day } | null {
  // A file of years has few days for its rows, and most of them stand side by side.
  const days = new Set(rows.map(({ reader }) => reader.raw(column)));
  const sorted = [...days].flatMap((text) => {
    const read = readDay(text);
    return read.ok ? [read.value] : [];
  });
  sorted.sort();
  const [from, to] = [sorted[0], sorted.at(-1)];
  return from === undefined || to === undefined ? null : { from, to };
}

/** A row that says the same as the ledger does already, and what that is. */
export interface Repeat {
  readonly line: number;
  readonly sentence: string;
}

/**
 * Notes the rows that are in the ledger already. They stop nothing: two weighings of a day may well be the same, but a
 * file that was exported from this very ledger would double it.
 */
export function noteRepeats({ notes }: ImportJob, repeats: readonly Repeat[]): void {
  // One more is named as shortly as it is counted.
  const named = repeats.length === MOST_NAMED + 1 ? repeats.length : MOST_NAMED;
  for (const repeat of repeats.slice(0, named)) notes.push({ ...repeat, isRepeat: true });
  const [next, ...others] = repeats.slice(named);
  if (next === undefined) return;
  const sentence = `This row and ${others.length} more are in the ledger already, ${repeats.length} in all.`;
  notes.push({ line: next.line, sentence, isRepeat: true });
}
