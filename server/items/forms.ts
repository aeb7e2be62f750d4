import type { Db } from '../db/database.ts';
import type { AmountMinor } from '../money/money.ts';
import { NO_MONEY } from '../money/money.ts';
import type { Reader } from '../reading.ts';
import type { Day } from '../units/day.ts';
import { readPeriod } from '../web.ts';
import type { ItemInput } from './acts.ts';
import { depths, itemStatuses, waysGot } from './compute.ts';
import { findItemKind, listItemKinds } from './kind-queries.ts';
import type { ItemFilter } from './list.ts';
import type { Item } from './queries.ts';
import type { Depth } from './table.ts';

const LONGEST_NAME = 60;

/** A pick-up as it was typed; its kind may be one that is not in the ledger yet. */
export interface ReadPickUp extends Omit<ItemInput, 'kindId'> {
  kind: { id: number } | { name: string };
}

/** Reads the form of a pick-up: what it is, what it weighs, how it came and where from. */
export function readPickUp(db: Db, reader: Reader): ReadPickUp {
  const kind = readKind(db, reader);
  return { kind, ...readSaid(reader) };
}

/** What is said of an item beside its kind, in a form or a file. */
export function readSaid(reader: Reader): Omit<ItemInput, 'kindId'> {
  const got = reader.choice('got', waysGot, 'how it came');
  const said = {
    got,
    weight: readWholeWeight(reader),
    costMinor: readCost(reader, got === 'bought'),
    source: reader.text('source', 'where it is from'),
    pickedUpOn: reader.day('pickedUpOn'),
    proof: reader.note('proof'),
    name: reader.text('name', 'a name'),
    note: reader.note('note'),
  };
  reader.done();
  return said;
}

/** The kind chosen or typed; both at once is for the person to decide. */
function readKind(db: Db, reader: Reader): ReadPickUp['kind'] {
  const id = reader.id('kind');
  const name = reader.text('newKind', 'a kind', { longest: LONGEST_NAME });
  if (id !== null && findItemKind(db, id) === undefined) reader.problem('kind', 'Choose a kind from the list.');
  if (id !== null && name !== '') {
    reader.problem('newKind', 'Choose a kind from the list or type a new one, not both.');
  }
  if (id === null && name === '') {
    // Without any kind there is no list to choose from, only the field for a new one.
    const field = listItemKinds(db).length === 0 ? 'newKind' : 'kind';
    reader.problem(field, 'Say what sort of thing it is: choose a kind, or type a new one.');
  }
  return id === null ? { name } : { id };
}

/** The weight of the whole thing; it may be left out, and be added later. */
function readWholeWeight(reader: Reader): ItemInput['weight'] {
  const unit = reader.raw('unit') === '' ? reader.settings.unit : reader.massUnit('unit');
  const weight = reader.optionalWeight('weight', { unit });
  // Less than a microgram is nothing here, and a weight of nothing none.
  if (weight?.massUg === 0) reader.problem('weight', 'A weight of zero cannot be right here. Look at the scale again.');
  return weight;
}

/** What was paid for it. Only of what was bought it must be said, be it nothing. */
function readCost(reader: Reader, isBought: boolean): AmountMinor {
  if (isBought && reader.raw('cost') === '') {
    reader.problem('cost', 'What did it cost? Enter 0 if nothing was asked for it.');
  }
  return reader.money('cost', { what: 'cost', emptyIs: NO_MONEY });
}

/** How an item ended, as its own page puts it right; nothing of it while the item waits. */
export function readEnd(
  reader: Reader,
  { status }: Item,
): { closed_on?: Day; depth?: Depth; disposal_minor?: AmountMinor } {
  if (status === 'waiting') return {};
  const end = {
    closed_on: reader.day('closedOn'),
    disposal_minor: readDisposal(reader),
    depth:
      status === 'taken apart' && reader.raw('depth') !== ''
        ? reader.choice('depth', depths, 'how far')
        : ('' as const),
  };
  reader.done();
  return end;
}

/** What it cost to throw away; nothing when it is left empty. */
export const readDisposal = (reader: Reader): AmountMinor =>
  reader.money('disposal', { what: 'cost', emptyIs: NO_MONEY });

/** What an address asks of the list; what cannot be read filters nothing and is said beside its field. */
export function readItemFilter(db: Db, reader: Reader): ItemFilter {
  const among = <T extends string>(field: string, choices: readonly T[], what: string): T | null =>
    reader.raw(field) === '' ? null : (reader.choice(field, choices, what) ?? null);
  const kindId = reader.id('kind');
  if (kindId !== null && findItemKind(db, kindId) === undefined)
    reader.problem('kind', 'There is no such kind of item.');
  return {
    text: reader.text('text', 'words'),
    kindId,
    status: among('status', itemStatuses, 'what became of it'),
    got: among('got', waysGot, 'how it came'),
    source: reader.text('source', 'where it is from'),
    ...readPeriod(reader),
  };
}
