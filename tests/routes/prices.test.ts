import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import type { PriceUnit } from '../../server/prices/compute.ts';
import { quoteAsOf, quotesOfGrade } from '../../server/prices/queries.ts';
import { bestQuotes, type QuotedPrice, spreadDays, standingPrices } from '../../server/prices/standing.ts';
import { addGrades, nameGradesAtYard } from '../../server/setup/acts.ts';
import { day } from '../../server/units/day.ts';
import {
  get as getFrom,
  gradeId,
  newApp,
  newLedger,
  newYard,
  post as postTo,
  setUpWorkedExample,
  TODAY,
} from '../helper.ts';

let ledger: Ledger;
let app: FastifyInstance;
let north: number;
let south: number;
let copper: number;
let steel: number;

beforeEach(async () => {
  ledger = newLedger();
  north = setUpWorkedExample(ledger).yardId;
  south = newYard(ledger, 'Demo Yard South');
  copper = gradeId(ledger, 'No. 2 copper');
  steel = gradeId(ledger, 'Shreddable steel');
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

type Fields = Record<string, string>;
const get = (url: string) => getFrom(app, url);
const post = (fields: Fields, url = '/prices/boards') => postTo(app, url, fields);
const board = (): Fields => ({
  yard: String(north),
  seenOn: '2025-03-15',
  seenWhere: 'the board',
  [`price-${copper}`]: '3.60',
  [`per-${copper}`]: 'lb',
  [`price-${steel}`]: '190',
  [`per-${steel}`]: 'net ton',
});
const quote = (yardId: number, price: string, on: string, per: PriceUnit = 'lb', of = copper): number =>
  recordQuote(ledger, { yardId, gradeId: of, price, per, seenOn: day(on), seenWhere: '' });
const countQuotes = (): number =>
  [copper, steel].reduce((sum, id) => sum + quotesOfGrade(ledger.db, id, 1000).length, 0);
/** The part of a page about one grade. */
const lineOf = (body: string, name: string): string =>
  body.split('class="price-line"').find((part) => part.includes(`>${name}</a>`)) ?? '';

describe('the price board', () => {
  test('writes every typed price down in one go, and says how many', async () => {
    const { statusCode, headers } = await post(board());
    expect(statusCode).toBe(303);
    expect(quoteAsOf(ledger.db, north, copper, TODAY)).toMatchObject({
      price: '3.60',
      per: 'lb',
      seen_on: '2025-03-15',
      seen_where: 'the board',
    });
    expect(quoteAsOf(ledger.db, north, steel, TODAY)).toMatchObject({ price: '190', per: 'net ton' });
    expect((await get(headers.location ?? '')).body).toContain('2 prices of Demo Yard North are written down.');
  });

  test('a price far from the last one is asked about, with units and other yards in mind, and ticked it goes in', async () => {
    quote(south, '3.50', '2025-03-01');
    quote(north, '190', '2025-03-01', 'net ton', steel);
    const slip = { ...board(), [`price-${copper}`]: '360', [`price-${steel}`]: '0.095', [`per-${steel}`]: 'lb' };
    const asked = await post({ ...slip, requestKey: 'board-slip-1' });
    expect(asked.statusCode).toBe(422);
    expect(asked.body).toContain('No. 2 copper: the last quote was $3.50 per lb.');
    expect(asked.body).not.toContain('Shreddable steel: the last quote');
    expect(asked.body).toContain('name="confirm"');
    expect(countQuotes()).toBe(2);
    expect((await post({ ...slip, confirm: '1', requestKey: 'board-slip-2' })).statusCode).toBe(303);
    expect(countQuotes()).toBe(4);
  });

  test('a grade without a price is not on the board, and nothing is stored for it', async () => {
    await post({ ...board(), [`price-${steel}`]: '  ' });
    expect(quotesOfGrade(ledger.db, steel, 10)).toEqual([]);
    expect(countQuotes()).toBe(1);
  });

  test('one price that cannot be read stops the whole board, and all that was typed comes back', async () => {
    const { statusCode, body } = await post({ ...board(), [`price-${steel}`]: '1,2,3' });
    expect(statusCode).toBe(422);
    expect(body).toContain('Shreddable steel: This price can be understood in more than one way.');
    expect(body).toContain(`id="f-price-${steel}-problem"`);
    expect(body).toMatch(new RegExp(`name="price-${copper}" value="3.60"`));
    expect(body).toContain('value="the board"');
    expect(countQuotes()).toBe(0);
  });

  test('a board without a price is refused', async () => {
    const { statusCode, body } = await post({ ...board(), [`price-${copper}`]: '', [`price-${steel}`]: '' });
    expect(statusCode).toBe(422);
    expect(body).toContain('Type at least one price.');
  });

  test('the same board sent twice is written down once', async () => {
    const form = { ...board(), requestKey: 'board-key-1' };
    const first = await post(form);
    const second = await post(form);
    expect(second.statusCode).toBe(303);
    expect(second.headers.location).toBe(first.headers.location);
    expect(countQuotes()).toBe(2);
  });

  const LONG = '9'.repeat(10_000);
  const bad: [string, () => string, string[]][] = [
    ['a price', () => `price-${copper}`, ['NaN', '1e309', '-5', '1,2,3', '１２', '0.1234567', '1000000.01', LONG]],
    ['its unit', () => `per-${copper}`, ['', 'ton', 'furlong', LONG]],
    ['the day', () => 'seenOn', ['', '2025-02-30', '15/03/2025', '2025-03-21', '１２', LONG]],
    ['the yard', () => 'yard', ['', '9999', 'x', '-1', LONG]],
    ['where', () => 'seenWhere', [LONG]],
  ];
  test.each(
    bad.flatMap(([what, field, texts]) => texts.map((text) => ({ what, field, text, shown: text.slice(0, 20) }))),
  )('$what $shown is refused beside its field', async ({ field, text }) => {
    const { statusCode, body } = await post({ ...board(), [field()]: text });
    expect(statusCode).toBe(422);
    expect(body).toContain(`id="f-${field()}-problem"`);
    expect(body).toContain(text.slice(0, 40));
    expect(body).toMatch(new RegExp(`name="price-${steel}" value="190"`));
    expect(countQuotes()).toBe(0);
  });

  test('a price for a grade that is not there stops the board', async () => {
    const { statusCode, body } = await post({ ...board(), 'price-9999': '1', 'per-9999': 'lb' });
    expect(statusCode).toBe(422);
    expect(body).toContain('is not in this ledger');
    expect(countQuotes()).toBe(0);
  });

  test('an empty post is refused, not a fault', async () => {
    expect((await post({})).statusCode).toBe(422);
  });

  test('opens with today, the unit last quoted in, the last price as a hint, and the yard’s own name', async () => {
    quote(north, '7.90', '2025-03-01', 'kg');
    nameGradesAtYard(ledger, north, new Map([[copper, '#2 Cu']]));
    const { body } = await get(`/prices/board?yard=${north}`);
    expect(body).toContain(`value="${TODAY}"`);
    expect(body).toContain('They say #2 Cu. Last $7.90 per kg, 1 Mar 2025.');
    const copperUnit = body.split(`name="per-${copper}"`)[1]?.split('</select>')[0] ?? '';
    const steelUnit = body.split(`name="per-${steel}"`)[1]?.split('</select>')[0] ?? '';
    expect(copperUnit).toContain('value="kg" selected');
    expect(steelUnit).toContain('value="net ton" selected');
    expect(body).toMatch(new RegExp(`name="price-${copper}" value=""`));
  });

  test('grades with a bin come first, the others are folded away', async () => {
    const { body } = await get(`/prices/board?yard=${north}`);
    const [before = '', after = ''] = body.split('Other grades');
    expect(before).toContain('Shreddable steel');
    expect(before).not.toContain('Light copper');
    expect(after).toContain('Light copper');
  });

  test('asks which yard when there are several, and finds the only one by itself', async () => {
    expect((await get('/prices/board')).body).toContain('Of which yard?');
    expect((await get('/prices/board?yard=9999')).statusCode).toBe(404);
    const other = newLedger();
    setUpWorkedExample(other);
    const otherApp = await newApp(other.db);
    const { body } = await otherApp.inject({ method: 'GET', url: '/prices/board', headers: { host: '127.0.0.1' } });
    expect(body).toContain('Price board of Demo Yard North');
    await otherApp.close();
  });

  test('never has more than 200 rows', async () => {
    addManyGrades(300);
    const { body } = await get(`/prices/board?yard=${north}`);
    expect(body.match(/class="board-row"/g)).toHaveLength(200);
    expect(body).toContain('105 more grades do not fit');
  });
});

function addManyGrades(count: number): void {
  addGrades(
    ledger,
    Array.from({ length: count }, (_, index) => ({
      name: `Grade ${index}`,
      family: 'electronics' as const,
      quoted_per: 'lb' as const,
      code: '',
      recognise: '',
      spoiled_by: '',
      fallsBackTo: null,
    })),
  );
}

describe('the prices', () => {
  test('show each yard’s newest quote, the best by its word, whatever the unit', async () => {
    quote(north, '3.40', '2025-03-01');
    quote(north, '3.60', '2025-03-15');
    // 8.00 per kg is 3.6287 per lb (1 lb = 0.45359237 kg exactly, NIST Handbook 44 Appendix C).
    quote(south, '8.00', '2025-03-18', 'kg');
    const line = lineOf((await get('/prices')).body, 'No. 2 copper');
    expect(line).not.toContain('$3.40');
    expect(line).toContain('15 Mar 2025, 5 days ago');
    expect(line).toContain('($3.6287 per lb)');
    expect(line.match(/class="best"/g)).toHaveLength(1);
    expect(line.indexOf('best')).toBeGreaterThan(line.indexOf('$8.00 per kg'));
  });

  test('say stale in words once a quote is older than the ledger’s days', async () => {
    quote(north, '3.60', '2025-03-06');
    expect(lineOf((await get('/prices')).body, 'No. 2 copper')).not.toContain('stale');
    quote(south, '3.50', '2025-03-05');
    expect(lineOf((await get('/prices')).body, 'No. 2 copper').match(/>stale</g)).toHaveLength(1);
  });

  test('leave out grades with neither bin nor quote, unless all are asked for', async () => {
    const { body } = await get('/prices');
    expect(body).toContain('Shreddable steel');
    expect(body).not.toContain('Light copper');
    expect(body).toContain('One more grade has neither a bin nor a price.');
    expect((await get('/prices?all=1')).body).toContain('Light copper');
    quote(north, '3.10', '2025-03-15', 'lb', gradeId(ledger, 'Light copper'));
    expect((await get('/prices')).body).toContain('Light copper');
  });

  test('come in pages', async () => {
    addManyGrades(150);
    const first = await get('/prices?all=1');
    expect(first.body.match(/class="price-line"/g)).toHaveLength(100);
    expect(first.body).toContain('/prices?all=1&amp;page=2');
    expect((await get('/prices?all=1&page=2')).body.match(/class="price-line"/g)).toHaveLength(55);
  });

  test('an address cannot put words of its own on the page', async () => {
    expect((await get('/prices?yard=1&written=free+beer')).body).not.toContain('free beer');
  });
});

describe('the history of a grade', () => {
  test('shows each yard’s quote as it stood on a day', async () => {
    quote(north, '3.40', '2025-01-10');
    quote(north, '3.60', '2025-03-15');
    quote(south, '3.55', '2025-02-20');
    const then = (await get(`/prices/grades/${copper}?on=2025-02-01`)).body.split('<figure')[0] ?? '';
    expect(then).toContain('As it stood on 1 Feb 2025');
    expect(then).toContain('$3.40 per lb');
    expect(then).toContain('22 days old');
    expect(then).not.toContain('$3.60');
    expect(then).not.toContain('$3.55');
    expect((await get(`/prices/grades/${copper}?on=2025-01-09`)).body).toContain('No price was known by then.');
  });

  test('a price written again for the same day counts, and the first stays to be seen', async () => {
    quote(north, '36', '2025-03-15');
    quote(north, '3.60', '2025-03-15');
    expect(quoteAsOf(ledger.db, north, copper, TODAY)?.price).toBe('3.60');
    const { body } = await get(`/prices/grades/${copper}`);
    expect(body.split('<figure')[0]).toContain('$3.60 per lb');
    expect(body).toContain('<s>$36.00 per lb</s>');
    expect(body).toContain('written again for this day');
    expect(() => ledger.db.sqlite.exec("UPDATE quote SET price = '1'")).toThrow('append-only');
    expect(() => ledger.db.sqlite.exec('DELETE FROM quote')).toThrow('append-only');
  });

  test.each(['2025-02-30', 'yesterday', '１２', '', 'x'.repeat(200)])(
    'day %s is refused beside its field',
    async (on) => {
      quote(north, '3.60', '2025-03-15');
      const { statusCode, body } = await get(`/prices/grades/${copper}?on=${encodeURIComponent(on)}`);
      expect(statusCode).toBe(422);
      expect(body).toContain('id="f-on-problem"');
      expect(body).toContain('$3.60 per lb');
    },
  );

  test('prices by the piece stand in the table and are not drawn', async () => {
    quote(north, '5', '2025-03-01', 'each');
    const onlyPieces = await get(`/prices/grades/${copper}`);
    expect(onlyPieces.body).toContain('$5.00 each');
    expect(onlyPieces.body).not.toContain('<figure');
    quote(south, '3.60', '2025-03-01');
    const { body } = await get(`/prices/grades/${copper}`);
    expect(body).toContain('<figure');
    expect(body.split('chart-legend')[1]?.split('</ul>')[0]).not.toContain('Demo Yard North');
    expect(body).not.toContain('class="best"');
  });

  test('has a hundred rows on a page, and the next ones with the filter kept', async () => {
    for (let index = 0; index < 110; index++) quote(north, `3.${index}`, '2025-03-01');
    quote(south, '3', '2025-03-02');
    const rows = (body: string) => body.match(/<td class="day" data-label="Seen">/g)?.length;
    const first = await get(`/prices/grades/${copper}?yard=${north}`);
    expect(rows(first.body)).toBe(100);
    expect(first.body).toContain(`href="/prices/grades/${copper}?yard=${north}&amp;page=2"`);
    expect(rows((await get(`/prices/grades/${copper}?yard=${north}&page=2`)).body)).toBe(10);
    expect(rows((await get(`/prices/grades/${copper}?from=2025-03-02`)).body)).toBe(1);
    expect((await get(`/prices/grades/${copper}?to=2025-02-01`)).body).toContain('No quote fits this filter.');
  });

  test('a price that is taken back counts nowhere, and counts again when that is undone', async () => {
    quote(north, '3.40', '2025-03-01');
    const id = quote(north, '36', '2025-03-15');
    const standing = () => quoteAsOf(ledger.db, north, copper, TODAY)?.price;
    expect((await post({}, `/quotes/${id}/take-backs`)).statusCode).toBe(303);
    expect(standing()).toBe('3.40');
    const { body } = await get(`/prices/grades/${copper}`);
    expect(body).toContain('<s>$36.00 per lb</s> <small>taken back</small>');
    expect(body.split('id="quotes"')[0]).not.toContain('$36.00');
    expect((await get('/prices')).body).not.toContain('$36.00');
    const again = await post({}, `/quotes/${id}/take-backs`);
    expect([again.statusCode, again.body.includes('This price was already taken back.')]).toEqual([422, true]);
    expect((await post({}, `/quotes/${id}/take-backs/undo`)).statusCode).toBe(303);
    expect(standing()).toBe('36');
    expect((await post({}, `/quotes/${id}/take-backs/undo`)).body).toContain('This price counts already.');
  });

  test('a whole board is taken back from the page it led to, and let count again from the trail', async () => {
    quote(north, '3.40', '2025-03-01');
    const led = (await post(board())).headers.location ?? '';
    const trail = new URL(led, 'http://x').searchParams.get('trail') ?? '';
    expect((await get(led)).body).toContain(`action="/trail/${trail}/put-back"`);
    expect((await post({}, `/trail/${trail}/put-back`)).statusCode).toBe(303);
    expect(quoteAsOf(ledger.db, north, copper, TODAY)?.price).toBe('3.40');
    expect(quoteAsOf(ledger.db, north, steel, TODAY)).toBeUndefined();
    const undo =
      /action="(\/trail\/\d+\/put-back)"[\s\S]*?Let them count again/.exec((await get('/trail')).body)?.[1] ?? '';
    expect((await post({}, undo)).statusCode).toBe(303);
    expect(quoteAsOf(ledger.db, north, copper, TODAY)?.price).toBe('3.60');
  });

  test('without a quote it leads to the price board', async () => {
    expect((await get(`/prices/grades/${copper}`)).body).toContain('No yard’s price for it is written down yet.');
  });

  test.each(['9999', 'x', '0'])('grade %s is not found', async (id) => {
    expect((await get(`/prices/grades/${id}`)).statusCode).toBe(404);
  });
});

describe('how prices stand', () => {
  const at = (id: number, yardId: number, price: string, on: string, per: PriceUnit = 'lb'): QuotedPrice => ({
    id,
    yard_id: yardId,
    price,
    per,
    seen_on: day(on),
  });

  test('a price alone is not the best of any, equal ones both are', () => {
    expect(bestQuotes([at(1, 1, '3.60', '2025-03-01')])).toEqual(new Set());
    // 190 per net ton of 2000 lb is exactly 0.095 per lb.
    const equal = [at(1, 1, '190', '2025-03-01', 'net ton'), at(2, 2, '0.095', '2025-03-01')];
    expect(bestQuotes(equal)).toEqual(new Set([1, 2]));
  });

  test('prices per piece are compared only among themselves', () => {
    const pieces = [at(1, 1, '5', '2025-03-01', 'each'), at(2, 2, '6', '2025-03-01', 'each')];
    expect(bestQuotes(pieces)).toEqual(new Set([2]));
    expect(bestQuotes([...pieces, at(3, 3, '0.1', '2025-03-01')])).toEqual(new Set());
  });

  test('a quote stands until the next one, and there is none before the first', () => {
    const days = ['2025-03-01', '2025-03-02', '2025-03-03', '2025-03-04'].map(day);
    const quotes = [at(1, 1, '3', '2025-03-02'), at(2, 1, '9', '2025-03-04', 'each'), at(3, 1, '4', '2025-03-04')];
    const standing = standingPrices(quotes, days, 'lb');
    expect(standing.map(({ price }) => price)).toEqual([null, '3', '3', '4']);
    expect(standing.map(({ isSeen }) => isSeen)).toEqual([false, true, false, true]);
  });

  test('days are spread evenly, end today, and reach back to the first quote', () => {
    expect(spreadDays(day('2025-03-18'), day('2025-03-20'))).toEqual(['2025-03-18', '2025-03-19', '2025-03-20']);
    expect(spreadDays(TODAY, TODAY)).toEqual([TODAY]);
    const years = spreadDays(day('2020-01-01'), TODAY);
    expect(years.length).toBeLessThanOrEqual(121);
    expect(years.at(-1)).toBe(TODAY);
    expect((years[0] ?? '') <= '2020-01-01').toBe(true);
  });
});
