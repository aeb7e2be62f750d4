import type { Ledger } from '../context.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { Refusal } from '../refusal.ts';
import { findGrade, findYard } from '../setup/queries.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import type { PriceUnit } from './compute.ts';
import { insertQuote } from './queries.ts';

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
    return insertQuote(db, {
      yard_id: input.yardId,
      grade_id: input.gradeId,
      price: input.price,
      per: input.per,
      seen_on: input.seenOn,
      seen_where: input.seenWhere,
      recorded_at: clock.now(),
    });
  });
}

/** Writes down a whole price board at once: all of its prices or none. */
export function recordPriceBoard(ledger: Ledger, quotes: readonly QuoteInput[]): void {
  ledger.db.transaction(() => {
    for (const quote of quotes) recordQuote(ledger, quote);
    noteEvent(ledger, `wrote down ${quotes.length} prices`, 'yard', quotes[0]?.yardId ?? 0);
  });
}
