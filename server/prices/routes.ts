import type { FastifyInstance, FastifyRequest } from 'fastify';
import { type BoardParts, boardPage, chooseYardPage } from '../../views/prices/board.ts';
import { type GradePricesParts, gradePricesPage } from '../../views/prices/grade.ts';
import { type PricesParts, pricesPage } from '../../views/prices/index.ts';
import type { Ledger } from '../context.ts';
import { groupByFamily } from '../ledger/families.ts';
import { Reader, type Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { cutToPage } from '../setup/pages.ts';
import { findGrade, findYard, type Grade, listGrades, listYards, type Yard, yardGradeNames } from '../setup/queries.ts';
import {
  idIn,
  ledgerOf,
  mustFind,
  pageOfList,
  paramId,
  queryOf,
  readPeriod,
  sendHtml,
  showOf,
  submit,
} from '../web.ts';
import { letQuoteStandAgain, recordPriceBoard, takeQuoteBack } from './acts.ts';
import { askAboutPrices, pricedGradeIds, readPriceBoard } from './forms.ts';
import {
  findQuote,
  gradeIdsWithBins,
  historyOfGrade,
  newestQuotes,
  type Quote,
  quoteAsOf,
  quotesOfGrade,
} from './queries.ts';
import { bestQuotes } from './standing.ts';

/** Nothing renders more rows than this. */
const MOST_ROWS = 200;

/** Prices: yards by grades, a whole price board at once, the history of one grade. */
export async function priceRoutes(app: FastifyInstance): Promise<void> {
  app.get('/prices', (request, reply) =>
    sendHtml(reply, pricesPage(showOf(request), readPrices(ledgerOf(request), queryOf(request)))),
  );

  app.get('/prices/board', (request, reply) => {
    const ledger = ledgerOf(request);
    const yards = listYards(ledger.db);
    const yard = yardAskedFor(ledger, yards, queryOf(request).yard ?? '');
    if (yard === null) return sendHtml(reply, chooseYardPage(showOf(request), yards));
    const parts = readBoard(ledger, yards, yard, {});
    return sendHtml(reply, boardPage(showOf(request), parts, { typed: startingBoard(ledger, parts), problems: {} }));
  });

  app.post('/prices/boards', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const quotes = readPriceBoard(ledger.db, reader);
        askAboutPrices(ledger.db, reader, quotes);
        const trail = String(recordPriceBoard(ledger, quotes));
        return `/prices?${new URLSearchParams({ yard: reader.raw('yard'), written: String(quotes.length), trail })}`;
      },
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        const yards = listYards(ledger.db);
        const id = new Reader(typed, ledger.settings).id('yard');
        const parts = readBoard(ledger, yards, (id !== null && findYard(ledger.db, id)) || null, typed);
        return boardPage(show, parts, { typed: { ...startingBoard(ledger, parts), ...typed }, problems });
      },
    }),
  );

  app.get('/prices/grades/:id', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = { ...queryOf(request), on: queryOf(request).on ?? ledger.clock.today() };
    const reader = new Reader(typed, ledger.settings);
    const parts = readGradePrices(ledger, gradeOf(request), reader);
    const status = reader.hasProblems ? 422 : 200;
    return sendHtml(reply, gradePricesPage(showOf(request), parts, { typed, problems: reader.problems }), status);
  });

  quoteRoutes(app);
}

/** Taking one price back, and letting it count again; the page is its grade's history. */
function quoteRoutes(app: FastifyInstance): void {
  for (const [path, act] of [
    ['take-backs', takeQuoteBack],
    ['take-backs/undo', letQuoteStandAgain],
  ] as const) {
    app.post(`/quotes/:id/${path}`, (request, reply) => {
      const quote = mustFind(findQuote(ledgerOf(request).db, paramId(request)), 'price');
      return submit(request, reply, {
        act(ledger) {
          act(ledger, quote.id);
          return `/prices/grades/${quote.grade_id}#quotes`;
        },
        again(show, _typed, problems) {
          const ledger = ledgerOf(request);
          const typed = { on: ledger.clock.today() };
          const grade = mustFind(findGrade(ledger.db, quote.grade_id), 'grade');
          const parts = readGradePrices(ledger, grade, new Reader(typed, ledger.settings));
          return gradePricesPage(show, parts, { typed, problems });
        },
      });
    });
  }
}

const gradeOf = (request: FastifyRequest): Grade =>
  mustFind(findGrade(ledgerOf(request).db, paramId(request)), 'grade');

/** The newest quotes, best marked, for the grades that matter here: those with a bin or a quote, or all of them. */
function readPrices({ db, clock }: Ledger, query: Typed): PricesParts {
  const all = listGrades(db);
  const quotes = newestQuotes(db, clock.today());
  const byGrade = Map.groupBy(quotes, (quote) => quote.grade_id);
  const withBins = gradeIdsWithBins(db);
  const isAll = query.all === '1';
  const grades = all.filter(({ id }) => isAll || withBins.has(id) || byGrade.has(id));
  const list = cutToPage(grades, query);
  const lines = list.rows.map((grade) => {
    const own = byGrade.get(grade.id) ?? [];
    return { grade, family: grade.family, quotes: own, best: bestQuotes(own) };
  });
  const yards = listYards(db);
  return {
    yards,
    families: groupByFamily(lines),
    list: { page: list.page, hasNext: list.hasNext },
    isAll,
    leftOut: all.length - grades.length,
    written: writtenBoard(yards, query),
    trailId: idIn(query.trail),
  };
}

/** "12 prices of Demo Yard North are written down." after a board led here. */
function writtenBoard(yards: readonly Yard[], query: Typed): string | null {
  const yard = yards.find(({ id }) => String(id) === query.yard);
  const count = query.written ?? '';
  if (yard === undefined || !/^[1-9]\d{0,3}$/.test(count)) return null;
  return count === '1'
    ? `One price of ${yard.name} is written down.`
    : `${count} prices of ${yard.name} are written down.`;
}

/** The yard in the address; without one the only yard there is, or null to choose. */
function yardAskedFor({ db }: Ledger, yards: readonly Yard[], text: string): Yard | null {
  if (text === '') return yards.length === 1 ? (yards[0] ?? null) : null;
  return mustFind(findYard(db, idIn(text)), 'yard');
}

/** The rows of a board: grades with a bin, then those this yard quoted before, then the others. */
function readBoard({ db, clock }: Ledger, yards: Yard[], yard: Yard | null, typed: Typed): BoardParts {
  const withBins = gradeIdsWithBins(db);
  const mine = yard === null ? [] : newestQuotes(db, clock.today()).filter((quote) => quote.yard_id === yard.id);
  const last = new Map(mine.map((quote) => [quote.grade_id, quote]));
  const names = yard === null ? new Map<number, string>() : yardGradeNames(db, yard.id);
  const typedIds = new Set(pricedGradeIds(typed));
  const rank = ({ id }: Grade) => (withBins.has(id) ? 0 : last.has(id) ? 1 : 2);
  const rows = listGrades(db).map((grade) => ({
    grade,
    family: grade.family,
    rank: rank(grade),
    yardName: names.get(grade.id) ?? '',
    last: last.get(grade.id) ?? null,
  }));
  // What was typed is never left out, however many grades there are.
  const shown = rows
    .toSorted((a, b) => a.rank - b.rank)
    .filter(({ grade }, index) => index < MOST_ROWS || typedIds.has(grade.id));
  return {
    yard,
    yards,
    first: shown.filter((row) => row.rank < 2),
    others: groupByFamily(shown.filter((row) => row.rank === 2)),
    leftOut: rows.length - shown.length,
  };
}

/** A board as it opens: today, each grade in the unit it was last quoted in. */
function startingBoard({ clock }: Ledger, { yard, first, others }: BoardParts): Typed {
  const typed: Record<string, string> = {
    yard: String(yard?.id ?? ''),
    seenOn: clock.today(),
    requestKey: newRequestKey(),
  };
  for (const { grade, last } of [...first, ...others.flatMap((family) => family.rows)]) {
    typed[`per-${grade.id}`] = last?.per ?? grade.quoted_per;
  }
  return typed;
}

const HISTORY_FILTERS = ['yard', 'from', 'to'] as const;

/** A grade's prices on the day asked about, and a page of its history as the address filters it. */
function readGradePrices({ db, clock }: Ledger, grade: Grade, reader: Reader): GradePricesParts {
  const yards = listYards(db);
  const quotes = quotesOfGrade(db, grade.id, MOST_ROWS);
  const read = reader.day('on');
  const on = reader.problems.on === undefined ? read : null;
  const filter = { yardId: findYard(db, reader.id('yard') ?? 0)?.id ?? null, ...readPeriod(reader) };
  const path = `/prices/grades/${grade.id}`;
  const { rows: history, addresses } = pageOfList(path, reader.typed, HISTORY_FILTERS, (offset, count) =>
    historyOfGrade(db, grade.id, filter, { offset, count }),
  );
  const asOf = yards.flatMap((yard): { yard: Yard; quote: Quote }[] => {
    const quote = on === null ? undefined : quoteAsOf(db, yard.id, grade.id, on);
    return quote === undefined ? [] : [{ yard, quote }];
  });
  return {
    grade,
    yards,
    quotes,
    history,
    ...addresses,
    on,
    isToday: on === clock.today(),
    asOf,
    best: bestQuotes(asOf.map(({ quote }) => quote)),
  };
}
