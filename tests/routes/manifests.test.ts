import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import { nameGradesAtYard, saveContainer, saveScale, saveYardScale } from '../../server/setup/acts.ts';
import { day } from '../../server/units/day.ts';
import {
  BAD_FIGURES,
  binId,
  get,
  gradeId,
  lb,
  massIn,
  newApp,
  newLedger,
  newYard,
  post,
  setUpWorkedExample,
  weighIn,
} from '../helper.ts';
import { sell } from '../sales.ts';

let ledger: Ledger;
let app: FastifyInstance;

beforeEach(async () => {
  ledger = newLedger();
  const { yardId } = setUpWorkedExample(ledger);
  saveContainer(ledger, null, { name: 'blue tub', tare_typed: '3.60', tare_ug: lb('3.60') });
  saveScale(ledger, null, { name: 'floor scale', unit: 'lb', division: '', class: '', tolerance: '', capacity: '' });
  weighIn(ledger, 'CU2', '61.4');
  weighIn(ledger, 'WLO', '48.25');
  for (const [grade, price] of [
    ['No. 2 copper', '3.60'],
    ['Insulated wire, low recovery', '1.10'],
  ] as const) {
    const seenOn = day(grade === 'No. 2 copper' ? '2025-03-15' : '2025-02-01');
    recordQuote(ledger, { yardId, gradeId: gradeId(ledger, grade), price, per: 'lb', seenOn, seenWhere: '' });
  }
  nameGradesAtYard(ledger, yardId, new Map([[gradeId(ledger, 'No. 2 copper'), '#2 <CU>']]));
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const pluck = (query: string) => ledger.db.sqlite.prepare(query).pluck().get();
const rows = (table: string) => pluck(`select count(*) from ${table}`);
let keys = 0;
const key = () => {
  keys += 1;
  return `manifest-key-${keys}`;
};

/** Begins manifest 1 with CU2 as load 1 and WLO as load 2. */
async function begin(): Promise<void> {
  const bins = `${binId(ledger, 'CU2')},${binId(ledger, 'WLO')}`;
  const answer = await post(app, '/manifests', { requestKey: key(), yard: '1', bins, note: '' });
  expect([answer.statusCode, answer.headers.location]).toEqual([303, '/manifests/1']);
}

/** The fields of both loads as the form sends them untouched. */
const untouched = {
  'gross-1': '',
  'tare-1': '',
  'container-1': '',
  'unit-1': 'lb',
  'scale-1': '',
  'empties-1': '1',
  'gross-2': '',
  'tare-2': '',
  'container-2': '',
  'unit-2': 'lb',
  'scale-2': '',
  'empties-2': '1',
};
const loading = () => ({ ...untouched, requestKey: key(), loadedOn: '2025-03-20' });

describe('a new manifest', () => {
  test('offers the bins that hold something, with their value at the chosen yard and stale quotes marked', async () => {
    newYard(ledger, 'Demo Yard South');
    const blank = await get(app, '/manifests/new');
    expect(blank.body).toContain('choose a yard');
    expect(blank.body).not.toContain('YB1');
    const chosen = await get(app, '/manifests/new?yard=1&bins=1');
    expect(chosen.body).toContain('$221.04');
    expect(chosen.body.match(/class="stale"/g)).toHaveLength(1);
    expect(chosen.body).toMatch(/value="1" checked/);
    // 221.04 and 48.25 lb at 1.10, which is 53.08.
    expect(chosen.body).toContain('$274.12');
    expect(chosen.body).toContain('1 bin ticked');
    const fragment = await get(app, '/manifests/new/bins?yard=2&bins=1,2');
    expect(fragment.body).toContain('no quote');
    expect(fragment.body).not.toContain('<html');
  });

  test('comes back with what was chosen when something is missing, and stores nothing', async () => {
    for (const [fields, sentence] of [
      [{ yard: '', bins: '1' }, 'Choose a yard'],
      [{ yard: '99', bins: '1' }, 'Choose a yard from the list'],
      [{ yard: '１', bins: '1' }, 'Choose one from the list'],
      [{ yard: '1', bins: '' }, 'Tick at least one bin'],
      [{ yard: '1', bins: 'NaN' }, 'Tick at least one bin'],
      [{ yard: '1', bins: '1,99' }, 'Choose bins from the list'],
      [{ yard: '1', bins: '1', note: 'n'.repeat(10_000) }, 'At most 2000 characters'],
    ] as const) {
      const answer = await post(app, '/manifests', { requestKey: key(), note: 'kept', ...fields });
      expect(answer.statusCode).toBe(422);
      expect(answer.body).toContain(sentence);
      expect(answer.body).toContain('note' in fields ? 'nnnnn' : 'kept');
    }
    expect([rows('manifest'), rows('manifest_line'), rows('request')]).toEqual([0, 0, 0]);
  });

  test('says what to set up first', async () => {
    ledger.db.sqlite.exec('delete from yard_grade; drop trigger quote_no_delete; delete from quote; delete from yard');
    expect((await get(app, '/manifests/new')).body).toContain('There is no yard yet');
  });
});

describe('a draft', () => {
  beforeEach(begin);

  test('shows each load with the yard’s own name, its book weight and what it should bring', async () => {
    const { body } = await get(app, '/manifests/1');
    expect(body).toContain('“#2 &lt;CU&gt;” at this yard');
    expect(body).toContain('book weight 61.40 lb');
    expect(body).toContain('2 loads, as last saved: <b>109.65 lb</b>, $274.12 expected');
    expect(body).toMatch(/name="empties-1" value="1"\s+checked/);
  });

  test('keeps a reading, its container and scale, and an unticked box', async () => {
    const { 'empties-1': _, ...fields } = untouched;
    const typed = { ...fields, 'gross-1': '64.0', 'container-1': '1', 'scale-1': '1' };
    const answer = await post(app, '/manifests/1/weights', { requestKey: key(), ...typed });
    expect(answer.headers.location).toBe('/manifests/1?saved=1');
    expect(loadsOf(ledger.db, 1)[0]).toMatchObject({
      weighed: 'load-out',
      mass_ug: lb('60.4'),
      gross_typed: '64.0',
      tare_typed: '3.60',
      container_name: 'blue tub',
      scale_name: 'floor scale',
      empties_bin: 0,
    });
    expect(loadsOf(ledger.db, 1)[1]).toMatchObject({ weighed: 'book', mass_ug: null, empties_bin: 1 });
    const { body } = await get(app, '/manifests/1?saved=1');
    expect(body).toContain('The weights are saved.');
    expect(body).toContain('value="64.0"');
    expect(body).not.toMatch(/name="empties-1" value="1"\s+checked/);
  });

  test('a reading that is emptied again goes back to the book weight', async () => {
    await post(app, '/manifests/1/weights', { requestKey: key(), ...untouched, 'gross-1': '60' });
    await post(app, '/manifests/1/weights', { requestKey: key(), ...untouched });
    expect(loadsOf(ledger.db, 1)[0]).toMatchObject({ weighed: 'book', mass_ug: null, gross_typed: '' });
  });

  test('asks in words about a weight far from the book, and does not stand in its way', async () => {
    const fields = { ...untouched, 'gross-1': '34.5 kg' };
    const asked = await get(app, `/manifests/1/lines/1/understood?${new URLSearchParams(fields)}`);
    expect(asked.body).toContain('Is it as read, and in the right unit?');
    expect((await post(app, '/manifests/1/weights', { requestKey: key(), ...fields })).statusCode).toBe(303);
    expect((await get(app, '/manifests/1')).body).toContain('Is it as read, and in the right unit?');
    const refused = await post(app, '/manifests/1/loading', { ...loading(), ...fields });
    expect([refused.statusCode, refused.body.includes('A: 76.06 lb is far above the book weight of CU2')]).toEqual([
      422,
      true,
    ]);
    expect(refused.body).toContain('name="confirm"');
    expect((await post(app, '/manifests/1/loading', { ...loading(), ...fields, confirm: '1' })).statusCode).toBe(303);
  });

  test('asks about a reading that its scale cannot weigh', async () => {
    const scale = {
      name: 'Bench scale',
      unit: 'lb',
      division: '0.05',
      class: '',
      tolerance: '',
      capacity: '50',
    } as const;
    const fields = { ...untouched, 'gross-1': '61', 'scale-1': String(saveScale(ledger, null, scale)) };
    const refused = await post(app, '/manifests/1/loading', { ...loading(), ...fields });
    expect([refused.statusCode, refused.body.includes('A: Bench scale goes up to 50.00 lb')]).toEqual([422, true]);
  });

  test('says in a word what a small difference does', async () => {
    const fields = new URLSearchParams({ ...untouched, 'gross-1': '61' });
    const { body } = await get(app, `/manifests/1/lines/1/understood?${fields}`);
    expect(body).toContain('0.40 lb below the book, booked as a count difference');
    expect(body).toContain('$219.60 expected');
  });

  test.each(['/manifests/1/weights', '/manifests/1/loading', '/manifests/1/lines', '/manifests/1/lines/2/removal'])(
    'figures that cannot be read come back from %s beside their field, and nothing is stored',
    async (address) => {
      const wrong: [field: string, bad: string][] = [
        ...BAD_FIGURES.map((bad): [string, string] => ['gross-1', bad]),
        ...BAD_FIGURES.map((bad): [string, string] => ['tare-1', bad]),
        ['gross-1', '0'],
        ['gross-1', '100000 t'],
        ['container-1', '99'],
        ['container-1', 'x'],
        ['scale-1', '99'],
        ['unit-1', 'parsec'],
      ];
      for (const [field, bad] of wrong) {
        const fields = { ...loading(), bins: '3', 'gross-1': '60', 'gross-2': '47.11', [field]: bad };
        const answer = await post(app, address, fields);
        expect([field, bad.slice(0, 20), answer.statusCode]).toEqual([field, bad.slice(0, 20), 422]);
        expect(answer.body).toContain(`id="f-${field}-problem"`);
        expect(answer.body).toContain('47.11');
      }
      expect(loadsOf(ledger.db, 1).map((load) => load.gross_typed)).toEqual(['', '']);
      expect([rows('manifest_line'), rows('request')]).toEqual([2, 1]);
    },
  );

  test('a form that comes back sums what is typed, and foretells nothing of it', async () => {
    // 20 lb sold and 19 paid for: of 109.65 lb, a twentieth of the copper, and as much of the wire for want of better.
    sell(ledger, {
      yardId: 1,
      number: '7',
      on: '2025-03-10',
      loads: [{ code: 'CU2', net: '20', price: '3.60' }],
      lines: [
        { loads: [0], paidAs: 'No. 2 copper', gross: '20', deduction: '1', net: '19', price: '3.60', amount: '68.40' },
      ],
    });
    weighIn(ledger, 'CU2', '20');
    const foretold =
      'By past sales of these grades, here or at any yard, about 5.48 lb will not be paid for: reckon with';
    expect((await get(app, '/manifests/1')).body).toContain(foretold);
    const typed = { ...untouched, 'gross-1': '60.4', 'gross-2': 'abc' };
    const { body } = await post(app, '/manifests/1/weights', { requestKey: key(), ...typed });
    expect(body).toContain('2 loads, as typed (B by the book): <b>108.65 lb</b>');
    expect(body).not.toContain('By past sales');
  });

  test('has a way to the sheet', async () => {
    expect((await get(app, '/manifests/1')).body).toContain('href="/manifests/1/sheet">See the sheet</a>');
  });

  test('a tare above its reading, or without one, is asked about', async () => {
    const above = await post(app, '/manifests/1/weights', {
      requestKey: key(),
      ...untouched,
      'gross-1': '5',
      'tare-1': '5',
    });
    expect(above.body).toContain('The tare (5.00 lb) is not below the reading (5.00 lb).');
    const alone = await post(app, '/manifests/1/weights', { requestKey: key(), ...untouched, 'tare-1': '5' });
    expect(alone.body).toContain('There is a tare without a reading.');
    expect(alone.statusCode).toBe(422);
  });

  test('takes more bins and gives one up without losing what was typed', async () => {
    const typed = { ...untouched, 'gross-1': '60.5' };
    await post(app, '/manifests/1/lines', { requestKey: key(), ...typed, bins: String(binId(ledger, 'YB1')) });
    expect(loadsOf(ledger.db, 1).map((load) => [load.label, load.gross_typed])).toEqual([
      ['A', '60.5'],
      ['B', ''],
      ['C', ''],
    ]);
    // What is typed for the load that goes does not stand in its way.
    const removal = { requestKey: key(), ...untouched, 'gross-1': '60.9', 'gross-2': 'NaN' };
    expect((await post(app, '/manifests/1/lines/2/removal', removal)).statusCode).toBe(303);
    expect(loadsOf(ledger.db, 1).map((load) => [load.label, load.gross_typed])).toEqual([
      ['A', '60.9'],
      ['C', ''],
    ]);
    const none = await post(app, '/manifests/1/lines', { requestKey: key(), ...typed });
    expect(none.body).toContain('Tick at least one bin');
  });

  test('is set aside, stays in the list, and is copied', async () => {
    await post(app, '/manifests/1/set-aside', { requestKey: key() });
    expect((await get(app, '/manifests/1')).body).toContain('Set aside before it was loaded');
    expect((await get(app, '/manifests?status=returned')).body).toContain('set aside');
    const answer = await post(app, '/manifests/1/copies', { requestKey: key() });
    expect(answer.headers.location).toBe('/manifests/2');
    expect(loadsOf(ledger.db, 2).map((load) => load.bin_code)).toEqual(['CU2', 'WLO']);
  });
});

describe('loading', () => {
  beforeEach(begin);

  test('takes the weights that were typed a moment ago, and shows what was frozen', async () => {
    const fields = { ...loading(), 'gross-1': '64.2', 'container-1': '1', 'scale-1': '1' };
    const answer = await post(app, '/manifests/1/loading', fields);
    expect([answer.statusCode, answer.headers.location]).toEqual([303, '/manifests/1']);
    const { body } = await get(app, '/manifests/1');
    expect(body).toContain('weighed: 64.2 lb − 3.60 lb (blue tub, floor scale)');
    expect(body).toContain('60.60');
    expect(body).toContain('$218.16');
    expect(body).toContain('/tickets/new?manifest=1');
    expect([massIn(ledger, 'CU2'), massIn(ledger, 'WLO')]).toEqual([0, 0]);
  });

  test('sent twice loads once', async () => {
    const fields = loading();
    const [first, second] = [
      await post(app, '/manifests/1/loading', fields),
      await post(app, '/manifests/1/loading', fields),
    ];
    expect([second.statusCode, second.headers.location]).toEqual([303, first.headers.location]);
    // Another key is another try: the page says that it is loaded already.
    const third = await post(app, '/manifests/1/loading', { ...fields, requestKey: key() });
    expect(third.statusCode).toBe(422);
    expect(third.body).toContain('Manifest 1 is loaded already');
    expect(pluck("select count(*) from transfer where reason = 'loaded'")).toBe(2);
  });

  test('without the fields of the loads keeps what was saved before', async () => {
    await post(app, '/manifests/1/weights', { requestKey: key(), ...untouched, 'gross-1': '60' });
    await post(app, '/manifests/1/loading', { requestKey: key(), loadedOn: '2025-03-20' });
    expect(loadsOf(ledger.db, 1).map((load) => load.mass_ug)).toEqual([lb('60'), lb('48.25')]);
  });

  test('a load above a bin that is not emptied brings the sentence and the tick, then books the difference', async () => {
    const { 'empties-1': _, ...fields } = { ...loading(), 'gross-1': '62', 'gross-2': '48' };
    const asked = await post(app, '/manifests/1/loading', fields);
    expect(asked.statusCode).toBe(422);
    expect(asked.body).toContain('CU2 holds 61.40 lb by the book, 0.60 lb less than leaves it here.');
    expect(asked.body).toContain('id="f-gross-1-problem"');
    expect(asked.body).toContain('name="bookShortfall"');
    expect(asked.body).toContain('value="48"');
    expect(loadsOf(ledger.db, 1)[0]?.mass_ug).toBe(null);
    expect((await post(app, '/manifests/1/loading', { ...fields, bookShortfall: '1' })).statusCode).toBe(303);
    expect([massIn(ledger, 'CU2'), rows('load_return')]).toEqual([0, 0]);
  });

  test.each(['', '2025-02-30', '03/20/2025', '2025-03-21', '１２', 'x'.repeat(10_000)])(
    'refuses the day %s',
    async (bad) => {
      const answer = await post(app, '/manifests/1/loading', { ...loading(), loadedOn: bad, 'gross-1': '60.75' });
      expect(answer.statusCode).toBe(422);
      expect(answer.body).toContain('id="f-loadedOn-problem"');
      expect(answer.body).toContain('60.75');
      expect(rows('transfer')).toBe(2);
    },
  );

  test('for a coming day says what a draft is for, and offers no count difference', async () => {
    const answer = await post(app, '/manifests/1/loading', {
      ...loading(),
      loadedOn: '2025-03-27',
      'gross-1': '60.75',
    });
    expect(answer.statusCode).toBe(422);
    expect(answer.body).toContain(
      'A load is written down on the day it leaves. Load it then; until that day it stays a draft.',
    );
    expect(answer.body).not.toContain('name="bookShortfall"');
  });

  test('on a day before the weighings offers to book the difference', async () => {
    weighIn(ledger, 'CU2', '40', '2025-03-12');
    const fields = { ...loading(), loadedOn: '2025-03-10', 'gross-1': '100' };
    const answer = await post(app, '/manifests/1/loading', fields);
    expect([answer.statusCode, answer.body.includes('Check the day, or tick')]).toEqual([422, true]);
    expect(answer.body).toContain('name="bookShortfall"');
  });

  test('on an earlier day counts for that day', async () => {
    await post(app, '/manifests/1/loading', { ...loading(), loadedOn: '2025-03-10' });
    expect(pluck("select distinct occurred_on from transfer where reason = 'loaded'")).toBe('2025-03-10');
    // The quote for copper was seen on 15 March.
    expect(loadsOf(ledger.db, 1).map((load) => load.price)).toEqual([null, '1.10']);
  });
});

describe('what was loaded', () => {
  beforeEach(async () => {
    await begin();
    await post(app, '/manifests/1/loading', loading());
  });

  test('comes back load by load or all at once, and is sold after all', async () => {
    const back = { requestKey: key(), returnedOn: '2025-03-20', reason: 'price too <low>' };
    expect((await post(app, '/loads/1/return', back)).headers.location).toBe('/manifests/1');
    expect([massIn(ledger, 'CU2'), massIn(ledger, 'WLO')]).toEqual([lb('61.4'), 0]);
    expect((await get(app, '/manifests/1')).body).toContain('back in CU2 since 20 Mar 2025: price too &lt;low&gt;');
    await post(app, '/manifests/1/return', { requestKey: key(), returnedOn: '2025-03-20', reason: '' });
    expect(massIn(ledger, 'WLO')).toBe(lb('48.25'));
    expect((await get(app, '/manifests')).body).toContain('brought back');
    await post(app, '/loads/1/return/undo', { requestKey: key() });
    expect([massIn(ledger, 'CU2'), pluck('select status from manifest')]).toEqual([0, 'loaded']);
  });

  test('a return that cannot be read comes back with what was typed', async () => {
    for (const [fields, field] of [
      [{ returnedOn: '2025-02-30' }, 'returnedOn'],
      [{ returnedOn: '2025-03-21' }, 'returnedOn'],
      [{ returnedOn: '2025-03-19' }, 'returnedOn'],
      [{ returnedOn: '' }, 'returnedOn'],
      [{ reason: 'y'.repeat(10_000) }, 'reason'],
    ] as const) {
      for (const address of ['/loads/1/return', '/manifests/1/return']) {
        const typed = { requestKey: key(), returnedOn: '2025-03-20', reason: 'kept as typed', ...fields };
        const answer = await post(app, address, typed);
        expect([address, field, answer.statusCode]).toEqual([address, field, 422]);
        expect(answer.body).toContain(`id="f-${field}-problem"`);
        expect(answer.body).toContain('reason' in fields ? 'yyyy' : 'kept as typed');
      }
    }
    expect(rows('load_return')).toBe(0);
  });

  test('a return whose material is gone again offers to book the difference', async () => {
    await post(app, '/loads/1/return', { requestKey: key(), returnedOn: '2025-03-20', reason: '' });
    const bins = String(binId(ledger, 'CU2'));
    await post(app, '/manifests', { requestKey: key(), yard: '1', bins, note: '' });
    await post(app, '/manifests/2/loading', { requestKey: key(), loadedOn: '2025-03-20' });
    const asked = await post(app, '/loads/1/return/undo', { requestKey: key() });
    expect([asked.statusCode, asked.body.includes('id="f-bookShortfall"')]).toEqual([422, true]);
    const told = await post(app, '/loads/1/return/undo', { requestKey: key(), bookShortfall: '1' });
    expect([told.statusCode, massIn(ledger, 'CU2')]).toEqual([303, 0]);
  });

  test('every id on the page is there once', async () => {
    await post(app, '/loads/1/return', { requestKey: key(), returnedOn: '2025-03-20', reason: '' });
    await post(app, '/manifests', { requestKey: key(), yard: '1', bins: '1', note: '' });
    for (const address of [
      '/manifests/1',
      '/manifests/2',
      '/manifests',
      '/manifests/new?yard=1',
      '/manifests/1/sheet',
    ]) {
      const ids = [...(await get(app, address)).body.matchAll(/ id="([^"]+)"/g)].map(([, id]) => id);
      expect([address, ids.length - new Set(ids).size]).toEqual([address, 0]);
    }
  });
});

describe('the list', () => {
  test('filters by yard and status, and ignores what is no filter', async () => {
    const south = newYard(ledger, 'Demo Yard South');
    await begin();
    await post(app, '/manifests/1/loading', loading());
    weighIn(ledger, 'CU2', '5');
    await post(app, '/manifests', { requestKey: key(), yard: String(south), bins: '1', note: '' });
    const count = async (query: string) =>
      ((await get(app, `/manifests${query}`)).body.match(/<a href="\/manifests\/\d+">/g) ?? []).length;
    expect(await Promise.all(['', '?yard=1', '?status=draft', '?yard=1&status=draft'].map(count))).toEqual([
      2, 1, 1, 0,
    ]);
    expect(await Promise.all(['?yard=x&status=y&page=-1', '?page=9'].map(count))).toEqual([2, 0]);
    const { body } = await get(app, '/manifests?status=loaded');
    expect(body).toContain('loaded, no ticket yet');
    expect(body).toContain('109.65');
  });

  test('pages, with the filter kept', async () => {
    const insert = ledger.db.sqlite.prepare(
      "insert into manifest (yard_id, number, status, drafted_on) values (1, ?, 'draft', '2025-03-20')",
    );
    for (let number = 1; number <= 101; number += 1) insert.run(`M-${number}`);
    const { body } = await get(app, '/manifests?yard=1');
    expect(body).toContain('href="/manifests?yard=1&amp;page=2"');
    expect((await get(app, '/manifests?yard=1&status=&page=2')).body).toContain('Manifest M-1<');
  });
});

describe('the sheet', () => {
  test('has what leaves in the yard’s unit, boxes for the yard, and the cautions of its grades', async () => {
    ledger.db.sqlite.exec("update yard set unit = 'kg'");
    await begin();
    await post(app, '/manifests/1/loading', { ...loading(), 'gross-1': '64.2', 'container-1': '1' });
    const { body } = await get(app, '/manifests/1/sheet');
    expect(body).toMatch(/href="\/static\/sheet\.css\?v=[\w-]{10}"/);
    // 64.2 lb is 29.121 kg, 3.6 lb is 1.633 kg, 60.6 lb is 27.488 kg (NIST Handbook 44, Appendix C: 0.453 592 37 kg).
    for (const figure of ['29.121', '1.633', '27.488']) expect(body).toContain(figure);
    expect(body).toContain('“#2 &lt;CU&gt;”');
    expect(body).toContain('$3.60 per lb');
    // Seven for each of two loads, and for each of two blank rows.
    expect(body.match(/class="box"/g)).toHaveLength(28);
    expect(body.match(/>also<\/th>/g)).toHaveLength(2);
    expect(body.match(/Manifest 1 · /g)).toHaveLength(1);
    expect(body).toContain('No burning of insulation (load B)');
    expect(body).toContain('Heavy loads (load A)');
    expect(body).toContain('photo ID, where the law asks for it');
    expect(body).not.toMatch(/ style="| onclick=/);
  });

  /** Loads both bins, the copper 60.6 lb net in the tub on a known scale, and shows a page of it. */
  async function loadedInTub(path: string): Promise<string> {
    const scale = { unit: 'lb', division: '0.05', class: '', tolerance: '0.1', capacity: '' } as const;
    const scaleId = saveScale(ledger, null, { name: 'Bench scale', ...scale });
    await begin();
    const fields = { 'gross-1': '64.2', 'container-1': '1', 'scale-1': String(scaleId) };
    await post(app, '/manifests/1/loading', { ...loading(), ...fields });
    return (await get(app, path)).body;
  }

  test.each(['/manifests/1', '/manifests/1/sheet'])(
    'as on %s, says at which weight or less to ask, and what the display then shows with the container',
    async (path) => {
      // 60.6 lb less 0.72 is 59.88, with the tub 63.48; the yard shows halves.
      const body = await loadedInTub(path);
      expect(body).toContain('if the yard’s scale shows this or less (gross less tare, before any deduction)');
      expect(body).toMatch(/59\.5<.*gross 63\.0/);
      expect(body).not.toContain('on the truck');
    },
  );

  test('names the further scale that a load goes over, which weighs the truck along', async () => {
    saveYardScale(ledger, 1, null, { name: 'truck scale', division: '2', class: 'III', families: ['copper'] });
    const body = await loadedInTub('/manifests/1/sheet');
    expect(body).toContain('on the truck scale');
    expect(body).not.toMatch(/gross \d/);
  });

  test('stays at home with its note, which is marked as one', async () => {
    await begin();
    ledger.db.sqlite.exec("update manifest set note = 'When the bucket is full.'");
    const { body } = await get(app, '/manifests/1/sheet');
    expect(body).toContain('<h1>Sheet to take along</h1>');
    expect(body).toMatch(/for what the yard says; the sheet itself\s+stays with you\./);
    expect(body).toContain('Note: When the bucket is full.');
  });

  test('of a draft says that it is one, and of one set aside that too', async () => {
    await begin();
    expect((await get(app, '/manifests/1/sheet')).body).toContain('draft, not loaded yet');
    await post(app, '/manifests/1/set-aside', { requestKey: key() });
    expect((await get(app, '/manifests/1/sheet')).body).toContain('set aside, never loaded');
  });
});

test('what is not there is said so, calmly', async () => {
  await begin();
  for (const address of ['/manifests/99', '/manifests/x', '/manifests/99/sheet', '/manifests/1/lines/99/understood']) {
    expect([address, (await get(app, address)).statusCode]).toEqual([address, 404]);
  }
  for (const address of ['/manifests/99/loading', '/manifests/x/weights', '/loads/99/return', '/loads/x/return/undo']) {
    expect([address, (await post(app, address, { requestKey: key() })).statusCode]).toEqual([address, 404]);
  }
});
