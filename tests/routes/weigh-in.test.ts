import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { saveContainer, saveScale } from '../../server/setup/acts.ts';
import {
  BAD_FIGURES,
  clock,
  get,
  lb,
  massIn,
  newApp,
  newBin,
  newLedger,
  post,
  setUpWorkedExample,
  weighIn,
} from '../helper.ts';

let ledger: Ledger;
let app: FastifyInstance;

beforeEach(async () => {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  saveContainer(ledger, null, { name: 'blue tub', tare_typed: '2.00', tare_ug: lb('2') });
  saveScale(ledger, null, { name: 'bench scale', unit: 'lb', division: '', class: '', tolerance: '', capacity: '' });
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const form = {
  requestKey: 'weigh-in-key-1',
  bin: 'CU2',
  gross: '34.5',
  container: '1',
  tare: '',
  occurredOn: '2025-03-20',
};
/** The codes of the bins that are chosen on the page: one or none. */
const chosenBin = (body: string) => [...body.matchAll(/name="bin" value="([^"]*)" checked/g)].map(([, code]) => code);
const rows = (table: string) => ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get();

test('a weighing by the bench form lands in the bin, and the form stays with that bin and its container', async () => {
  const answer = await post(app, '/in-weights', form);
  expect(answer.statusCode).toBe(303);
  const next = await get(app, answer.headers.location ?? '');
  expect(next.body).toContain('32.50 lb added. CU2 now holds');
  expect(chosenBin(next.body)).toEqual(['CU2']);
  expect(next.body).toMatch(/<option value="usual" selected>/);
  const usual = { bin: 'CU2', container: 'usual' };
  expect((await get(app, `/weigh-in/understood?${new URLSearchParams(usual)}`)).body).toContain('in blue tub');
  expect(massIn(ledger, 'CU2')).toBe(lb('32.5'));
});

test('the bins are offered by family, none of them chosen before the address says which', async () => {
  newBin(ledger, 'CU9', 'No. 2 copper');
  const { body } = await get(app, '/weigh-in');
  expect([...body.matchAll(/name="bin" value="(\w+)"/g)].map(([, code]) => code)).toEqual([
    'CU2',
    'CU9',
    'WLO',
    'YB1',
    'YB2',
    'FE1',
  ]);
  expect(chosenBin(body)).toEqual([]);
  expect(chosenBin((await get(app, '/weigh-in?bin=YB1')).body)).toEqual(['YB1']);
  expect(body).toContain('Another bin');
});

test('the only bin is chosen already, and without any the page says what to do', async () => {
  ledger.db.sqlite.exec("update bin set closed_on = '2025-03-01' where code <> 'FE1'");
  const { body } = await get(app, '/weigh-in');
  expect(chosenBin(body)).toEqual(['FE1']);
  expect(body).not.toContain('Another bin');
  ledger.db.sqlite.exec("update bin set closed_on = '2025-03-01'");
  expect((await get(app, '/weigh-in')).body).toContain('There is no bin yet.');
});

test('what was just weighed in is taken back with the button beside it, and the page says so', async () => {
  const { headers } = await post(app, '/in-weights', form);
  const { body } = await get(app, headers.location ?? '');
  const [above = ''] = body.split('<form method="post" action="/in-weights" ');
  expect(above).toContain('action="/in-weights/1/undo"');
  const undone = await post(app, '/in-weights/1/undo', { requestKey: 'undo-in-weight-1' });
  const after = await get(app, undone.headers.location ?? '');
  expect(after.body).toContain('32.50 lb taken back. CU2 now holds 0.00 lb.');
  expect(chosenBin(after.body)).toEqual(['CU2']);
  expect(after.body).toMatch(/name="gross" value=""[^>]*autofocus/);
});

test('a weighing can be taken back after Tarebook was stopped and started again', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'tarebook-undo-'));
  const path = join(folder, 'ledger.sqlite');
  const before = openLedger(openDb(path), clock);
  setUpWorkedExample(before);
  const firstApp = await newApp(before.db);
  const { headers } = await post(firstApp, '/in-weights', { ...form, container: '' });
  await firstApp.close();
  before.db.close();

  const after = openLedger(openDb(path), clock);
  const secondApp = await newApp(after.db);
  const { body } = await get(secondApp, headers.location ?? '');
  const [, address = '', requestKey = ''] =
    /action="(\/in-weights\/\d+\/undo)">\s*<[^>]*value="([^"]+)"/.exec(body) ?? [];
  expect((await post(secondApp, address, { requestKey })).statusCode).toBe(303);
  expect(massIn(after, 'CU2')).toBe(0);
  await secondApp.close();
  after.db.close();
  rmSync(folder, { recursive: true, force: true });
});

test('the usual container follows the bin, and a weighing without one forgets none', async () => {
  await post(app, '/in-weights', form);
  await post(app, '/in-weights', { ...form, requestKey: 'bare-weighing', container: '', gross: '1' });
  await post(app, '/in-weights', {
    ...form,
    requestKey: 'other-bin-first',
    bin: 'YB1',
    container: 'usual',
    gross: '3',
  });
  await post(app, '/in-weights', {
    ...form,
    requestKey: 'typed-tare-once',
    container: 'usual',
    tare: '0.5',
    gross: '1.5',
  });
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'YB1')]).toEqual([lb('34.5'), lb('3')]);
  await post(app, '/in-weights', { ...form, requestKey: 'as-usual-again', container: 'usual', gross: '10' });
  expect(massIn(ledger, 'CU2')).toBe(lb('42.5'));
});

test('a container chosen by hand and a typed tare contradict each other', async () => {
  const answer = await post(app, '/in-weights', { ...form, tare: '1.5' });
  expect(answer.statusCode).toBe(422);
  expect(answer.body).toContain('Leave the tare empty to take blue tub');
});

test('a correction may add the container that was forgotten', async () => {
  const id = weighIn(ledger, 'CU2', '10');
  const page = await get(app, `/in-weights/${id}/correction`);
  expect(page.body).toMatch(/name="tare" value=""/);
  const typed = { ...form, gross: '10', reason: 'forgot the tub', requestKey: 'correction-9' };
  await post(app, `/in-weights/${id}/corrections`, typed);
  expect(massIn(ledger, 'CU2')).toBe(lb('8'));
});

test('a form sent twice posts once and leads to the same place', async () => {
  const first = await post(app, '/in-weights', form);
  const second = await post(app, '/in-weights', form);
  expect([second.statusCode, second.headers.location]).toEqual([303, first.headers.location]);
  expect(massIn(ledger, 'CU2')).toBe(lb('32.5'));
});

test('a form that Back brought up again and that says something else is asked about, and then kept as well', async () => {
  await post(app, '/in-weights', form);
  const again = await post(app, '/in-weights', { ...form, gross: '12' });
  expect(again.statusCode).toBe(422);
  expect(again.body).toContain('This form was sent before with other figures');
  expect(again.body).toContain('value="12"');
  const requestKey = /name="requestKey" value="([^"]+)"/.exec(again.body)?.[1] ?? '';
  expect((await post(app, '/in-weights', { ...form, gross: '12', requestKey })).statusCode).toBe(303);
  expect(massIn(ledger, 'CU2')).toBe(lb('42.5'));
});

test('pounds and ounces are kept as typed and understood as pounds', async () => {
  await post(app, '/in-weights', { ...form, gross: '3 lb 7 oz', container: '' });
  expect(massIn(ledger, 'CU2')).toBe(lb('3.4375'));
  expect(ledger.db.sqlite.prepare('select gross_typed from in_weight').pluck().get()).toBe('3 lb 7 oz');
});

test('a figure that cannot be read comes back beside its field with everything typed, and stores nothing', async () => {
  for (const field of ['gross', 'tare'] as const) {
    for (const bad of BAD_FIGURES) {
      const answer = await post(app, '/in-weights', { ...form, note: 'kept as typed', [field]: bad });
      expect([bad.slice(0, 20), answer.statusCode]).toEqual([bad.slice(0, 20), 422]);
      expect(answer.body).toContain(`id="f-${field}-problem"`);
      expect(answer.body).toContain('kept as typed');
      expect(answer.body).toContain('value="2025-03-20"');
    }
  }
  expect([rows('in_weight'), rows('transfer'), rows('request')]).toEqual([0, 0, 0]);
});

test.each([
  [{ gross: '' }, 'gross', 'Enter a reading.'],
  [{ gross: '1.5' }, 'gross', 'is not below the reading'],
  [{ gross: '12 stone' }, 'gross', 'is not a unit of weight'],
  [{ bin: 'NO' }, 'bin', 'There is no bin NO'],
  [{ bin: '' }, 'bin', 'Choose a bin.'],
  [{ bin: 'x'.repeat(10_000) }, 'bin', 'At most 200 characters'],
  [{ container: '99' }, 'container', 'Choose a container'],
  [{ container: "1' or 1" }, 'container', 'Choose one from the list'],
  [{ scale: '99' }, 'scale', 'Choose a scale'],
  [{ unit: 'stone' }, 'unit', 'Choose a unit of weight'],
  [{ occurredOn: '2025-02-30' }, 'occurredOn', '2025-02-30 is not a day'],
  [{ occurredOn: '2025-03-21' }, 'occurredOn', 'has not come yet'],
  [{ note: 'n'.repeat(10_000) }, 'note', 'At most 2000 characters'],
])('%o is refused beside %s', async (change, field, sentence) => {
  const answer = await post(app, '/in-weights', { ...form, ...change });
  expect(answer.statusCode).toBe(422);
  expect(answer.body).toContain(`id="f-${field}-problem"`);
  expect(answer.body).toContain(sentence);
  expect(rows('in_weight')).toBe(0);
});

test('a reading above the scale or far above the full mark is asked about, and ticked as right it goes in', async () => {
  ledger.db.sqlite.exec(
    `update scale set capacity = '50'; update bin set full_mark_typed = '20', full_mark_ug = ${lb('20')}`,
  );
  for (const [gross, words] of [
    ['335', 'bench scale goes up to 50 lb'],
    ['45', 'would hold more than twice that'],
  ] as const) {
    const asked = await post(app, '/in-weights', { ...form, scale: 'usual', gross });
    expect([asked.statusCode, asked.body.includes(words)]).toEqual([422, true]);
    expect(asked.body).toContain('name="confirm"');
  }
  expect(rows('in_weight')).toBe(0);
  expect((await post(app, '/in-weights', { ...form, scale: 'usual', gross: '45', confirm: '1' })).statusCode).toBe(303);
});

test('the same entry sent again after a while is asked about: two buckets can weigh the same', async () => {
  await post(app, '/in-weights', form);
  ledger.db.sqlite.exec("update request set recorded_at = '2025-03-20T11:58:00.000Z'");
  const again = await post(app, '/in-weights', form);
  expect(again.statusCode).toBe(422);
  expect(again.body).toContain('This form was sent before exactly like this, and that was saved.');
  const requestKey = /name="requestKey" value="([^"]+)"/.exec(again.body)?.[1] ?? '';
  expect((await post(app, '/in-weights', { ...form, requestKey })).statusCode).toBe(303);
  expect(massIn(ledger, 'CU2')).toBe(lb('65'));
});

test('Back to an address that only takes posts leads to the page it belongs to', async () => {
  const id = weighIn(ledger, 'CU2', '10');
  for (const [from, to] of [
    ['/bins/CU2/recounts', '/bins/CU2'],
    [`/in-weights/${id}/corrections`, '/in-weights'],
    ['/prices/boards', '/prices'],
    ['/manifests/7/loading', '/manifests/7'],
    ['/tickets/check', '/tickets/new'],
  ] as const) {
    const answer = await get(app, from);
    expect([from, answer.statusCode, answer.headers.location]).toEqual([from, 303, to]);
  }
  expect((await get(app, '/nowhere/at/all')).statusCode).toBe(404);
});

test('what was typed is shown back as text, never as markup', async () => {
  const answer = await post(app, '/in-weights', { ...form, gross: '', note: '<script>alert(1)</script>' });
  expect(answer.body).not.toContain('<script>alert');
  expect(answer.body).toContain('&lt;script&gt;alert(1)');
});

test('the net is understood while typing, and nothing is said before there is something to say', async () => {
  const ask = (query: Record<string, string>) => get(app, `/weigh-in/understood?${new URLSearchParams(query)}`);
  expect((await ask({ bin: 'CU2', gross: '34.5', container: '1' })).body).toContain('32.50');
  expect((await ask({ bin: 'CU2', gross: '3 lb 7 oz' })).body).toContain('3 lb 7 oz = 3.4375 lb');
  expect((await ask({ bin: 'CU2', gross: '34,5' })).body).toContain('34,5 = 34.5 lb');
  expect((await ask({ bin: 'CU2', gross: '1,204' })).body).toContain('1,204 = 1204 lb');
  expect((await ask({ bin: 'CU2', gross: '12 kg' })).body).toMatch(/12 kg = 26\.4554\d* lb/);
  expect((await ask({ bin: 'CU2', gross: '34.50' })).body).not.toContain('34.50 = ');
  expect((await ask({ bin: 'CU2', gross: '' })).body).toBe('<small>in lb</small>');
  expect((await ask({ bin: 'CU2', gross: '', unit: 'kg' })).body).toBe('<small>in kg</small>');
  expect((await ask({ bin: 'CU2', gross: '1', container: '1' })).body).toContain('is not below the reading');
  expect((await ask({ bin: 'CU2', gross: '1,2,3' })).body).toContain('more than one way');
});

test('a weighing is taken back with one tap, and a second tap takes nothing more back', async () => {
  const id = weighIn(ledger, 'CU2', '10');
  const undo = { requestKey: `undo-in-weight-${id}` };
  expect((await post(app, `/in-weights/${id}/undo`, undo)).statusCode).toBe(303);
  expect((await post(app, `/in-weights/${id}/undo`, undo)).statusCode).toBe(303);
  expect((await post(app, `/in-weights/${id}/undo`, { requestKey: 'another-key' })).statusCode).toBe(422);
  expect(massIn(ledger, 'CU2')).toBe(0);
});

test('a correction asks why, keeps the old weighing in the ledger, and shows both', async () => {
  const id = weighIn(ledger, 'CU2', '10');
  const typed = { ...form, gross: '12', container: '', requestKey: 'correction-1' };
  const without = await post(app, `/in-weights/${id}/corrections`, typed);
  expect(without.statusCode).toBe(422);
  expect(without.body).toContain('Enter why it is corrected');
  await post(app, `/in-weights/${id}/corrections`, { ...typed, reason: 'read the wrong line' });
  const page = await get(app, '/bins/CU2');
  expect(massIn(ledger, 'CU2')).toBe(lb('12'));
  expect(page.body).toContain('corrected: read the wrong line');
  expect(page.body).toContain('taken back');
});

test('a page that is not there, and an in-weight that is not there, say so', async () => {
  for (const url of ['/nowhere', '/bins/NOPE', '/in-weights/99/correction', '/in-weights/x/correction']) {
    const answer = await get(app, url);
    expect([url, answer.statusCode]).toEqual([url, 404]);
    expect(answer.body).toContain('Not done');
  }
});
