import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { cautions } from '../../seed/cautions.ts';
import { starterKinds } from '../../seed/item-kinds.ts';
import type { Ledger } from '../../server/context.ts';
import { listItemKinds } from '../../server/items/kind-queries.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { amountMinor } from '../../server/money/money.ts';
import { changeSettings } from '../../server/setup/acts.ts';
import { listGrades } from '../../server/setup/queries.ts';
import { day } from '../../server/units/day.ts';
import { recognitionHelp } from '../../views/items/recognise.ts';
import {
  binId,
  get as getFrom,
  gradeId,
  newApp,
  newLedger,
  post as postTo,
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

type Fields = Record<string, string>;
const get = (url: string) => getFrom(app, url);
const post = (url: string, fields: Fields) => postTo(app, url, fields);

const PATH = '/setup/item-kinds';
const cord = (more: Fields = {}): Fields => ({
  name: 'Appliance cord',
  cautions: 'stored-charge',
  asIsGrade: String(gradeId(ledger, 'Insulated wire, low recovery')),
  ruleMinutes: '4',
  'yieldGrade-1': String(gradeId(ledger, 'No. 2 copper')),
  'yieldPercent-1': '40',
  note: 'weighed without plugs',
  ...more,
});
const beside = (body: string, field: string) => new RegExp(`id="f-${field}-problem">([^<]*)`).exec(body)?.[1] ?? '';

describe('kinds of items', () => {
  test('are added, shown with what was typed and named as rules of thumb, and changed', async () => {
    const added = await post(PATH, cord());
    expect([added.statusCode, added.headers.location]).toEqual([303, `${PATH}?added=1`]);
    const { body } = await get(`${PATH}?added=1`);
    expect(body).toContain('Appliance cord is added.');
    expect(body).toContain('as is: Insulated wire, low recovery · rule of thumb: No. 2 copper 40 %, 4 minutes');
    const form = (await get(`${PATH}/1`)).body;
    expect(form).toMatch(/name="yieldPercent-1" value="40"/);
    expect(form).toMatch(/value="stored-charge"\s+checked/);
    expect((await post(`${PATH}/1`, cord({ 'yieldPercent-1': '38.5 %', cautions: '' }))).headers.location).toBe(
      `${PATH}?saved=1`,
    );
    expect(listItemKinds(ledger.db)[0]).toMatchObject({ cautions: '', yields: [{ percent: '38.5' }] });
  });

  test('have their cautions on their page before anything else that is known of them', async () => {
    await post(PATH, cord({ name: 'Old fridge' }));
    const { body } = await get(`${PATH}/1`);
    const places = [
      'Units that held refrigerant',
      'Local codes and licensed practice go first.',
      'What is known of it',
    ];
    const at = places.map((text) => body.indexOf(text));
    expect(at.every((place) => place > 0)).toBe(true);
    expect(at).toEqual(at.toSorted((a, b) => a - b));
  });

  test.each<[what: string, change: Fields, field: string, sentence: string]>([
    ['no name', { name: '' }, 'name', 'Enter a name.'],
    ['a name of an essay', { name: 'x'.repeat(81) }, 'name', 'At most 80 characters'],
    ['a percentage above 100', { 'yieldPercent-1': '140' }, 'yieldPercent-1', 'At most 100 %'],
    ['a percentage below zero', { 'yieldPercent-1': '-4' }, 'yieldPercent-1', 'cannot be negative'],
    ['a percentage of nothing', { 'yieldPercent-1': '0' }, 'yieldPercent-1', 'Leave the row empty'],
    ['a percentage without a grade', { 'yieldGrade-1': '' }, 'yieldGrade-1', 'Choose a grade'],
    ['a grade without a percentage', { 'yieldPercent-1': '' }, 'yieldPercent-1', 'Enter a percentage.'],
    ['a grade that is not there', { 'yieldGrade-1': '99' }, 'yieldGrade-1', 'Choose a grade'],
    ['as is a grade that is not there', { asIsGrade: '99' }, 'asIsGrade', 'Choose a grade'],
    ['minutes below zero', { ruleMinutes: '-5' }, 'ruleMinutes', 'cannot be negative'],
    ['minutes of no number', { ruleMinutes: 'an hour' }, 'ruleMinutes', 'has to be a number'],
    ['minutes of a month', { ruleMinutes: '43200' }, 'ruleMinutes', 'at most 6000'],
    ['no minutes', { ruleMinutes: '0' }, 'ruleMinutes', 'Leave this empty'],
    ['a caution that is none', { cautions: 'stored-charge,dragons' }, 'cautions', 'Choose cautions from the list.'],
  ])('with %s are refused beside the field, with everything typed', async (_what, change, field, sentence) => {
    const { statusCode, body } = await post(PATH, cord(change));
    expect([statusCode, listItemKinds(ledger.db)]).toEqual([422, []]);
    expect(beside(body, field)).toContain(sentence);
    expect(body).toContain('weighed without plugs');
    expect(body).toContain('<details open><summary>Add a kind of item');
  });

  test('with more than the whole, or one grade twice, are refused', async () => {
    const brass = String(gradeId(ledger, 'Yellow brass'));
    const { body } = await post(PATH, cord({ 'yieldGrade-2': brass, 'yieldPercent-2': '60.5' }));
    expect(beside(body, 'yieldPercent-2')).toBe(
      'Together this is 100.5 %. No more than 100 % of the weight can come out.',
    );
    const copper = String(gradeId(ledger, 'No. 2 copper'));
    const twice = await post(PATH, cord({ 'yieldGrade-2': copper, 'yieldPercent-2': '5' }));
    expect(beside(twice.body, 'yieldGrade-2')).toContain('stands above already');
    expect((await post(PATH, cord({ 'yieldGrade-2': brass, 'yieldPercent-2': '60' }))).statusCode).toBe(303);
  });

  test('with a name that is there are refused, whatever the case', async () => {
    await post(PATH, cord());
    const { statusCode, body } = await post(PATH, cord({ name: 'APPLIANCE CORD' }));
    expect([statusCode, beside(body, 'name')]).toEqual([
      422,
      '“APPLIANCE CORD” is already in the ledger. Choose another name.',
    ]);
  });

  test('are written with the comma where that is the decimal mark', async () => {
    changeSettings(ledger, { ...ledger.settings, decimalMark: ',' });
    await post(PATH, cord({ 'yieldPercent-1': '38,5' }));
    expect(listItemKinds(ledger.db)[0]?.yields[0]?.percent).toBe('38.5');
    expect((await get(`${PATH}/1`)).body).toContain('value="38,5"');
    expect((await get(PATH)).body).toContain('No. 2 copper 38,5 %');
  });

  test('are removed while no item is of them; the trail has them', async () => {
    await post(PATH, cord());
    expect((await get('/trail?document=item_kind-1')).body).toContain('Added a kind of item');
    expect((await post(`${PATH}/1/removal`, {})).headers.location).toBe(PATH);
    expect(listItemKinds(ledger.db)).toEqual([]);
    const trail = (await get('/trail?kind=set-up')).body;
    expect(trail).toContain('Removed a kind of item');
    expect(trail).toContain('Add it again');
    expect((await get(`${PATH}/1`)).statusCode).toBe(404);
  });

  test('are found by their name and notes', async () => {
    await post(PATH, cord());
    for (const words of ['appliance', 'without plugs']) {
      const { body } = await get(`/find?q=${encodeURIComponent(words)}`);
      expect(body).toContain(`href="${PATH}/1"`);
    }
  });
});

describe('the starter kinds', () => {
  test('are offered while some are missing, and added once', async () => {
    expect((await get(PATH)).body).toContain(`Add the starter kinds (${starterKinds.length})`);
    expect((await post(`${PATH}/starter`, {})).headers.location).toBe(`${PATH}?starter=added`);
    const { body } = await get(`${PATH}?starter=added`);
    expect(body).toContain('The trail can take them all back.');
    expect(body).not.toContain('Add the starter kinds');
    const again = await post(`${PATH}/starter`, {});
    expect([again.statusCode, again.body.includes('All the starter kinds are in the ledger already.')]).toEqual([
      422,
      true,
    ]);
  });
});

test('the page of cautions has every one with its hazard, its precaution and its source', async () => {
  const { body } = await get('/setup/cautions');
  const plain = (text: string) => text.replaceAll('&', '&amp;').replaceAll('"', '&quot;').replaceAll("'", '&#39;');
  for (const { title, hazard, precaution, basis, licence } of cautions) {
    for (const text of [title, hazard, precaution, basis, licence]) expect(body).toContain(plain(text));
  }
  expect(body).toContain('Local codes and licensed practice go first.');
  expect((await get('/setup')).body).toContain('href="/setup/cautions"');
});

describe('telling grades apart', () => {
  test('has the tests first, then each grade with what is written of it', async () => {
    ledger.db.sqlite.exec("update grade set recognise = 'Red <under> the file.', spoiled_by = 'Solder.' where id = 1");
    const { body } = await get('/bench/grades');
    expect(body.indexOf('Windings may be aluminium: scratch each one.')).toBeLessThan(body.indexOf('No. 2 copper'));
    expect(body).toContain('Red &lt;under&gt; the file.');
    expect(body).toContain('Nothing is written down.');
    expect(body).toContain('no published source');
  });

  test('beside a grade it is folded, and not there when nothing is written down', () => {
    const [grade] = listGrades(ledger.db);
    if (grade === undefined) throw new Error('no grade');
    expect(recognitionHelp(grade)).toBeNull();
    const text = String(recognitionHelp({ ...grade, recognise: 'Red.', spoiled_by: 'Solder.' }));
    expect(text).toMatch(/^<details class="recognise"><summary>How to tell/);
    expect(text).toContain('<b>Spoiled by:</b> Solder.');
  });
});

test('the sheet of a draft says what came out of a fridge, and to bring the proof of recovery', async () => {
  await post(PATH, cord({ name: 'Fridge', cautions: '' }));
  const itemId = ledger.db.insert('item', {
    item_kind_id: 1,
    name: '',
    picked_up_on: day('2025-02-20'),
    got: 'found',
    source: '',
    proof: '',
    cost_minor: amountMinor(0),
    weight_typed: '',
    weight_unit: '',
    weight_ug: null,
    note: '',
    status: 'waiting',
    depth: '',
    closed_on: null,
    disposal_minor: amountMinor(0),
    recorded_at: ledger.clock.now(),
  });
  weighIn(ledger, 'CU2', '3', '2025-03-01', { itemId });
  const id = draftManifest(ledger, { yardId: 1, binIds: [binId(ledger, 'CU2')], note: '' });
  const { body } = await get(`/manifests/${id}/sheet`);
  expect(body.replace(/\s+/g, ' ')).toContain(
    'Units that held refrigerant (load A, of fridge).</b> Bring the proof of recovery',
  );
});
