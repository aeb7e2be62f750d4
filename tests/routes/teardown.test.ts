import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { type Clock, fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { changeItem } from '../../server/items/acts.ts';
import { findItem } from '../../server/items/queries.ts';
import { readPartSales, readTeardownSummary } from '../../server/items/teardown-pages.ts';
import { closeBin, saveContainer } from '../../server/setup/acts.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { Show } from '../../views/common/show.ts';
import { partSalesSection } from '../../views/items/part-sales.ts';
import { teardownSection } from '../../views/items/teardown.ts';
import { get, lb, massIn, newBin, newItem, post, setUpWorkedExample } from '../helper.ts';

// The sheet of a teardown over HTTP: time, what an item gives, its balance, and what is sold of it for reuse.

let ledger: Ledger;
let app: FastifyInstance;
/** Moved on by the tests that let time go by. */
let now: Clock;
let fan: number;

const item = (weight: string | null, name = 'white') =>
  newItem(ledger, 'Ceiling fan', {
    name,
    weight:
      weight === null
        ? null
        : { typed: weight, weight: { amount: new Decimal(weight), unit: 'lb' }, massUg: lb(weight) },
  });

beforeEach(async () => {
  now = fixedClock(day('2025-03-20'), '2025-03-20T12:00:00.000Z');
  const clock: Clock = { today: () => now.today(), now: () => now.now() };
  ledger = openLedger(openDb(':memory:'), clock);
  setUpWorkedExample(ledger);
  saveContainer(ledger, null, { name: 'blue tub', tare_typed: '2.00', tare_ug: lb('2') });
  fan = item('20');
  app = await buildApp({ db: ledger.db, clock });
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const at = (instant: string): void => {
  now = fixedClock(day(instant.slice(0, 10)), instant);
};
const sheetOf = (id: number) => `/items/${id}/teardown`;
const pageOf = async (id = fan) => (await get(app, sheetOf(id))).body;
const rows = (table: string) => ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get();
const text = (body: string) =>
  body
    .replace(/<[^>]*>/g, ' ')
    .replace(/&#39;/g, "'")
    .replace(/\s+/g, ' ');

const outputs = (fields: Record<string, string>) => ({ unit: 'lb', scale: '', occurredOn: '2025-03-20', ...fields });

test('time is started, paused, gone on with and stopped, and the page says what ran', async () => {
  expect((await post(app, `/items/${fan}/teardown/clock`, {})).statusCode).toBe(303);
  at('2025-03-20T12:35:00.000Z');
  expect(text(await pageOf())).toContain('35 min running since');
  const paused = await post(app, `/items/${fan}/teardown/clock/pause`, {});
  expect(text((await get(app, paused.headers.location ?? '')).body)).toContain('35 min, written down.');
  await post(app, `/items/${fan}/teardown/clock`, {});
  at('2025-03-20T13:15:00.000Z');
  await post(app, `/items/${fan}/teardown/clock/stop`, {});
  expect(text(await pageOf())).toContain('Together so far: 1 h 15 min');
  expect(rows('work_clock')).toBe(0);
});

test('the time of an item that runs is not started again, and the time of one that stands still is not stopped', async () => {
  await post(app, `/items/${fan}/teardown/clock`, {});
  const twice = await post(app, `/items/${fan}/teardown/clock`, {});
  expect([twice.statusCode, text(twice.body)]).toEqual([422, expect.stringContaining('is running already')]);
  await post(app, `/items/${fan}/teardown/clock/stop`, {});
  const stoppedTwice = await post(app, `/items/${fan}/teardown/clock/stop`, { minutes: '' });
  expect([stoppedTwice.statusCode, text(stoppedTwice.body)]).toEqual([422, expect.stringContaining('is not running')]);
  expect(rows('work')).toBe(1);
});

test('a clock that was forgotten over night is asked about, and what is typed counts', async () => {
  await post(app, `/items/${fan}/teardown/clock`, {});
  at('2025-03-21T08:00:00.000Z');
  const asked = await post(app, `/items/${fan}/teardown/clock/stop`, {});
  expect(asked.statusCode).toBe(422);
  expect(text(asked.body)).toContain('Type the time that was really worked.');
  expect(asked.body).toContain('name="minutes"');
  expect(rows('work_clock')).toBe(1);
  const stopped = await post(app, `/items/${fan}/teardown/clock/stop`, { minutes: '1:15' });
  expect(text((await get(app, stopped.headers.location ?? '')).body)).toContain('1:15 = 1 h 15 min, written down.');
  expect(ledger.db.sqlite.prepare('select seconds, worked_on from work').get()).toEqual({
    seconds: 4500,
    worked_on: '2025-03-20',
  });
});

test('a clock that was set back is asked about too', async () => {
  await post(app, `/items/${fan}/teardown/clock`, {});
  at('2025-03-20T11:00:00.000Z');
  const asked = await post(app, `/items/${fan}/teardown/clock/stop`, {});
  expect([asked.statusCode, text(asked.body)]).toEqual([422, expect.stringContaining('was set back since')]);
});

test('the clocks of two items run side by side, and each page says so', async () => {
  const other = item('8', 'black');
  await post(app, `/items/${fan}/teardown/clock`, {});
  await post(app, `/items/${other}/teardown/clock`, {});
  expect(text(await pageOf())).toContain(`Running too: Item ${other}, Ceiling fan, black`);
});

test('minutes are typed in several ways; zero, below zero, over a day and nonsense are said plainly and come back', async () => {
  const typed = (minutes: string, workedOn = '2025-03-19') =>
    post(app, `/items/${fan}/teardown/minutes`, { minutes, workedOn, note: 'the second evening' });
  const done = await typed('1 h 15');
  expect(text((await get(app, done.headers.location ?? '')).body)).toContain('1 h 15 = 1 h 15 min, written down.');
  for (const [minutes, sentence] of [
    ['-5', 'Minutes cannot be below zero.'],
    ['0', 'No time at all need not be written down.'],
    ['25:00', 'More than 24 hours in one go cannot be right.'],
    ['1:75', 'After hours the minutes stay below 60'],
    ['a while', 'Write minutes like 45'],
    ['', 'Enter how long it took.'],
  ] as const) {
    const answer = await typed(minutes);
    expect([minutes, answer.statusCode, text(answer.body)]).toEqual([minutes, 422, expect.stringContaining(sentence)]);
    expect(answer.body).toContain('the second evening');
    if (minutes !== '') expect(answer.body).toContain(`value="${minutes}"`);
  }
  expect(text((await typed('5', '2025-02-01')).body)).toContain('before the item was picked up');
  expect(text((await typed('5', '2025-04-01')).body)).toContain('has not come yet');
  expect(rows('work')).toBe(1);
});

test('a time is taken back once, and can be typed again as it was', async () => {
  await post(app, `/items/${fan}/teardown/minutes`, { minutes: '45', workedOn: '2025-03-20', note: '' });
  expect((await post(app, '/minutes/1/undo', {})).headers.location).toBe(`${sheetOf(fan)}?done=undone`);
  expect((await post(app, '/minutes/1/undo', {})).body).toContain('already taken back');
  expect(text(await pageOf())).toContain('Together so far: 0 s');
  expect((await get(app, `${sheetOf(fan)}?again=1`)).body).toMatch(/name="minutes" value="45"/);
});

test('one sheet takes several rows: bins, parts and waste; empty rows count for nothing', async () => {
  const sheet = outputs({
    'bin-1': 'CU2',
    'gross-1': '3',
    'container-1': '1',
    'tare-1': '',
    'bin-2': '',
    'gross-2': '',
    'container-2': 'usual',
    'tare-2': '',
    'bin-3': 'FE1',
    'gross-3': '11',
    'container-3': '',
    'tare-3': '0.5',
    'part-1': 'remote control',
    'partNet-1': '',
    'part-2': 'glass shades',
    'partNet-2': '2',
    'waste-1': '',
    'wasteNet-1': '4',
  });
  const answer = await post(app, `/items/${fan}/teardown/outputs`, sheet);
  expect(answer.headers.location).toBe(`${sheetOf(fan)}?done=outputs`);
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'FE1')]).toEqual([lb('1'), lb('10.5')]);
  expect(ledger.db.sqlite.prepare('select distinct item_id from in_weight').pluck().all()).toEqual([fan]);
  const page = text(await pageOf());
  expect(page).toContain('Shreddable steel 10.50 52.5 %');
  expect(page).toContain('In bins together 11.50 57.5 %');
  expect(page).toContain('Parts kept 2.00 10.0 %');
  expect(page).toContain('Missing 2.50 12.5 %');
  expect(page).toContain('1 part was not weighed, so what is missing may be that part.');
});

test('outputs above the weight of the item are asked about, never refused for good, and everything typed comes back', async () => {
  const sheet = outputs({
    'bin-1': 'CU2',
    'gross-1': '25',
    'container-1': '',
    'tare-1': '',
    'part-1': 'capacitor <b>',
  });
  const asked = await post(app, `/items/${fan}/teardown/outputs`, { ...sheet, requestKey: 'sheet-key-1' });
  expect(asked.statusCode).toBe(422);
  expect(text(asked.body)).toContain('25.00 lb came out of an item of 20.00 lb: 5.00 lb too much.');
  expect(asked.body).toContain('value="capacitor &lt;b&gt;"');
  expect(asked.body).toContain('name="confirmAbove"');
  expect([rows('in_weight'), rows('item_output')]).toEqual([0, 0]);
  const ticked = await post(app, `/items/${fan}/teardown/outputs`, {
    ...sheet,
    requestKey: 'sheet-key-1',
    confirmAbove: '1',
  });
  expect(ticked.statusCode).toBe(303);
  expect(text(await pageOf())).toContain('5.00 lb more came out than went in.');
});

test('without a whole weight no balance is possible, and nothing is asked', async () => {
  const unweighed = item(null);
  await post(
    app,
    `/items/${unweighed}/teardown/outputs`,
    outputs({ 'bin-1': 'CU2', 'gross-1': '25', 'container-1': '', 'tare-1': '' }),
  );
  const page = text(await pageOf(unweighed));
  expect(page).toContain('Without it no balance is possible');
  expect(page).not.toContain('Missing');
});

test('a second tap on the sheet posts nothing', async () => {
  const sheet = { ...outputs({ 'bin-1': 'CU2', 'gross-1': '5', 'wasteNet-1': '1' }), requestKey: 'sheet-key-2' };
  const first = await post(app, `/items/${fan}/teardown/outputs`, sheet);
  const second = await post(app, `/items/${fan}/teardown/outputs`, sheet);
  expect([first.headers.location, second.headers.location]).toEqual([
    `${sheetOf(fan)}?done=outputs`,
    `${sheetOf(fan)}?done=outputs`,
  ]);
  expect([rows('in_weight'), rows('item_output')]).toEqual([1, 1]);
});

test('an output into a closed bin is refused beside its row, and nothing of the sheet is stored', async () => {
  closeBin(ledger, newBin(ledger, 'OLD', 'Light copper'));
  const sheet = outputs({ 'bin-1': 'CU2', 'gross-1': '5', 'bin-2': 'OLD', 'gross-2': '3', 'wasteNet-1': '1' });
  const answer = await post(app, `/items/${fan}/teardown/outputs`, sheet);
  expect(answer.statusCode).toBe(422);
  expect(text(answer.body)).toContain('Row 2: OLD is closed. Open it again in Set-up.');
  expect(answer.body).toContain('id="f-out-bin-2-problem"');
  expect([rows('in_weight'), rows('item_output')]).toEqual([0, 0]);
});

test('rows that cannot be read are each said by their number; a sheet of empty rows says so', async () => {
  const sheet = outputs({
    'bin-1': 'CU2',
    'gross-1': '-3',
    'gross-2': '4',
    'partNet-1': '2',
    'waste-1': 'foam',
    'wasteNet-1': '',
  });
  const answer = text((await post(app, `/items/${fan}/teardown/outputs`, sheet)).body);
  for (const said of [
    'Row 1: A reading cannot be negative.',
    'Row 2: Choose a bin.',
    'Part 1: Enter what the part is.',
    'Waste 1: Enter a weight.',
  ]) {
    expect(answer).toContain(said);
  }
  expect(text((await post(app, `/items/${fan}/teardown/outputs`, outputs({}))).body)).toContain('Every row is empty.');
});

test('more rows come without scripts, with everything that was typed', async () => {
  const answer = await post(app, `/items/${fan}/teardown/outputs/rows`, {
    ...outputs({ 'bin-1': 'CU2', 'gross-1': '3.25' }),
    change: 'bins',
  });
  expect(answer.statusCode).toBe(200);
  expect(answer.body).toContain('name="gross-8"');
  expect(answer.body).not.toContain('name="gross-9"');
  expect(answer.body).toContain('value="3.25"');
  expect(rows('in_weight')).toBe(0);
});

test('while it is typed the sheet says each net and what is missing', async () => {
  const fields = outputs({ 'bin-1': 'CU2', 'gross-1': '3', 'container-1': '1', 'tare-1': '', 'wasteNet-1': '4' });
  const { body } = await post(app, `/items/${fan}/teardown/outputs/understood`, fields);
  expect(body).toContain('= 1.00 lb net');
  expect(body).toContain('5.00 lb on this sheet, then 15.00 lb of the item is missing.');
});

test('what an item gave is taken back and corrected as everywhere, and the correction stays with the item', async () => {
  await post(
    app,
    `/items/${fan}/teardown/outputs`,
    outputs({ 'bin-1': 'CU2', 'gross-1': '5', 'waste-1': 'foam', 'wasteNet-1': '1' }),
  );
  const correction = {
    item: String(fan),
    bin: 'CU2',
    gross: '6',
    container: '',
    tare: '',
    unit: 'lb',
    scale: '',
    occurredOn: '2025-03-20',
    note: '',
  };
  await post(app, '/in-weights/1/corrections', { ...correction, reason: 'read the wrong line' });
  expect(text(await pageOf())).toContain('No. 2 copper 6.00 30.0 %');
  const undone = await post(app, '/in-weights/2/undo', { back: 'teardown' });
  expect(undone.headers.location).toBe(`${sheetOf(fan)}?done=undone`);
  expect((await post(app, '/item-outputs/1/undo', {})).statusCode).toBe(303);
  expect((await post(app, '/item-outputs/1/undo', {})).body).toContain('already taken back');
  expect(massIn(ledger, 'CU2')).toBe(0);
  expect(text(await pageOf())).toContain('Nothing of it is written down yet.');
  expect((await get(app, `${sheetOf(fan)}?output=1`)).body).toMatch(/name="waste-1" value="foam"/);
});

test('it is finished with how far it was taken; a running clock is stopped first', async () => {
  const finish = { depth: 'coarse', closedOn: '2025-03-20', disposal: '2.50' };
  await post(app, `/items/${fan}/teardown/clock`, {});
  expect((await post(app, `/items/${fan}/teardown/finish`, finish)).body).toContain('Stop it first, then finish.');
  await post(app, `/items/${fan}/teardown/clock/stop`, {});
  expect((await post(app, `/items/${fan}/teardown/finish`, { ...finish, depth: 'halfway' })).body).toContain(
    'Choose how far it was taken',
  );
  expect((await post(app, `/items/${fan}/teardown/finish`, finish)).headers.location).toBe(
    `${sheetOf(fan)}?done=finished`,
  );
  expect(findItem(ledger.db, fan)).toMatchObject({ status: 'taken apart', depth: 'coarse', disposal_minor: 250 });
});

test('beside a chosen bin stands how its grade is told from others', async () => {
  ledger.db.sqlite.prepare("update grade set recognise = 'a magnet does not stick' where name = 'No. 2 copper'").run();
  const { body } = await post(app, `/items/${fan}/teardown/outputs`, outputs({ 'bin-1': 'CU2', 'gross-1': '' }));
  expect(body.split('a magnet does not stick').length - 1).toBe(2);
});

const sale = {
  what: 'whole',
  price: '30',
  fees: '3',
  postage: '2.50',
  listedOn: '2025-03-08',
  soldOn: '2025-03-20',
  note: '',
};

test('a whole item is sold once: the second sale names the first, and taking it back opens the item again', async () => {
  await post(app, `/items/${fan}/sales`, sale);
  expect(findItem(ledger.db, fan)).toMatchObject({ status: 'sold whole', closed_on: '2025-03-20' });
  expect(text((await get(app, `/items/${fan}/sales`)).body)).toContain(
    '$24.50 net, the whole item $30.00 less fees $3.00 and postage $2.50, sold 20 Mar 2025 after 12 days',
  );
  const again = await post(app, `/items/${fan}/sales`, { ...sale, price: '31' });
  expect(text(again.body)).toContain(`Item ${fan} was sold already, on 20 Mar 2025 for $30.00.`);
  expect(again.body).toContain('value="31"');
  const started = await post(app, `/items/${fan}/teardown/clock`, {});
  expect([started.statusCode, text(started.body)]).toEqual([422, expect.stringContaining('was sold whole')]);
  await post(app, '/part-sales/1/undo', {});
  expect(findItem(ledger.db, fan)?.status).toBe('waiting');
  expect((await post(app, '/part-sales/1/undo', {})).body).toContain('already taken back');
  expect((await get(app, `/items/${fan}/sales?again=1`)).body).toContain('value="30.00"');
});

test('as long as its sale stands an item stays sold: the page and the trail say to take the sale back', async () => {
  await post(app, `/items/${fan}/sales`, sale);
  const reopened = await post(app, `/items/${fan}/reopening`, {});
  expect([reopened.statusCode, text(reopened.body)]).toEqual([
    422,
    expect.stringContaining('It is written down as sold whole. Take that sale back, and it waits again.'),
  ]);
  expect(() => changeItem(ledger, fan, { status: 'waiting', closed_on: null }, 'put an item back')).toThrow(
    'Take that sale',
  );
  expect(findItem(ledger.db, fan)?.status).toBe('sold whole');
  const acts = ledger.db.sqlite.prepare("select act from event where act like '%whole%'").pluck().all();
  expect(acts).toEqual(['sold an item whole']);
});

test('an item that has weighings in bins is not sold whole', async () => {
  await post(app, `/items/${fan}/teardown/outputs`, outputs({ 'bin-1': 'CU2', 'gross-1': '5' }));
  const answer = await post(app, `/items/${fan}/sales`, sale);
  expect([answer.statusCode, text(answer.body)]).toEqual([
    422,
    expect.stringContaining('cannot be sold whole any more'),
  ]);
  expect(rows('part_sale')).toBe(0);
});

test('a part is kept, listed, sold once, and its sale stands before it is taken back', async () => {
  await post(app, `/items/${fan}/teardown/outputs`, outputs({ 'part-1': 'remote control' }));
  expect(text((await get(app, '/items/parts')).body)).toContain(
    'remote control Item 1, Ceiling fan, white not weighed 20 Mar 2025, today',
  );
  const part = { ...sale, what: '1', price: '12', fees: '', postage: '' };
  await post(app, `/items/${fan}/sales`, part);
  const again = await post(app, `/items/${fan}/sales`, part);
  expect(text(again.body)).toContain('remote control was sold already, on 20 Mar 2025 for $12.00.');
  expect((await post(app, '/item-outputs/1/undo', {})).body).toContain('Take its sale back first.');
  const page = text((await get(app, '/items/parts')).body);
  expect(page).toContain('No part is kept that was not sold.');
  expect(page).toContain('Ceiling fan 1 $12.00 12');
  expect(findItem(ledger.db, fan)?.status).toBe('waiting');
});

test('a sale says what is wrong with its days and its part, and keeps what was typed', async () => {
  const said = async (fields: Record<string, string>) =>
    text((await post(app, `/items/${fan}/sales`, { ...sale, ...fields })).body);
  expect(await said({ listedOn: '2025-03-21' })).toContain('cannot have been listed after it was sold');
  expect(await said({ soldOn: '2025-04-01' })).toContain('has not come yet');
  expect(await said({ soldOn: '2025-02-01', listedOn: '' })).toContain('before the item was picked up');
  expect(await said({ what: '99' })).toContain('Choose a part of this item');
  expect(await said({ what: '' })).toContain('Choose what was sold.');
  expect(await said({ price: '-1' })).toContain('cannot be negative');
  expect(rows('part_sale')).toBe(0);
});

test('every act stands in the trail, with the page on which it is put right', async () => {
  await post(app, `/items/${fan}/teardown/minutes`, { minutes: '45', workedOn: '2025-03-20', note: '' });
  await post(
    app,
    `/items/${fan}/teardown/outputs`,
    outputs({ 'part-1': 'remote control', 'waste-1': '', 'wasteNet-1': '1' }),
  );
  await post(app, `/items/${fan}/sales`, { ...sale, what: '1' });
  await post(app, '/part-sales/1/undo', {});
  await post(app, '/minutes/1/undo', {});
  const { body } = await get(app, '/trail');
  for (const act of [
    'Wrote down minutes',
    'Kept a part',
    'Wrote down waste',
    'Sold a part',
    'Took a sale for reuse back',
    'Took minutes back',
  ]) {
    expect(body).toContain(act);
  }
  for (const href of [`/items/${fan}/teardown#time`, `/items/${fan}/teardown#gave`, `/items/${fan}/sales`]) {
    expect(body).toContain(`href="${href}"`);
    expect((await get(app, href.split('#')[0] ?? '')).statusCode).toBe(200);
  }
});

test('the page of an item says what its teardown came to, and where its sheet is', async () => {
  await post(app, `/items/${fan}/teardown/minutes`, { minutes: '1:15', workedOn: '2025-03-20', note: '' });
  await post(app, `/items/${fan}/teardown/outputs`, outputs({ 'bin-1': 'CU2', 'gross-1': '5', 'container-1': '' }));
  await post(app, `/items/${fan}/teardown/clock`, {});
  const show = new Show({ settings: ledger.settings, today: now.today(), isDemo: false, isStranger: false, path: '/' });
  const found = findItem(ledger.db, fan);
  if (found === undefined) throw new Error('no item');
  const section = String(teardownSection(show, readTeardownSummary(ledger, found)));
  expect(text(section)).toContain('1 h 15 min of work, and the time is running now.');
  expect(text(section)).toContain('No. 2 copper 5.00 25.0 %');
  expect(section).toContain(`href="${sheetOf(fan)}"`);
  const sales = String(partSalesSection(show, readPartSales(ledger, found, {})));
  expect(text(sales)).toContain('Nothing of it was sold for reuse.');
  expect(sales).toContain(`href="/items/${fan}/sales"`);
});

test('cautions stand before everything else', async () => {
  const oven = ledger.db.insert('item_kind', {
    name: 'Microwave oven',
    cautions: '',
    as_is_grade_id: null,
    rule_minutes: '',
    note: '',
  });
  ledger.db.sqlite.prepare('update item set item_kind_id = ?').run(oven);
  const body = await pageOf();
  expect(body.indexOf('Stored charge in microwave ovens')).toBeGreaterThan(0);
  expect(body.indexOf('Stored charge in microwave ovens')).toBeLessThan(body.indexOf('id="time"'));
});

test('Back to where a form was posted leads to the sheet', async () => {
  for (const path of ['outputs', 'outputs/rows', 'clock/stop', 'minutes', 'finish']) {
    const { statusCode, headers } = await get(app, `${sheetOf(fan)}/${path}`);
    expect([path, statusCode, headers.location]).toEqual([path, 303, sheetOf(fan)]);
  }
});
