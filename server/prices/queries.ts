import { type Insertable, type Selectable, sql } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
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

/** The standing take-back of a quote: null while the quote counts. `quote` is the row's name in the query around it. */
export const takeBackOf = (quote: string) => sql<number | null>`(
  select back.id from quote_take_back as back
  left join quote_take_back_undone as again on again.quote_take_back_id = back.id
  where back.quote_id = ${sql.ref(`${quote}.id`)} and again.quote_take_back_id is null)`;

/** A quote with the names that a sentence about it needs, and the take-back that stands, if one does. */
export interface NamedQuote extends Quote {
  yard_name: string;
  grade_name: string;
  take_back_id: number | null;
}

const namedQuotes = () =>
  build
    .selectFrom('quote')
    .innerJoin('yard', 'yard.id', 'quote.yard_id')
    .innerJoin('grade', 'grade.id', 'quote.grade_id')
    .select(quoteColumns)
    .select(['yard.name as yard_name', 'grade.name as grade_name', takeBackOf('quote').as('take_back_id')]);

const quoteById = writtenOnce(() => namedQuotes().where('quote.id', '=', 0));
export const findQuote = (db: Db, id: number): NamedQuote | undefined => db.maybe(quoteById(id));

export const insertQuoteTakeBack = (db: Db, quoteId: number, now: string): void => {
  db.run(build.insertInto('quote_take_back').values({ quote_id: quoteId, recorded_at: now }));
};
export const insertQuoteTakeBackUndone = (db: Db, takeBackId: number, now: string): void => {
  db.run(build.insertInto('quote_take_back_undone').values({ quote_take_back_id: takeBackId, recorded_at: now }));
};

export const insertQuote = (db: Db, quote: Insertable<QuoteTable>): number => db.insert('quote', quote);

const quoteOnDay = writtenOnce(() =>
  build
    .selectFrom('quote')
    .select(quoteColumns)
    .where('grade_id', '=', 0)
    .where('yard_id', '=', 0)
    .where('seen_on', '<=', '' as Day)
    .where(takeBackOf('quote'), 'is', null)
    .orderBy('seen_on', 'desc')
    .orderBy('id', 'desc')
    .limit(sql.lit(1)),
);
/** The price a yard quoted for a grade as of a day: the newest one seen on or before it that was not taken back. */
export const quoteAsOf = (db: Db, yardId: number, gradeId: number, day: Day): Quote | undefined =>
  db.maybe(quoteOnDay(gradeId, yardId, day));

/**
 * The newest quote of every yard for every grade as of a day. One look into the index for each pair of yard and grade,
 * so the cost does not grow with the history of prices.
 */
export const newestQuotes = (db: Db, day: Day): Quote[] => db.many(newestAsOf(day));

const newestAsOf = writtenOnce(() =>
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
            .where('newest.seen_on', '<=', '' as Day)
            .where(takeBackOf('newest'), 'is', null)
            .orderBy('newest.seen_on', 'desc')
            .orderBy('newest.id', 'desc')
            .limit(sql.lit(1))
            .as('id'),
        ),
    )
    .orderBy('quote.grade_id')
    .orderBy('quote.yard_id'),
);

/** Some quotes of one yard for a grade, the newest first: read along the index, however long the history is. */
function newestAtYard(gradeId: number, yardId: number, { from, to }: Pick<QuoteFilter, 'from' | 'to'>, count: number) {
  let query = build
    .selectFrom('quote')
    .select(['quote.id', 'quote.seen_on'])
    .where('quote.grade_id', '=', gradeId)
    .where('quote.yard_id', '=', yardId)
    .orderBy('quote.seen_on', 'desc')
    .orderBy('quote.id', 'desc')
    .limit(count);
  if (from !== null) query = query.where('quote.seen_on', '>=', from);
  if (to !== null) query = query.where('quote.seen_on', '<=', to);
  return query;
}

/** The newest of what was found at each yard, as ids in that order. */
const newestOfAll = (found: readonly { id: number; seen_on: Day }[], { offset, count }: Page): number[] =>
  [...found]
    .sort((a, b) => (a.seen_on === b.seen_on ? b.id - a.id : a.seen_on < b.seen_on ? 1 : -1))
    .slice(offset, offset + count)
    .map(({ id }) => id);

interface Page {
  offset: number;
  count: number;
}

const everyYard = (db: Db): number[] => db.many(build.selectFrom('yard').select('id')).map(({ id }) => id);

/** A grade's quotes that count, newest first. */
export function quotesOfGrade(db: Db, gradeId: number, count: number): Quote[] {
  const found = everyYard(db).flatMap((yardId) =>
    db.many(newestAtYard(gradeId, yardId, { from: null, to: null }, count).where(takeBackOf('quote'), 'is', null)),
  );
  return db.many(
    build
      .selectFrom('quote')
      .select(quoteColumns)
      .where('quote.id', 'in', newestOfAll(found, { offset: 0, count }))
      .orderBy('seen_on', 'desc')
      .orderBy('id', 'desc'),
  );
}

export interface QuoteFilter {
  yardId: number | null;
  from: Day | null;
  to: Day | null;
}

/** A quote in a grade's history: those taken back and those written again for the same day are there too. */
export interface HistoryQuote extends NamedQuote {
  /** 1 when a later one of the same yard and day takes its place. */
  is_replaced: number;
}

const isReplaced = sql<number>`exists (select 1 from quote as newer
  where newer.grade_id = quote.grade_id and newer.yard_id = quote.yard_id and newer.seen_on = quote.seen_on
    and newer.id > quote.id and ${takeBackOf('newer')} is null)`;

/** A page of a grade's history of quotes, newest first. */
export function historyOfGrade(db: Db, gradeId: number, { yardId, ...span }: QuoteFilter, page: Page): HistoryQuote[] {
  const yardIds = yardId === null ? everyYard(db) : [yardId];
  const found = yardIds.flatMap((id) => db.many(newestAtYard(gradeId, id, span, page.offset + page.count)));
  return db.many(
    namedQuotes()
      .select(isReplaced.as('is_replaced'))
      .where('quote.id', 'in', newestOfAll(found, page))
      .orderBy('quote.seen_on', 'desc')
      .orderBy('quote.id', 'desc'),
  );
}

/** Every quote that counts in the order it was seen, with the names that files use. */
export const allQuotes = (db: Db): Iterable<NamedQuote> =>
  db.each(namedQuotes().where(takeBackOf('quote'), 'is', null).orderBy('quote.seen_on').orderBy('quote.id'));

/** The quotes seen from one day to another that count, to tell whether a file repeats them. */
export const quotesSeenBetween = (db: Db, from: Day, to: Day): Quote[] =>
  db.many(
    build
      .selectFrom('quote')
      .select(quoteColumns)
      .where('seen_on', '>=', from)
      .where('seen_on', '<=', to)
      .where(takeBackOf('quote'), 'is', null),
  );

/** The grades that have an open bin. */
export const gradeIdsWithBins = (db: Db): Set<number> => {
  const rows = db.many(build.selectFrom('bin').select('grade_id').distinct().where('closed_on', 'is', null));
  return new Set(rows.map((row) => row.grade_id));
};
