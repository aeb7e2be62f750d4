import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { FORM_TOKEN, formTokenOf } from '../../server/access/token.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { buildApp } from '../../server/app.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { day } from '../../server/units/day.ts';
import { clock, get, post, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';

// The first page and the bench are kept until something is written. Nobody may ever see that they are.

let folder: string;
let db: Db;
let ledger: Ledger;
let app: FastifyInstance;
let today = TODAY;
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-kept-'));
  db = openDb(join(folder, 'ledger.sqlite'));
  ledger = openLedger(db, clock);
  setUpWorkedExample(ledger);
  today = TODAY;
  app = await buildApp({ db, clock: { ...clock, today: () => today } });
});
afterEach(async () => {
  await app.close();
  db.close();
  rmSync(folder, { recursive: true, force: true });
});

const keyIn = (body: string): string => /name="requestKey" value="([^"]+)"/.exec(body)?.[1] ?? '';
const tokensIn = (body: string): string[] =>
  [...body.matchAll(new RegExp(`name="${FORM_TOKEN}" value="([^"]+)"`, 'g'))].map(([, token]) => token ?? '');
const weighing = { bin: 'CU2', gross: '3', container: '', tare: '', unit: 'lb', scale: '', occurredOn: TODAY };

test('a page that is asked for again is the same but for its request key, which nobody gets twice', async () => {
  const pages = await Promise.all(Array.from({ length: 20 }, () => get(app, '/weigh-in?bin=CU2')));
  const keys = pages.map(({ body }) => keyIn(body));
  expect(new Set(keys).size).toBe(20);
  const without = pages.map(({ body }, index) => body.replaceAll(keys[index] ?? '', ''));
  expect(new Set(without).size).toBe(1);
  for (const { body } of [pages[0], pages[19]].map((page) => page ?? { body: '' })) {
    expect((await post(app, '/in-weights', { ...weighing, requestKey: keyIn(body) })).statusCode).toBe(303);
  }
  expect(db.sqlite.prepare('SELECT count(*) FROM in_weight').pluck().get()).toBe(2);
});

test('what was weighed in, taken back or renamed is on the very next page', async () => {
  expect((await get(app, '/')).body).not.toContain('<b>7.00</b>');
  const id = weighIn(ledger, 'CU2', '7');
  expect((await get(app, '/')).body).toContain('<b>7.00</b>');
  expect((await get(app, '/weigh-in')).body).toContain('<b>7.00 lb</b> CU2');
  await post(app, `/in-weights/${id}/undo`, { requestKey: 'take-it-back' });
  expect((await get(app, '/')).body).not.toContain('<b>7.00</b>');
  expect((await get(app, '/weigh-in')).body).toContain('taken back');
  db.sqlite.exec("UPDATE bin SET place = 'under the stairs' WHERE code = 'CU2'");
  expect((await get(app, '/')).body).toContain('under the stairs');
});

test('what another program wrote into the ledger is on the very next page', async () => {
  await get(app, '/');
  await get(app, '/weigh-in');
  const other = openDb(join(folder, 'ledger.sqlite'));
  weighIn(openLedger(other, clock), 'YB1', '8.25');
  other.close();
  expect((await get(app, '/')).body).toContain('<b>8.25</b>');
  expect((await get(app, '/weigh-in')).body).toContain('<b>8.25 lb</b> YB1');
});

test('what was begun and not kept is on no page', async () => {
  expect((await get(app, '/')).body).not.toContain('<b>9.00</b>');
  const begun = () =>
    db.transaction(() => {
      weighIn(ledger, 'CU2', '9');
      throw new Error('not kept');
    });
  expect(begun).toThrow('not kept');
  expect((await get(app, '/')).body).not.toContain('<b>9.00</b>');
});

test('a new day makes new pages', async () => {
  expect((await get(app, '/weigh-in')).body).toContain('value="2025-03-20"');
  today = day('2025-03-21');
  expect((await get(app, '/weigh-in')).body).toContain('value="2025-03-21"');
});

test('each browser has its own form token in a page that both see', async () => {
  const asOther = 'other-browser-'.padEnd(43, '1');
  const headers = { host: '127.0.0.1', cookie: `${COOKIE}=${asOther}` };
  weighIn(ledger, 'CU2', '1');
  const mine = tokensIn((await get(app, '/weigh-in')).body);
  const theirs = tokensIn((await app.inject({ method: 'GET', url: '/weigh-in', headers })).body);
  expect(mine).toHaveLength(2);
  expect(new Set(theirs)).toEqual(new Set([formTokenOf(asOther)]));
  expect(theirs).toHaveLength(mine.length);
  expect(mine).not.toContain(theirs[0]);
});

test('however many addresses are asked for, the right page comes', async () => {
  for (let round = 0; round < 2; round += 1) {
    for (let index = 0; index < 150; index += 1) {
      expect((await get(app, `/weigh-in?bin=${index % 2 === 0 ? 'CU2' : 'YB1'}&n=${index}`)).body).toContain(
        `value="${index % 2 === 0 ? 'CU2' : 'YB1'}" checked`,
      );
    }
  }
});
