import type { Ledger } from '../../context.ts';
import { recordQuote } from '../../prices/acts.ts';
import { quotesSeenBetween } from '../../prices/queries.ts';
import type { Reader } from '../../reading.ts';
import { writeDay } from '../../units/day.ts';
import { Decimal } from '../../units/decimal.ts';
import { daysSpanned, noteRepeats, type Repeat } from './repeats.ts';
import { enterEach, type ImportJob, type ImportKind, readGrade, readYard } from './rows.ts';

const readRow = (ledger: Ledger, reader: Reader) => ({
  yard: readYard(ledger, reader),
  grade: readGrade(ledger, reader, 'grade'),
  price: reader.price('price'),
  per: reader.priceUnit('per'),
  seenOn: reader.day('seen_on'),
});

type ReadQuote = ReturnType<typeof readRow>;

/** 3.6 and 3.60 are the same price. */
const keyOf = (yardId: number, gradeId: number, price: string, per: string, seenOn: string): string =>
  [yardId, gradeId, new Decimal(price).toString(), per, seenOn].join(' ');

/** Tells of a row whether its quote was in the ledger before the import, which is read at once. */
function writtenBefore({ ledger, rows }: ImportJob): (row: ReadQuote) => boolean {
  const span = daysSpanned(rows, 'seen_on');
  const quotes = span === null ? [] : quotesSeenBetween(ledger.db, span.from, span.to);
  const written = new Set(
    quotes.map((quote) => keyOf(quote.yard_id, quote.grade_id, quote.price, quote.per, quote.seen_on)),
  );
  return ({ yard, grade, price, per, seenOn }) => written.has(keyOf(yard.id, grade.id, price, per, seenOn));
}

export const quotes: ImportKind = {
  name: 'quotes',
  sentence: 'Prices that yards asked or promised, with the day they were seen.',
  columns: ['yard', 'grade', 'price', 'per', 'seen_on'],
  optional: [],
  words: ['quote', 'quotes'],
  run(job) {
    const { ledger } = job;
    const isWritten = writtenBefore(job);
    const repeats: Repeat[] = [];
    enterEach(
      job,
      { seenOn: 'seen_on' },
      (reader) => readRow(ledger, reader),
      (row, { line }) => {
        const { yard, grade, ...quote } = row;
        recordQuote(ledger, { ...quote, yardId: yard.id, gradeId: grade.id, seenWhere: '' });
        if (!isWritten(row)) return;
        const say = `The same price of ${yard.name} for ${grade.name}, seen ${writeDay(row.seenOn)}`;
        repeats.push({ line, sentence: `${say}, is in the ledger already.` });
      },
    );
    noteRepeats(job, repeats);
  },
};
