import type { Insertable, Selectable } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import type { QuoteTable } from './table.ts';

export type Quote = Selectable<QuoteTable>;

const quoteColumns = [
  'quote.id',
  'quote.yard_id',
  'quote.grade_id',
  'quote.price',
  'quote.per',
  'quote.seen_on',
  'quote.seen_where',
  'quote.recorded_at',
] as const;

export const insertQuote = (db: Db, quote: Insertable<QuoteTable>): number =>
  db.run(build.insertInto('quote').values(quote)).id;

/** The price a yard quoted for a grade as of a day: the newest one seen on or before it. */
export const quoteAsOf = (db: Db, yardId: number, gradeId: number, day: Day): Quote | undefined =>
  db.maybe(
    build
      .selectFrom('quote')
      .select(quoteColumns)
      .where('grade_id', '=', gradeId)
      .where('yard_id', '=', yardId)
      .where('seen_on', '<=', day)
      .orderBy('seen_on', 'desc')
      .orderBy('id', 'desc')
      .limit(1),
  );

/**
 * The newest quote of every yard for every grade as of a day. One look into the index for each pair of yard and grade,
 * so the cost does not grow with the history of prices.
 */
export const newestQuotes = (db: Db, day: Day): Quote[] =>
  db.many(
    build
      .selectFrom('quote')
      .select(quoteColumns)
      .where('quote.id', 'in', (eb) =>
        eb
          .selectFrom('grade')
          .innerJoin('yard', (join) => join.onTrue())
          .select((pair) =>
            pair
              .selectFrom('quote as newest')
              .select('newest.id')
              .whereRef('newest.grade_id', '=', 'grade.id')
              .whereRef('newest.yard_id', '=', 'yard.id')
              .where('newest.seen_on', '<=', day)
              .orderBy('newest.seen_on', 'desc')
              .orderBy('newest.id', 'desc')
              .limit(1)
              .as('id'),
          ),
      )
      .orderBy('quote.grade_id')
      .orderBy('quote.yard_id'),
  );

/** A grade's quotes, newest first. */
export const quotesOfGrade = (db: Db, gradeId: number, count: number): Quote[] =>
  db.many(
    build
      .selectFrom('quote')
      .select(quoteColumns)
      .where('grade_id', '=', gradeId)
      .orderBy('seen_on', 'desc')
      .orderBy('id', 'desc')
      .limit(count),
  );

/** Every quote in the order it was seen, with the names that files use. */
export const allQuotes = (db: Db): (Quote & { yard_name: string; grade_name: string })[] =>
  db.many(
    build
      .selectFrom('quote')
      .innerJoin('yard', 'yard.id', 'quote.yard_id')
      .innerJoin('grade', 'grade.id', 'quote.grade_id')
      .select(quoteColumns)
      .select(['yard.name as yard_name', 'grade.name as grade_name'])
      .orderBy('quote.seen_on')
      .orderBy('quote.id'),
  );

/** The quotes seen from one day to another, to tell whether a file repeats them. */
export const quotesSeenBetween = (db: Db, from: Day, to: Day): Quote[] =>
  db.many(build.selectFrom('quote').select(quoteColumns).where('seen_on', '>=', from).where('seen_on', '<=', to));

/** The grades that have an open bin. */
export const gradeIdsWithBins = (db: Db): Set<number> => {
  const rows = db.many(build.selectFrom('bin').select('grade_id').distinct().where('closed_on', 'is', null));
  return new Set(rows.map((row) => row.grade_id));
};
