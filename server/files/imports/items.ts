import type { Ledger } from '../../context.ts';
import type { Db } from '../../db/database.ts';
import { type ItemEnd, type ItemInput, type ItemOfFile, pickUp } from '../../items/acts.ts';
import { depths, itemStatuses, numberOfItem } from '../../items/compute.ts';
import { readDisposal, readSaid } from '../../items/forms.ts';
import { findItemKindByName } from '../../items/kind-queries.ts';
import { highestItem } from '../../items/queries.ts';
import type { Reader } from '../../reading.ts';
import { shortly } from '../compute.ts';
import { askedOnce, asTyped, enterEach, type ImportKind, readAsForm, refuseRepeats } from './rows.ts';

/** The field of the form for each column that is read as there. */
const FIELDS = {
  picked_up_on: 'pickedUpOn',
  got: 'got',
  source: 'source',
  proof: 'proof',
  cost: 'cost',
  weight: 'weight',
  unit: 'unit',
  name: 'name',
  note: 'note',
};

/** The kind of an item; the same few stand on every row. */
type FindKind = (db: Db, name: string) => { id: number } | undefined;

/** Numbers have so many digits at most: they are written on things by hand. */
const LARGEST_NUMBER = 999_999_999;

/**
 * The number of an item, null for the next one. It has to be above those that were given before: a number that was
 * removed may still be written on something.
 */
function readNumber(reader: Reader, highest: number): number | null {
  const text = reader.raw('item');
  if (text === '') return null;
  const number = numberOfItem(text);
  if (number === null || number === 0 || number > LARGEST_NUMBER) {
    reader.problem('item', 'Write the number of the item, like 12, or leave this empty for the next one.');
  } else if (number <= highest) {
    const say = `Items up to ${highest} are in the ledger already. Leave this empty for the next number, or write one above.`;
    reader.problem('item', say);
  }
  return number;
}

/** How the item ended; nothing is said of one that waits. */
function readEnd(reader: Reader): ItemEnd | null {
  const text = reader.raw('status');
  const status = text === '' ? 'waiting' : reader.choice('status', itemStatuses, 'what became of it');
  const depth = reader.raw('depth') === '' ? '' : reader.choice('depth', depths, 'how far it was taken apart');
  const disposalMinor = readDisposal(reader);
  if (depth !== '' && status !== 'taken apart') {
    reader.problem('depth', 'Leave this empty for an item that was not taken apart.');
  }
  if (status !== 'waiting') return { status, depth, closedOn: reader.day('closed_on'), disposalMinor };
  if (reader.raw('closed_on') !== '')
    reader.problem('closed_on', 'An item that waits has not ended. Leave this empty.');
  if (disposalMinor > 0) reader.problem('disposal', 'An item that waits was not thrown away. Leave this empty.');
  return null;
}

function readRow({ db }: Ledger, reader: Reader, { findKind, highest }: { findKind: FindKind; highest: number }) {
  const number = readNumber(reader, highest);
  const name = reader.text('kind', 'a kind', { required: true });
  const kind = name === '' ? undefined : findKind(db, name);
  if (name !== '' && kind === undefined) {
    reader.problem('kind', `There is no kind ${shortly(name)} in the ledger. Add it first.`);
  }
  if (reader.raw('weight') !== '') reader.massUnit('unit');
  const said = readAsForm(reader, FIELDS, readSaid);
  const input: ItemInput = { ...said, kindId: kind?.id ?? 0 };
  const ofFile: ItemOfFile = { number, end: readEnd(reader) };
  return { input, ofFile };
}

export const items: ImportKind = {
  name: 'items',
  sentence:
    'What was picked up. The column item is the number; it is kept in an empty ledger, and may be left empty for the ' +
    'next one. Kinds come before, as item-kinds.',
  columns: [
    'item',
    'kind',
    'picked_up_on',
    'got',
    'source',
    'proof',
    'cost',
    'weight',
    'unit',
    'name',
    'note',
    'status',
    'depth',
    'closed_on',
    'disposal',
  ],
  optional: [
    'item',
    'source',
    'proof',
    'cost',
    'weight',
    'unit',
    'name',
    'note',
    'status',
    'depth',
    'closed_on',
    'disposal',
  ],
  words: ['item', 'items'],
  run(job) {
    const { ledger } = job;
    const mark = ledger.settings.decimalMark;
    const known = { findKind: askedOnce(findItemKindByName), highest: highestItem(ledger.db) };
    refuseRepeats(job.rows, 'item');
    enterEach(
      job,
      { pickedUpOn: 'picked_up_on', closedOn: 'closed_on' },
      (reader) => readRow(ledger, reader, known),
      ({ input, ofFile }) => {
        const weight = input.weight === null ? null : { ...input.weight, typed: asTyped(input.weight.typed, mark) };
        pickUp(ledger, { ...input, weight }, ofFile);
      },
    );
  },
};
