import type { Ledger } from '../context.ts';
import { removeItem } from '../items/acts.ts';
import { removeItemKind } from '../items/kind-acts.ts';
import { findItem } from '../items/queries.ts';
import { undoInWeight } from '../ledger/acts.ts';
import { letQuoteStandAgain, takeQuoteBack } from '../prices/acts.ts';
import { Refusal } from '../refusal.ts';
import { undoCheck } from '../scales/acts.ts';
import { removeBin, removeYardScale } from '../setup/acts.ts';
import { findYardScale, updateGrade } from '../setup/queries.ts';
import { removeGrade, removeScale, removeYard } from '../setup/removals.ts';
import { undoLoading } from '../tickets/acts.ts';
import { takeTicketBack } from '../tickets/take-back.ts';
import { asPart, noteEvent } from '../trail.ts';
import { type RowKind, type RowsChange, readChange, rowKinds } from './change.ts';
import { findEvent, forgetRequests, isIdGivenAgain, type TrailEvent } from './queries.ts';
import { restoreSetUp } from './restoring.ts';

/**
 * Puts back what one line of the trail says: a change of the set-up, what was added or removed there, or everything that
 * came in together, such as a file or a price board. It goes through the same acts as the forms and is refused, with a
 * sentence, where something has changed since.
 */
export function putBack(ledger: Ledger, eventId: number): void {
  ledger.db.transaction(() => {
    const event = findEvent(ledger.db, eventId);
    if (event === undefined) throw new Refusal('not_found', '', 'There is no such line in the trail.');
    const change = readChange(event.change);
    if (change === null) {
      throw new Refusal(
        'not_taken_back',
        '',
        'This cannot be put back from here. Its own page says how it is put right.',
      );
    }
    if ('rows' in change) takeRowsBack(ledger, event, change);
    else if ('quotesTakenBack' in change) letQuotesStandAgain(ledger, event, change.quotesTakenBack);
    else restoreSetUp(ledger, event, change);
  });
}

/** How one row of each kind is taken back; refused by the act itself once anything rests on it. */
const TAKE_BACK: Readonly<Record<RowKind, (ledger: Ledger, id: number) => void>> = {
  grade: removeGrade,
  item_kind: removeItemKind,
  // Items from a file have their own numbers, so there may be none between two of them.
  item: (ledger, id) => (findItem(ledger.db, id) === undefined ? undefined : removeItem(ledger, id)),
  bin: removeBin,
  yard: removeYard,
  scale: removeScale,
  quote: takeQuoteBack,
  scale_check: undoCheck,
  in_weight: (ledger, id) => undoInWeight(ledger, id, false),
  manifest: undoLoading,
  ticket: (ledger, id) => takeTicketBack(ledger, id, 'taken back with its file'),
  yard_scale(ledger, id) {
    const scale = findYardScale(ledger.db, id);
    if (scale === undefined) throw new Refusal('not_found', '', 'A further scale of it is gone already.');
    removeYardScale(ledger, scale);
  },
};

/** Takes back whole what came in together, the newest row first: all of it or, when one row has been touched, nothing. */
function takeRowsBack(ledger: Ledger, event: TrailEvent, { rows, requestKey }: RowsChange): void {
  const part = asPart(ledger);
  const quotes: number[] = [];
  for (const kind of rowKinds.toReversed()) {
    const [first, last] = rows[kind] ?? [1, 0];
    if (isIdGivenAgain(ledger.db, event.id, kind, [first, last])) throw takenBackAlready(event);
    // Grades of one list fall back to each other, so these ties are loosened first.
    if (kind === 'grade')
      for (let id = first; id <= last; id += 1) updateGrade(ledger.db, id, { falls_back_to_id: null });
    for (let id = last; id >= first; id -= 1) takeRowBack(part, event, kind, id);
    if (kind === 'quote') for (let id = first; id <= last; id += 1) quotes.push(id);
  }
  if (requestKey !== undefined) forgetRequests(ledger.db, requestKey);
  // Totals are imported after their tickets, and must be so again.
  if (rows.ticket !== undefined) forgetRequests(ledger.db, 'import-ticket-totals-%');
  const change = quotes.length === 0 ? null : { quotesTakenBack: quotes };
  noteEvent(ledger, TAKEN_BACK[event.act] ?? 'took a whole file back', event.document_kind, event.document_id, {
    detail: event.detail,
    change,
  });
}

const takenBackAlready = ({ detail }: TrailEvent): Refusal =>
  new Refusal('already_undone', '', `Some of it was removed since (${detail}). Remove the others one by one.`);

/** What the trail calls the taking back of an act; of all others it was a file. */
const TAKEN_BACK: Readonly<Record<string, string>> = {
  'wrote down a price board': 'took a price board back',
  'began with the starter list': 'took the starter list back',
  'added the starter kinds': 'took the starter kinds back',
};

function takeRowBack(part: Ledger, event: TrailEvent, kind: RowKind, id: number): void {
  try {
    TAKE_BACK[kind](part, id);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    const why = error.code === 'bin_below_zero' ? 'Material of it has left its bin since.' : error.message;
    throw new Refusal(error.code, '', `It cannot be taken back whole (${event.detail}). ${why}`);
  }
}

function letQuotesStandAgain(ledger: Ledger, event: TrailEvent, quotes: readonly number[]): void {
  for (const id of quotes) letQuoteStandAgain(asPart(ledger), id);
  noteEvent(ledger, 'let a price board count again', event.document_kind, event.document_id, { detail: event.detail });
}
