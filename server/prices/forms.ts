import type { Db } from '../db/database.ts';
import type { Reader, Typed } from '../reading.ts';
import { findGrade, findYard, listYards } from '../setup/queries.ts';
import { Decimal } from '../units/decimal.ts';
import type { QuoteInput } from './acts.ts';
import { convertPrice, writePrice } from './compute.ts';
import { quoteAsOf } from './queries.ts';

/** The grades whose price field holds something, in the order of the form. */
export const pricedGradeIds = (typed: Typed): number[] =>
  Object.entries(typed).flatMap(([field, text]) => {
    const id = /^price-(\d{1,15})$/.exec(field)?.[1];
    return id === undefined || text.trim() === '' ? [] : [Number.parseInt(id, 10)];
  });

/** Reads a price board: for each grade a field `price-<id>`, empty when it is not on the board, and `per-<id>`. */
export function readPriceBoard(db: Db, reader: Reader): QuoteInput[] {
  const yardId = reader.requiredId('yard', 'a yard');
  if (yardId !== undefined && findYard(db, yardId) === undefined)
    reader.problem('yard', 'Choose a yard from the list.');
  const seenOn = reader.day('seenOn');
  const seenWhere = reader.text('seenWhere', 'where it was seen');
  const gradeIds = pricedGradeIds(reader.typed);
  if (gradeIds.length === 0)
    reader.problem('', 'Type at least one price. A grade without a price is not on the board.');
  const quotes = gradeIds.map((gradeId) => readBoardLine(db, reader, gradeId));
  reader.done();
  return quotes.map((quote) => ({ yardId, seenOn, seenWhere, ...quote }));
}

function readBoardLine(db: Db, reader: Reader, gradeId: number): Pick<QuoteInput, 'gradeId' | 'price' | 'per'> {
  const grade = findGrade(db, gradeId);
  if (grade === undefined) {
    reader.problem('', 'One of the prices is for a grade that is not in this ledger. Open the board again.');
  }
  const line = { gradeId, price: reader.price(`price-${gradeId}`), per: reader.priceUnit(`per-${gradeId}`) };
  // With many prices on one page a sentence has to say which one it is about.
  for (const field of [`price-${gradeId}`, `per-${gradeId}`]) {
    const sentence = reader.problems[field];
    if (sentence !== undefined && grade !== undefined) reader.problems[field] = `${grade.name}: ${sentence}`;
  }
  return line;
}

/** A price that went up or down by more than this since the last one seen is more likely a slip than a market. */
const FAR_FROM_LAST = 3;

/**
 * Asks about prices that are far from the last quote for their grade, this yard's or else any yard's: a lost decimal
 * mark, or pounds for tons. Ticked as right they go through.
 */
export function askAboutPrices(db: Db, reader: Reader, quotes: readonly QuoteInput[]): void {
  if (reader.ticked('confirm')) return;
  const yards = listYards(db);
  for (const quote of quotes) {
    const last =
      quoteAsOf(db, quote.yardId, quote.gradeId, quote.seenOn) ??
      yards.map((yard) => quoteAsOf(db, yard.id, quote.gradeId, quote.seenOn)).find((other) => other !== undefined);
    const before = last && convertPrice({ price: new Decimal(last.price), per: last.per }, 'g');
    const now = convertPrice({ price: new Decimal(quote.price), per: quote.per }, 'g');
    if (!last || !before || !now || before.isZero() || now.isZero()) continue;
    if (now.lte(before.times(FAR_FROM_LAST)) && before.lte(now.times(FAR_FROM_LAST))) continue;
    const { currency, decimalMark } = reader.settings;
    const was = writePrice(last.price, last.per, currency, decimalMark);
    const name = findGrade(db, quote.gradeId)?.name ?? '';
    reader.problem(
      `price-${quote.gradeId}`,
      `${name}: the last quote was ${was}. Is this price typed as on the board?`,
    );
    reader.problem('confirm', 'Tick it when every price is right.');
  }
  reader.done();
}
