import { recordQuote } from '../../prices/acts.ts';
import { enterEach, type ImportKind, readGrade, readYard } from './rows.ts';

export const quotes: ImportKind = {
  name: 'quotes',
  sentence: 'Prices that yards asked or promised, with the day they were seen.',
  columns: ['yard', 'grade', 'price', 'per', 'seen_on'],
  optional: [],
  words: ['quote', 'quotes'],
  run(job) {
    const { ledger } = job;
    enterEach(
      job,
      { seenOn: 'seen_on' },
      (reader) => ({
        yard: readYard(ledger, reader),
        grade: readGrade(ledger, reader, 'grade'),
        price: reader.price('price'),
        per: reader.priceUnit('per'),
        seenOn: reader.day('seen_on'),
      }),
      ({ yard, grade, ...quote }) =>
        recordQuote(ledger, { ...quote, yardId: yard.id, gradeId: grade.id, seenWhere: '' }),
    );
  },
};
