import fc from 'fast-check';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { findAll } from '../../server/find/pages.ts';
import { markWords, wordsIn } from '../../server/find/words.ts';
import { recordBinTransfer, recordRecount, undoInWeight } from '../../server/ledger/acts.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { findManifest } from '../../server/manifests/queries.ts';
import { saveYard } from '../../server/setup/acts.ts';
import { findYard } from '../../server/setup/queries.ts';
import { takeTicketBack } from '../../server/tickets/take-back.ts';
import { day, readWrittenDay } from '../../server/units/day.ts';
import { binId, get, lb, newApp, newBin, newLedger, newYard, setUpWorkedExample, weighIn } from '../helper.ts';
import { sell, sellCopper } from '../sales.ts';

let ledger: Ledger;
let app: FastifyInstance;

beforeAll(async () => {
  ledger = newLedger();
  const { yardId } = setUpWorkedExample(ledger);
  const south = newYard(ledger, 'Demo Yard South');
  newBin(ledger, 'AL-3', 'Light copper');
  weighIn(ledger, 'CU2', '300', '2024-11-01', { note: 'Kühlschrank from the cellar, “heavy” one' });
  undoInWeight(ledger, weighIn(ledger, 'YB1', '7', '2025-03-05', { note: 'taps 🚰 of the kitchen' }), false);
  weighIn(ledger, 'YB1', '20', '2025-03-06');
  sellCopper(ledger, { north: yardId, south });
  sell(ledger, {
    yardId,
    number: '428',
    on: '2025-03-08',
    loads: [{ code: 'YB1', net: '5', price: '2' }],
    lines: [{ loads: [0], paidAs: 'Yellow brass', gross: '5', deduction: '0', net: '5', price: '2', amount: '10.00' }],
  });
  takeTicketBack(ledger, 4, 'paper of the neighbour');
  draftManifest(ledger, { yardId, binIds: [], note: 'run with the trailer' });
  const on = { unit: 'lb', occurredOn: day('2025-03-10') } as const;
  recordRecount(ledger, {
    ...on,
    binId: binId(ledger, 'YB1'),
    netTyped: '14',
    netUg: lb('14'),
    note: 'after the flood',
  });
  const moved = { fromBinId: binId(ledger, 'YB1'), toBinId: binId(ledger, 'YB2'), netTyped: '2', netUg: lb('2') };
  recordBinTransfer(ledger, { ...on, ...moved, note: 'plated pieces', bookShortfall: false });
  app = await newApp(ledger.db);
});
afterAll(async () => {
  await app.close();
  ledger.db.close();
});

/** What a text finds: the group's title and the names in it. */
const found = (text: string): Record<string, string[]> =>
  Object.fromEntries(
    findAll(ledger, text, '', { offset: 0, count: 20 }).groups.map(({ title, hits }) => [
      title,
      hits.map(({ name }) => name),
    ]),
  );

describe('finds', () => {
  test.each([
    ['cu2', { 'By this code or number': ['Bin CU2'] }],
    ['al-3', { 'By this code or number': ['Bin AL-3'] }],
    [
      '428',
      {
        'By this code or number': ['Ticket 428', 'Manifest 428'],
        Tickets: ['Ticket 428'],
        Manifests: ['Manifest 428'],
      },
    ],
    ['flood', { Recounts: ['YB1, 14.00 lb'] }],
    ['plated', { 'Moves to another bin': ['YB1 to YB2, 2.00 lb'] }],
    ['trailer', { Manifests: ['Manifest 429'] }],
    ['neighbour paper', { Tickets: ['Ticket 428'] }],
    ['kuhlschr', { Weighings: ['CU2, 300.00 lb'] }],
    ['KÜHLSCHRANK heavy', { Weighings: ['CU2, 300.00 lb'] }],
    ['173.40', { 'Tickets with this total': ['Ticket S1'] }],
    ['$173.40', { 'Tickets with this total': ['Ticket S1'] }],
    ['shreddable', { Bins: ['Bin FE1'], Grades: ['Shreddable steel'] }],
    ['nothing like this', {}],
    ['🚰', {}],
    ['taps 🚰', { Weighings: ['YB1, 7.00 lb'] }],
  ])('%s', (text, expected) => {
    expect(found(text)).toEqual(expected);
  });

  test('a yard by its name with its tickets and manifests, newest first', () => {
    expect(found('demo south')).toEqual({
      Yards: ['Demo Yard South'],
      Tickets: ['Ticket S1'],
      Manifests: ['Manifest S1'],
    });
    expect(found('demo yard').Tickets).toEqual(['Ticket 428', 'Ticket N2', 'Ticket S1', 'Ticket N1']);
  });

  test('a yard’s tickets under its new name once it is called otherwise', () => {
    const yard = findYard(ledger.db, 2);
    if (yard === undefined) throw new Error('no yard');
    saveYard(ledger, 2, { ...yard, name: 'Riverside' });
    expect(found('riverside').Tickets).toEqual(['Ticket S1']);
    expect(found('south')).toEqual({});
    saveYard(ledger, 2, yard);
    expect(found('south').Manifests).toEqual(['Manifest S1']);
  });

  test.each(['2025-03-10', '10 Mar 2025', '10 march 2025'])('what happened on a day: %s', (text) => {
    expect(found(text)).toEqual({ 'On this day': ['YB1 recounted or moved', 'What was written down that day'] });
  });

  test('the lists of a day', async () => {
    const { body } = await get(app, '/find?q=2025-03-08');
    expect(body).toContain('href="/manifests?from=2025-03-08&amp;to=2025-03-08"><span>1 manifest loaded');
    expect(body).toContain('href="/tickets?from=2025-03-08&amp;to=2025-03-08&amp;status=all"><span>1 ticket');
  });
});

test('a weighing without a note writes nothing for the search', () => {
  const words = () => ledger.db.sqlite.prepare('select count(*) from found').pluck().get();
  const before = words();
  weighIn(ledger, 'FE1', '5');
  expect(words()).toBe(before);
});

test('the page marks what matched, says what does not count, and says plainly that nothing was found', async () => {
  const { body } = await get(app, '/find?q=kitch');
  expect(body).toContain('<mark>kitchen</mark>');
  expect(body).toContain('taken back');
  expect((await get(app, '/find?q=neighbour')).body).toContain('does not count any more');
  expect((await get(app, '/find?q=xyzzy')).body).toContain('Nothing was found for <q>xyzzy</q>.');
  expect((await get(app, '/find')).body).toContain('For example');
});

test('more than twenty of a kind lead to all of them, page by page', async () => {
  const own = newLedger();
  const { yardId } = setUpWorkedExample(own);
  for (let index = 0; index < 130; index += 1) draftManifest(own, { yardId, binIds: [], note: 'weekly run' });
  for (let index = 0; index < 21; index += 1) weighIn(own, 'CU2', '1', '2025-03-01', { note: 'weekly' });
  const server = await newApp(own.db);
  const hits = (body: string) => body.match(/class="row-link"/g)?.length;
  const { body } = await get(server, '/find?q=week');
  expect(hits(body)).toBe(40);
  expect(body).toContain('href="/find?q=week&amp;kind=manifests"');
  expect(body).toContain('href="/in-weights?text=week"');
  const all = await get(server, '/find?q=week&kind=manifests');
  expect(hits(all.body)).toBe(100);
  expect(all.body).toContain('href="/find?q=week&amp;kind=manifests&amp;page=2"');
  expect(hits((await get(server, '/find?q=week&kind=manifests&page=2')).body)).toBe(30);
  await server.close();
  own.db.close();
});

test('any text is safe to search for', async () => {
  const nasty = [
    '"',
    '*',
    'a* OR b',
    'NEAR(a b)',
    'text:x',
    '-a',
    '^a',
    "'; drop table found; --",
    '\u0000',
    '\u0301',
    'a\u0000b',
  ];
  for (const text of [
    ...nasty,
    '(',
    'AND',
    'x'.repeat(10_000),
    `${'word '.repeat(2000)}`,
    '🚰🚰',
    '%',
    '_',
    '\ud800',
  ]) {
    const { statusCode } = await get(app, `/find?${new URLSearchParams({ q: text })}`);
    expect([text.slice(0, 20), statusCode]).toEqual([text.slice(0, 20), 200]);
    expect((await get(app, `/in-weights?${new URLSearchParams({ text: text.slice(0, 50) })}`)).statusCode).toBeLessThan(
      500,
    );
  }
  fc.assert(
    fc.property(fc.string({ unit: 'binary', maxLength: 40 }), (text) => {
      findAll(ledger, text, '', { offset: 0, count: 20 });
    }),
    { numRuns: 300 },
  );
});

test('every word that stands in a note finds it, also by its beginning', () => {
  const own = newLedger();
  setUpWorkedExample(own);
  const notes = fc.string({ unit: fc.constantFrom(...'aäbcß12 -.,"*éñ日本中'), minLength: 1, maxLength: 30 });
  fc.assert(
    fc.property(notes, (note) => {
      weighIn(own, 'CU2', '1', '2025-03-01', { note: note.trim() });
      for (const word of wordsIn(note)) {
        const { groups } = findAll(own, word, 'weighings', { offset: 0, count: 1 });
        expect([note, word, groups[0]?.hits.length]).toEqual([note, word, 1]);
      }
    }),
    { numRuns: 200 },
  );
});

test('marking leaves the text as it is', () => {
  fc.assert(
    fc.property(fc.string({ unit: 'grapheme' }), fc.array(fc.string({ unit: 'grapheme' })), (text, words) => {
      const pieces = markWords(text, words);
      expect(pieces.map((piece) => piece.text).join('')).toBe(text);
    }),
  );
  expect(markWords('No. 2 Kühl-copper', ['kuhl', '2'])).toEqual([
    { text: 'No. ', isMatch: false },
    { text: '2', isMatch: true },
    { text: ' ', isMatch: false },
    { text: 'Kühl', isMatch: true },
    { text: '-copper', isMatch: false },
  ]);
});

test('a written day is read in one way only', () => {
  expect(['8 Mar 2025', '08 march 2025', '8. Mar 2025', '2025-03-08'].map(readWrittenDay)).toEqual(
    Array(4).fill('2025-03-08'),
  );
  expect(['3/8/2025', '30 Feb 2025', '8 Xyz 2025', 'Mar 2025', ''].map(readWrittenDay)).toEqual(Array(5).fill(null));
  expect(findManifest(ledger.db, 1)?.number).toBe('N1');
});
