import type { Ledger } from '../context.ts';
import { rowsBroughtIn } from '../history/queries.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { Refusal } from '../refusal.ts';
import { findGrade, findYard } from '../setup/queries.ts';
import { asPart, noteEvent } from '../trail.ts';
import { type Day, writeDay } from '../units/day.ts';
import { type PriceUnit, writePrice } from './compute.ts';
import { findQuote, insertQuote, insertQuoteTakeBack, insertQuoteTakeBackUndone } from './queries.ts';

export interface QuoteInput {
  yardId: number;
  gradeId: number;
  /** Digits with a point as mark. */
  price: string;
  per: PriceUnit;
  seenOn: Day;
  seenWhere: string;
}

/** Writes down one price that a yard asked or promised. Quotes are only ever added. @returns the quote's id */
export function recordQuote(ledger: Ledger, input: QuoteInput): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    if (findYard(db, input.yardId) === undefined)
      throw new Refusal('not_found', 'yard', 'Choose a yard from the list.');
    if (findGrade(db, input.gradeId) === undefined) {
      throw new Refusal('not_found', 'grade', 'Choose a grade from the list.');
    }
    refuseFuture(ledger, input.seenOn, 'seenOn');
    const id = insertQuote(db, {
      yard_id: input.yardId,
      grade_id: input.gradeId,
      price: input.price,
      per: input.per,
      seen_on: input.seenOn,
      seen_where: input.seenWhere,
      recorded_at: clock.now(),
    });
    if (!ledger.isPart) noteEvent(ledger, 'wrote down a price', 'quote', id, { detail: quoteSaid(ledger, id) });
    return id;
  });
}

/** "No. 2 copper at Demo Yard North, $3.60 per lb, seen 8 Mar 2025" */
function quoteSaid({ db, settings }: Ledger, id: number): string {
  const quote = findQuote(db, id);
  if (quote === undefined) return '';
  const price = writePrice(quote.price, quote.per, settings.currency, settings.decimalMark);
  return `${quote.grade_name} at ${quote.yard_name}, ${price}, seen ${writeDay(quote.seen_on)}`;
}

/** Takes one price back: it counts nowhere any more, the one before it stands again, and both stay in the history. */
export function takeQuoteBack(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    const quote = findQuote(ledger.db, id);
    if (quote === undefined) throw new Refusal('not_found', '', 'There is no such price.');
    if (quote.take_back_id !== null) throw new Refusal('already_undone', '', 'This price was already taken back.');
    insertQuoteTakeBack(ledger.db, id, ledger.clock.now());
    noteEvent(ledger, 'took a price back', 'quote', id, { detail: quoteSaid(ledger, id) });
  });
}

/** Lets a price count again that was taken back; what was loaded or sold meanwhile keeps the price it had. */
export function letQuoteStandAgain(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    const quote = findQuote(ledger.db, id);
    if (quote === undefined) throw new Refusal('not_found', '', 'There is no such price.');
    if (quote.take_back_id === null) throw new Refusal('not_taken_back', '', 'This price counts already.');
    insertQuoteTakeBackUndone(ledger.db, quote.take_back_id, ledger.clock.now());
    noteEvent(ledger, 'let a price count again', 'quote', id, { detail: quoteSaid(ledger, id) });
  });
}

/**
 * Writes down a whole price board at once: all of its prices or none.
 * @returns the id of its line of the trail, by which the whole board can be taken back
 */
export function recordPriceBoard(ledger: Ledger, quotes: readonly QuoteInput[]): number {
  return ledger.db.transaction(() => {
    const [rows] = rowsBroughtIn(ledger.db, () => {
      for (const quote of quotes) recordQuote(asPart(ledger), quote);
    });
    const [first] = quotes;
    const yard = first === undefined ? undefined : findYard(ledger.db, first.yardId);
    const counted = quotes.length === 1 ? 'one price' : `${quotes.length} prices`;
    const seen = first === undefined ? '' : `, seen ${writeDay(first.seenOn)}`;
    const detail = `${counted} of ${yard?.name ?? ''}${seen}`;
    const more = { detail, change: { rows } };
    return noteEvent(ledger, 'wrote down a price board', 'price_board', yard?.id ?? 0, more);
  });
}
