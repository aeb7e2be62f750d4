import type { Ledger } from '../context.ts';
import type { Db } from '../db/database.ts';
import { changeBetween, type Fields } from '../history/change.ts';
import { type AmountMinor, writeMoney } from '../money/money.ts';
import { noteEvent } from '../trail.ts';
import { findContainer, findGrade } from './queries.ts';

/** What of the set-up a line of the trail can be about, and how it is called there. */
const NOUNS = {
  grade: 'a grade',
  container: 'a container',
  scale: 'a scale',
  yard: 'a yard',
  yard_scale: 'a scale of a yard',
  bin: 'a bin',
  item_kind: 'a kind of item',
  wire_kind: 'a kind of wire',
} as const;
type SetUpKind = keyof typeof NOUNS;

/** Columns as a person calls them. What is not here is the figure behind another column and is not said twice. */
const WORDS: Readonly<Record<string, string>> = {
  name: 'name',
  code: 'code',
  family: 'family',
  quoted_per: 'quoted per',
  falls_back_to_id: 'falls back to',
  recognise: 'how to recognise it',
  spoiled_by: 'what spoils it',
  tare_typed: 'tare',
  division: 'division',
  scale_division: 'division',
  unit: 'unit',
  class: 'class',
  scale_class: 'class',
  tolerance: 'tolerance',
  capacity: 'capacity',
  cash_step_minor: 'cash rounded to',
  notes: 'notes',
  grade_id: 'sold as',
  bare_grade_id: 'its metal sold as',
  note: 'note',
  families: 'what goes over it',
  place: 'place',
  container_id: 'container',
  full_mark_typed: 'full at',
  cautions: 'cautions',
  as_is_grade_id: 'sold as is as',
  rule_minutes: 'minutes, as a rule of thumb',
  yields: 'what it gives, as a rule of thumb',
  currency: 'currency',
  decimalMark: 'decimal mark',
  staleQuoteDays: 'days until a quote is stale',
  scaleCheckDays: 'days until a scale is due for a check',
  wage: 'wage aimed at',
  wasteCost: 'cost of waste',
  wastePer: 'cost of waste per',
};

const LONGEST_SAID = 60;

/** A column's value in words. */
function valueSaid({ db, settings }: Ledger, column: string, value: Fields[string]): string {
  if (value === null || value === '' || value === undefined) return 'none';
  const id = typeof value === 'number' ? value : 0;
  if (column === 'yields') return yieldsSaid(db, String(value));
  if (['falls_back_to_id', 'as_is_grade_id', 'grade_id', 'bare_grade_id'].includes(column))
    return findGrade(db, id)?.name ?? 'a grade that is gone';
  if (column === 'container_id') return findContainer(db, id)?.name ?? 'a container that is gone';
  if (column === 'cash_step_minor') return writeMoney(id as AmountMinor, settings.currency, settings.decimalMark);
  const text = String(value);
  return text.length > LONGEST_SAID ? `${text.slice(0, LONGEST_SAID)}…` : text;
}

/** "12=40, 15=5" in words: "No. 2 copper 40 %, Shreddable steel 5 %". */
const yieldsSaid = (db: Db, text: string): string =>
  text
    .split(', ')
    .map((pair) => {
      const [gradeId = '', percent = ''] = pair.split('=');
      return `${findGrade(db, Number.parseInt(gradeId, 10))?.name ?? 'a grade that is gone'} ${percent} %`;
    })
    .join(', ');

/** "division 0.05 → 0.1, class none → III" */
const changeSaid = (ledger: Ledger, change: { before: Fields; after: Fields }): string =>
  Object.keys(change.after)
    .filter((column) => WORDS[column] !== undefined)
    .map((column) => {
      const [before, after] = [change.before[column] ?? null, change.after[column] ?? null];
      return `${WORDS[column]} ${valueSaid(ledger, column, before)} → ${valueSaid(ledger, column, after)}`;
    })
    .join(', ');

/** A row of the set-up before and after an act: without `before` it was added, without `after` removed. */
interface SetUpAct {
  kind: SetUpKind;
  id: number;
  /** The row's name or code, as it was before. */
  name: string;
  before: Fields | null;
  after: Fields | null;
}

/** Writes the line of the trail for a row that was added, changed or removed; none when nothing of it changed. */
export function noteSetUp(ledger: Ledger, { kind, id, name, before, after }: SetUpAct): void {
  const noun = NOUNS[kind];
  if (before === null || after === null) {
    noteEvent(ledger, `${before === null ? 'added' : 'removed'} ${noun}`, kind, id, {
      detail: name,
      change: { before, after },
    });
    return;
  }
  const change = changeBetween(before, after);
  if (change === null) return;
  noteEvent(ledger, `changed ${noun}`, kind, id, { detail: `${name}: ${changeSaid(ledger, change)}`, change });
}

/** The same for the settings, which are one row of their own. */
export function noteSettings(ledger: Ledger, before: Fields, after: Fields): void {
  const change = changeBetween(before, after);
  if (change === null) return;
  noteEvent(ledger, 'changed the settings', 'setting', 0, { detail: changeSaid(ledger, change), change });
}
