import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import {
  BAD_FIGURES,
  get,
  lb,
  massIn,
  newApp,
  newLedger,
  OWN_FIELDS,
  OWN_POST,
  post,
  setUpWorkedExample,
  weighIn,
} from '../helper.ts';

let ledger: Ledger;
let app: FastifyInstance;

beforeEach(async () => {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const figures = (body: string) => [...body.matchAll(/<td class="figure"><b>([^<]*)<\/b>/g)].map((match) => match[1]);
const recount = { requestKey: 'recount-key', net: '9.2', unit: 'lb', occurredOn: '2025-03-10', note: '' };
const move = { requestKey: 'moving-key', toBin: 'YB1', net: '2', unit: 'lb', occurredOn: '2025-03-10', note: '' };

test('a bin shows its balance after each line, newest first', async () => {
  weighIn(ledger, 'CU2', '10', '2025-02-01');
  weighIn(ledger, 'CU2', '5.5', '2025-02-03');
  weighIn(ledger, 'CU2', '1', '2025-02-02');
  expect(figures((await get(app, '/bins/CU2')).body)).toEqual(['16.50', '11.00', '10.00']);
});

test('the overview names a grade without a price once, however many bins of it there are', async () => {
  weighIn(ledger, 'YB1', '5');
  weighIn(ledger, 'YB2', '6');
  expect((await get(app, '/')).body).toContain('No price for Yellow brass:');
});

test('older lines carry the balance on exactly where the newer page ended', async () => {
  for (let n = 1; n <= 120; n += 1) weighIn(ledger, 'CU2', '1', `2025-02-${String(1 + (n % 28)).padStart(2, '0')}`);
  const seen: (string | undefined)[] = [];
  let url: string | undefined = '/bins/CU2';
  for (let page = 0; url !== undefined && page < 5; page += 1) {
    const { body } = await get(app, url);
    seen.push(...figures(body));
    url = /href="([^"]*before=[^"]*)"/.exec(body)?.[1];
  }
  expect(seen).toEqual(Array.from({ length: 120 }, (_, at) => `${120 - at}.00`));
});

test('lines that cancel each other have no balance, so that those that stand add up', async () => {
  weighIn(ledger, 'CU2', '10', '2025-02-01');
  const slip = weighIn(ledger, 'CU2', '90', '2025-02-02');
  weighIn(ledger, 'CU2', '5', '2025-02-03');
  await post(app, `/in-weights/${slip}/undo`, { requestKey: 'undo-the-slip' });
  const { body } = await get(app, '/bins/CU2');
  expect(figures(body)).toEqual(['15.00', '10.00']);
  expect(body).toContain('weighed in, taken back');
});

test('a recount and a move say so, with their note and where it went', async () => {
  weighIn(ledger, 'CU2', '10');
  const recounted = await post(app, '/bins/CU2/recounts', { ...recount, note: 'floor swept' });
  expect((await get(app, recounted.headers.location ?? '')).body).toContain('Recounted. CU2 now holds 9.20 lb.');
  const moved = await post(app, '/bins/CU2/transfers', { ...move, note: 'it was brass' });
  const { body } = await get(app, moved.headers.location ?? '');
  for (const words of ['Moved. CU2 now holds 7.20 lb.', 'floor swept', 'regraded to YB1', 'it was brass']) {
    expect(body).toContain(words);
  }
});

test('a recount sets the bin and can be taken back', async () => {
  weighIn(ledger, 'CU2', '10');
  expect((await post(app, '/bins/CU2/recounts', recount)).statusCode).toBe(303);
  expect(massIn(ledger, 'CU2')).toBe(lb('9.2'));
  await post(app, '/bins/CU2/recounts/1/undo', { requestKey: 'undo-recount-1' });
  expect(massIn(ledger, 'CU2')).toBe(lb('10'));
});

test('material is moved to another bin; more than the book has is asked about first, then booked', async () => {
  weighIn(ledger, 'CU2', '1');
  const asked = await post(app, '/bins/CU2/transfers', move);
  expect(asked.statusCode).toBe(422);
  expect(asked.body).toContain('CU2 holds 1.00 lb by the book, 1.00 lb less than leaves it here.');
  expect(asked.body).toContain('name="bookShortfall"');
  expect(massIn(ledger, 'YB1')).toBe(0);
  await post(app, '/bins/CU2/transfers', { ...move, bookShortfall: '1' });
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'YB1')]).toEqual([0, lb('2')]);
});

test.each([
  ['recounts', recount, 'f-recount-net', { unit: 'stone' }],
  ['transfers', move, 'f-move-net', { toBin: 'NO' }],
] as const)('bad figures on %s come back beside the field with everything typed', async (path, typed, id, other) => {
  weighIn(ledger, 'CU2', '10');
  for (const bad of BAD_FIGURES) {
    const answer = await post(app, `/bins/CU2/${path}`, { ...typed, note: 'kept as typed', net: bad });
    expect([bad.slice(0, 20), answer.statusCode]).toEqual([bad.slice(0, 20), 422]);
    expect(answer.body).toContain(`id="${id}-problem"`);
    expect(answer.body).toContain('kept as typed');
  }
  for (const change of [{ occurredOn: '2025-02-30' }, { occurredOn: '2030-01-01' }, other]) {
    expect((await post(app, `/bins/CU2/${path}`, { ...typed, ...change })).statusCode).toBe(422);
  }
  expect(massIn(ledger, 'CU2')).toBe(lb('10'));
});

test('the overview shows each open bin as a tag and adds up what it is worth', async () => {
  weighIn(ledger, 'CU2', '10');
  const { body } = await get(app, '/');
  expect(body).toContain('<span class="tag-code">CU2</span>');
  expect(body).toContain('no price yet');
  expect(body).toContain('<b>10.00</b> lb');
});

test('another name for this computer, or a form from elsewhere, gets nothing', async () => {
  const elsewhere = await app.inject({ method: 'GET', url: '/', headers: { host: 'elsewhere.example' } });
  expect(elsewhere.statusCode).toBe(421);
  const forged = await app.inject({
    method: 'POST',
    url: '/bins/CU2/recounts',
    headers: {
      ...OWN_POST,
      origin: 'http://elsewhere.example',
      'content-type': 'application/x-www-form-urlencoded',
    },
    payload: new URLSearchParams({ ...OWN_FIELDS, ...recount }).toString(),
  });
  expect(forged.statusCode).toBe(403);
  expect(ledger.db.sqlite.prepare('select count(*) from recount').pluck().get()).toBe(0);
});
