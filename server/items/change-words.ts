import type { Ledger } from '../context.ts';
import type { Fields } from '../history/change.ts';
import { type AmountMinor, writeMoney } from '../money/money.ts';
import { type Day, writeDay } from '../units/day.ts';
import { findItemKind } from './kind-queries.ts';

/** Columns as a person calls them. What is not here is the figure behind another column, or said by the act itself. */
const WORDS: Readonly<Record<string, string>> = {
  item_kind_id: 'kind',
  name: 'name',
  picked_up_on: 'picked up on',
  got: 'how it came',
  source: 'where from',
  proof: 'proof',
  cost_minor: 'cost',
  weight_typed: 'weight',
  weight_unit: 'unit',
  note: 'note',
  status: 'what became of it',
  depth: 'how far it was taken apart',
  closed_on: 'ended on',
  disposal_minor: 'cost to throw away',
};

const LONGEST_SAID = 60;

function valueSaid({ db, settings }: Ledger, column: string, value: Fields[string]): string {
  if (value === null || value === '' || value === undefined) return 'none';
  if (column === 'item_kind_id') return findItemKind(db, value as number)?.name ?? 'a kind that is gone';
  if (column.endsWith('_minor')) return writeMoney(value as AmountMinor, settings.currency, settings.decimalMark);
  if (column.endsWith('_on')) return writeDay(value as Day);
  const text = String(value);
  return text.length > LONGEST_SAID ? `${text.slice(0, LONGEST_SAID)}…` : text;
}

/** "weight none → 25.4, unit none → lb" */
export const itemChangeSaid = (ledger: Ledger, { before, after }: { before: Fields; after: Fields }): string =>
  Object.keys(after)
    .filter((column) => WORDS[column] !== undefined)
    .map((column) => {
      const [was, is] = [before[column] ?? null, after[column] ?? null];
      return `${WORDS[column]} ${valueSaid(ledger, column, was)} → ${valueSaid(ledger, column, is)}`;
    })
    .join(', ');

/** "Item 12, washing machine", as a line of the trail names it. */
export const itemSaid = ({ db }: Ledger, id: number, kindId: number): string => {
  const kind = findItemKind(db, kindId);
  return `Item ${id}${kind === undefined ? '' : `, ${kind.name}`}`;
};
