import type { Db } from '../db/database.ts';
import type { Reader, Typed } from '../reading.ts';
import { findGrade, findYard } from '../setup/queries.ts';
import type { QuoteInput } from './acts.ts';

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
