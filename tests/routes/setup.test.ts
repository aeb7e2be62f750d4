import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { openLedger } from '../../server/context.ts';
import { findBinByCode, listAllBins } from '../../server/ledger/queries.ts';
import { amountMinor } from '../../server/money/money.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import { weightFields } from '../../server/setup/forms.ts';
import {
  findContainerByName,
  findGradeByName,
  findScaleByName,
  findYardByName,
  listContainers,
  listGrades,
  listScales,
  listYardScales,
  listYards,
  readSettings,
  yardGradeNames,
} from '../../server/setup/queries.ts';
import { day } from '../../server/units/day.ts';
import {
  binId,
  clock,
  get as getFrom,
  gradeId,
  lb,
  newApp,
  newLedger,
  OWN_FIELDS,
  OWN_POST,
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

const LONG = 'x'.repeat(10_000);
const BAD_WEIGHTS = ['NaN', '1e309', '-5', '1,2,3', '１２', '5 furlongs', '101 t', '0.1234567', '9'.repeat(10_000)];

const aGrade = (): Fields => ({ name: 'Red brass', family: 'brass and bronze', quotedPer: 'lb' });
const aBin = (): Fields => ({ code: 'CU3', grade: String(gradeId(ledger, 'No. 2 copper')), fullMarkUnit: 'lb' });
const aContainer = (): Fields => ({ name: 'blue tub', tare: '2.1', unit: 'lb' });
const aScale = (): Fields => ({ name: 'bench scale', unit: 'lb', division: '0.02', class: 'III' });
const aYard = (): Fields => ({ name: 'Demo Yard South', unit: 'kg', cashStep: '0.05' });
const theLedger = (): Fields => ({
  unit: 'kg',
  currency: 'CAD',
  decimalMark: ',',
  staleQuoteDays: '30',
  scaleCheckDays: '60',
  wage: '12,50',
  wasteCost: '0,1',
  wastePer: 'kg',
});
const aYardScale = (): Fields => ({ name: 'truck scale', division: '20', class: 'III L', families: 'ferrous' });

describe('every list of the set-up', () => {
  test.each(['', '/ledger', '/grades', '/bins', '/containers', '/scales', '/yards'])('/setup%s opens', async (path) => {
    expect((await get(`/setup${path}`)).statusCode).toBe(200);
  });

  test.each(['grades', 'bins', 'containers', 'scales', 'yards'])(
    '%s answers “not found” for what is not there',
    async (list) => {
      expect((await get(`/setup/${list}/9999`)).statusCode).toBe(404);
      expect((await get(`/setup/${list}/x`)).statusCode).toBe(404);
      expect((await post(`/setup/${list}/9999`, aGrade())).statusCode).toBe(404);
    },
  );

  test('an address cannot put words of its own on a page', async () => {
    const page = await get('/setup/bins?added=%3Cb%3EPay%20me%3C%2Fb%3E');
    expect(page.body).not.toContain('Pay me');
  });
});

describe('the overview', () => {
  test('names what is still to do, and what is done', async () => {
    const { body } = await get('/setup');
    expect(body).toContain('Still to do');
    expect(body).toMatch(/Yards<\/a> <small>done/);
    expect(body).toMatch(/First price board<\/a> <small>then every bin/);
  });

  test('an empty ledger is led to the starter list first', async () => {
    const empty = newLedger();
    const other = await newApp(empty.db);
    const { body } = await other.inject({ method: 'GET', url: '/setup', headers: { host: '127.0.0.1' } });
    expect(body).toContain('To begin with');
    expect(body).toContain('<a href="/">Grades</a>');
    await other.close();
  });

  test('the list of things to do goes away once everything is there', async () => {
    await post('/setup/containers', aContainer());
    await post('/setup/scales', aScale());
    quoteSomething();
    expect((await get('/setup')).body).not.toContain('Still to do');
  });
});

function quoteSomething(): void {
  recordQuote(ledger, {
    yardId: listYards(ledger.db)[0]?.id ?? 0,
    gradeId: gradeId(ledger, 'No. 2 copper'),
    price: '3.60',
    per: 'lb',
    seenOn: day('2025-03-01'),
    seenWhere: '',
  });
}

describe('bad input', () => {
  const forms: [string, () => Fields, string, string[]][] = [
    ['/setup/grades', aGrade, 'name', ['', LONG, 'no. 2 COPPER', 'a\u0000b']],
    ['/setup/grades', aGrade, 'family', ['', 'gold dust', LONG]],
    ['/setup/grades', aGrade, 'quotedPer', ['', 'ton', 'furlong', LONG]],
    ['/setup/grades', aGrade, 'code', [LONG]],
    ['/setup/grades', aGrade, 'fallsBackTo', ['9999', 'x', '-1', '1'.repeat(16), LONG]],
    ['/setup/grades', aGrade, 'recognise', [LONG]],
    ['/setup/grades', aGrade, 'spoiledBy', [LONG]],
    ['/setup/bins', aBin, 'code', ['', 'CU 3', 'CU/3', '１２', 'ABCDEFGHIJKLM', 'cu2', '..', LONG]],
    ['/setup/bins', aBin, 'grade', ['', '9999', 'x', LONG]],
    ['/setup/bins', aBin, 'place', [LONG]],
    ['/setup/bins', aBin, 'container', ['9999', 'x', LONG]],
    ['/setup/bins', aBin, 'fullMark', [...BAD_WEIGHTS, '0']],
    ['/setup/bins', aBin, 'fullMarkUnit', ['each', 'furlong', LONG]],
    ['/setup/containers', aContainer, 'name', ['', LONG]],
    ['/setup/containers', aContainer, 'tare', ['', ...BAD_WEIGHTS]],
    ['/setup/containers', aContainer, 'unit', ['', 'each', 'furlong', LONG]],
    ['/setup/scales', aScale, 'name', ['', LONG]],
    ['/setup/scales', aScale, 'unit', ['', 'each', LONG]],
    ['/setup/scales', aScale, 'division', [...BAD_WEIGHTS, '0']],
    ['/setup/scales', aScale, 'capacity', BAD_WEIGHTS],
    ['/setup/scales', aScale, 'tolerance', BAD_WEIGHTS],
    ['/setup/scales', aScale, 'class', ['II', LONG]],
    ['/setup/yards', aYard, 'name', ['', 'demo yard NORTH', LONG]],
    ['/setup/yards', aYard, 'unit', ['', 'each', LONG]],
    ['/setup/yards', aYard, 'cashStep', ['0', '0.001', '50', 'NaN', '1e309', '-5', '1,2,3', '１２', LONG]],
    ['/setup/yards', aYard, 'scaleDivision', BAD_WEIGHTS],
    ['/setup/yards', aYard, 'scaleClass', ['IIIII', LONG]],
    ['/setup/yards', aYard, 'notes', [LONG]],
    ['/setup/ledger', theLedger, 'unit', ['', 'each', LONG]],
    ['/setup/ledger', theLedger, 'currency', ['', 'ZZZ', LONG]],
    ['/setup/ledger', theLedger, 'decimalMark', ['', ';', LONG]],
    ['/setup/ledger', theLedger, 'staleQuoteDays', ['', '0', '366', '-5', '1.5', '１２', 'NaN', '1e309', LONG]],
    ['/setup/ledger', theLedger, 'wage', ['NaN', '1e309', '-5', '1,2,3', '１２', '100001', LONG]],
    ['/setup/ledger', theLedger, 'wasteCost', ['NaN', '1e309', '-5', '1,2,3', '１２', '100001', LONG]],
    ['/setup/ledger', theLedger, 'wastePer', ['each', 'furlong', LONG]],
    ['/setup/ledger', theLedger, 'scaleCheckDays', ['', '0', '1001', '-5', '1.5', '１２', 'NaN', '1e309', LONG]],
  ];
  const cases = forms.flatMap(([url, valid, field, texts]) =>
    texts.map((text) => ({ url, valid, field, text, shown: text.slice(0, 20) })),
  );

  test.each(cases)('$url refuses $field $shown', async ({ url, valid, field, text }) => {
    const before = ledger.db.sqlite.serialize();
    const typed = { ...valid(), [field]: text };
    const { statusCode, body } = await post(url, typed);
    expect(statusCode).toBe(422);
    expect(body).toContain(`id="f-${field}-problem"`);
    for (const kept of Object.values(typed)) {
      // What cannot be printed in an attribute is still there; a choice that does not exist is shown cut.
      if (!kept.includes('\u0000')) expect(body).toContain(kept.slice(0, 40));
    }
    expect(ledger.db.sqlite.serialize().equals(before)).toBe(true);
  });

  test('a whole form of nonsense is answered with every sentence at once', async () => {
    const { statusCode, body } = await post('/setup/scales', { name: '', unit: 'x', division: '-1', class: 'IX' });
    expect(statusCode).toBe(422);
    expect(body.match(/class="problem"/g)).toHaveLength(4);
  });

  test('an empty post is refused, not a fault', async () => {
    for (const path of ['grades', 'bins', 'containers', 'scales', 'yards', 'ledger']) {
      expect((await post(`/setup/${path}`, {})).statusCode).toBe(422);
    }
  });
});

describe('the same form sent twice', () => {
  test.each([
    ['/setup/grades', aGrade, () => listGrades(ledger.db).length],
    ['/setup/bins', aBin, () => listAllBins(ledger.db).length],
    ['/setup/containers', aContainer, () => listContainers(ledger.db).length],
    ['/setup/scales', aScale, () => listScales(ledger.db).length],
    ['/setup/yards', aYard, () => listYards(ledger.db).length],
  ] as const)('%s adds one row, and leads to the same page', async (url, valid, count) => {
    const before = count();
    const form = { ...valid(), requestKey: 'the-same-key-1' };
    const first = await post(url, form);
    const second = await post(url, form);
    expect([first.statusCode, second.statusCode]).toEqual([303, 303]);
    expect(second.headers.location).toBe(first.headers.location);
    expect(count()).toBe(before + 1);
  });
});

describe('grades', () => {
  test('a grade is added with all it says, and shown with its code word', async () => {
    const fallsBackTo = String(gradeId(ledger, 'Yellow brass'));
    const form = { ...aGrade(), code: 'Ebony', fallsBackTo, recognise: 'reddish', spoiledBy: 'iron' };
    const { headers } = await post('/setup/grades', form);
    expect(findGradeByName(ledger.db, 'red brass')).toMatchObject({
      code: 'Ebony',
      recognise: 'reddish',
      spoiled_by: 'iron',
      falls_back_to_id: gradeId(ledger, 'Yellow brass'),
    });
    const { body } = await get(headers.location ?? '');
    expect(body).toContain('Red brass is added.');
    expect(body).toContain('code word Ebony');
  });

  test('its page shows what is stored, and a change keeps its own name', async () => {
    const id = gradeId(ledger, 'No. 2 copper');
    expect((await get(`/setup/grades/${id}`)).body).toContain('Code word of the industry circular');
    const form = { name: 'NO. 2 COPPER', family: 'copper', quotedPer: 'kg', fallsBackTo: '' };
    expect((await post(`/setup/grades/${id}`, form)).statusCode).toBe(303);
    expect(findGradeByName(ledger.db, 'No. 2 copper')).toMatchObject({ id, quoted_per: 'kg', falls_back_to_id: null });
  });

  test('grades cannot fall back to each other in a circle, nor to themselves', async () => {
    const copper = gradeId(ledger, 'No. 2 copper');
    const light = gradeId(ledger, 'Light copper');
    const form = { name: 'Light copper', family: 'copper', quotedPer: 'lb' };
    const circle = await post(`/setup/grades/${light}`, { ...form, fallsBackTo: String(copper) });
    const itself = await post(`/setup/grades/${light}`, { ...form, fallsBackTo: String(light) });
    expect(circle.body).toContain('in a circle');
    expect(itself.body).toContain('cannot fall back to itself');
    expect(findGradeByName(ledger.db, 'Light copper')?.falls_back_to_id).toBeNull();
  });
});

describe('bins', () => {
  test('after one is added the form is ready for the next', async () => {
    const { headers } = await post('/setup/bins', aBin());
    const { body } = await get(headers.location ?? '');
    expect(body).toContain('CU3 is added.');
    expect(body).toMatch(/name="code"[^>]*autofocus/);
    expect(findBinByCode(ledger.db, 'CU3')?.opened_on).toBe(clock.today());
  });

  test('a full mark may be in another unit, and is kept as it was typed', async () => {
    await post('/setup/bins', { ...aBin(), fullMark: '20', fullMarkUnit: 'kg', place: 'shelf' });
    expect(findBinByCode(ledger.db, 'CU3')).toMatchObject({
      full_mark_typed: '20 kg',
      full_mark_ug: 20_000_000_000,
      place: 'shelf',
    });
    const { body } = await get(`/setup/bins/${binId(ledger, 'CU3')}`);
    expect(body).toMatch(/name="fullMark" value="20"/);
    expect(body).toContain('<option value="kg" selected>');
  });

  test('a bin never changes its grade: its form has no such field, and the database refuses it too', async () => {
    const id = binId(ledger, 'CU2');
    const before = findBinByCode(ledger.db, 'CU2')?.grade_id;
    const page = await get(`/setup/bins/${id}`);
    expect(page.body).not.toContain('name="grade"');
    expect(page.body).toContain('move it to another bin');
    const brass = String(gradeId(ledger, 'Yellow brass'));
    await post(`/setup/bins/${id}`, { code: 'CU2', place: 'door', grade: brass, grade_id: brass });
    expect(findBinByCode(ledger.db, 'CU2')).toMatchObject({ place: 'door', grade_id: before });
    const force = ledger.db.sqlite.prepare('UPDATE bin SET grade_id = ? WHERE id = ?');
    expect(() => force.run(gradeId(ledger, 'Yellow brass'), id)).toThrow('a bin never changes its grade');
  });

  test('a code that another bin has is refused, whatever its case; its own may stay', async () => {
    const id = binId(ledger, 'CU2');
    const taken = await post(`/setup/bins/${id}`, { code: 'yb1' });
    expect(taken.statusCode).toBe(422);
    expect(taken.body).toContain('already in the ledger');
    expect((await post(`/setup/bins/${id}`, { code: 'cu2' })).statusCode).toBe(303);
    expect(findBinByCode(ledger.db, 'CU2')?.code).toBe('cu2');
  });

  test('a bin named by mistake is removed and its code free again; one with a history stays', async () => {
    const unused = binId(ledger, 'YB2');
    expect((await get(`/setup/bins/${unused}`)).body).toContain('Remove YB2');
    expect((await post(`/setup/bins/${unused}/removal`, { requestKey: 'removal-1' })).statusCode).toBe(303);
    expect(findBinByCode(ledger.db, 'YB2')).toBeUndefined();
    expect((await post('/setup/bins', { ...aBin(), code: 'YB2' })).statusCode).toBe(303);
    weighIn(ledger, 'CU2', '1');
    const used = binId(ledger, 'CU2');
    expect((await get(`/setup/bins/${used}`)).body).not.toContain('Remove CU2');
    const refused = await post(`/setup/bins/${used}/removal`, {});
    expect([refused.statusCode, refused.body.includes('has a history')]).toEqual([422, true]);
  });

  test('a code begins with a letter or digit, and a capacity lies above the step', async () => {
    expect((await post('/setup/bins', { ...aBin(), code: '-5' })).statusCode).toBe(422);
    const coarse = await post('/setup/scales', { ...aScale(), division: '0.2', capacity: '0.1' });
    expect([coarse.statusCode, coarse.body.includes('above the smallest step')]).toEqual([422, true]);
  });

  test('a bin that holds material cannot be closed; an empty one can, and opens again', async () => {
    weighIn(ledger, 'CU2', '34');
    const full = await post(`/setup/bins/${binId(ledger, 'CU2')}/close`, {});
    expect(full.statusCode).toBe(422);
    expect(full.body).toContain('CU2 still holds 34.00 lb.');
    expect(findBinByCode(ledger.db, 'CU2')?.closed_on).toBeNull();

    const id = binId(ledger, 'YB1');
    const closed = await post(`/setup/bins/${id}/close`, { requestKey: 'close-key-1' });
    expect((await get(closed.headers.location ?? '')).body).toContain('YB1 is closed.');
    expect((await get('/weigh-in')).body).not.toContain('value="YB1"');
    await post(`/setup/bins/${id}/reopen`, {});
    expect(findBinByCode(ledger.db, 'YB1')?.closed_on).toBeNull();
    // A late second tap on the first button does not close it again.
    await post(`/setup/bins/${id}/close`, { requestKey: 'close-key-1' });
    expect(findBinByCode(ledger.db, 'YB1')?.closed_on).toBeNull();
  });

  test.each(['close', 'reopen'])('%s of a bin that is not there is not found', async (act) => {
    expect((await post(`/setup/bins/9999/${act}`, {})).statusCode).toBe(404);
  });
});

describe('containers', () => {
  test('a tare in the ledger’s unit is kept as typed, in another with its unit', async () => {
    await post('/setup/containers', aContainer());
    await post('/setup/containers', { name: 'pan', tare: '950', unit: 'g' });
    await post('/setup/containers', { name: 'floor', tare: '0', unit: 'lb' });
    expect(findContainerByName(ledger.db, 'Blue Tub')).toMatchObject({ tare_typed: '2.1', tare_ug: lb('2.1') });
    expect(findContainerByName(ledger.db, 'pan')).toMatchObject({ tare_typed: '950 g', tare_ug: 950_000_000 });
    expect(findContainerByName(ledger.db, 'floor')).toMatchObject({ tare_ug: 0 });
  });

  test('two of one name are refused', async () => {
    await post('/setup/containers', aContainer());
    const again = await post('/setup/containers', { ...aContainer(), name: 'BLUE  tub' });
    expect(again.statusCode).toBe(422);
    expect(again.body).toContain('already in the ledger');
  });

  test('its form shows the same weight after the ledger’s unit and decimal mark were changed', async () => {
    await post('/setup/containers', { name: 'tub', tare: '1.500', unit: 'lb' });
    await post('/setup/ledger', { ...theLedger(), currency: 'USD' });
    const tub = findContainerByName(ledger.db, 'tub');
    const { body } = await get(`/setup/containers/${tub?.id}`);
    expect(body).toMatch(/name="tare" value="1,5"/);
    expect(body).toContain('<option value="lb" selected>');
    await post(`/setup/containers/${tub?.id}`, { name: 'tub two', tare: '1,5', unit: 'lb' });
    expect(findContainerByName(ledger.db, 'tub two')?.tare_ug).toBe(tub?.tare_ug);
  });

  test.each([
    ['3 lb 7 oz', { figure: '3 lb 7 oz', unit: 'lb' }],
    ['34#', { figure: '34', unit: 'lb' }],
    ['2.1', { figure: '2.1', unit: 'lb' }],
  ])('a tare typed as %s comes back into the form so that it reads the same', (typed, fields) => {
    expect(weightFields(typed, lb(typed), ledger.settings)).toEqual(fields);
  });
});

describe('scales', () => {
  test('what describes a scale is kept as figures with a point, with a unit where it is another', async () => {
    await post('/setup/ledger', { ...theLedger(), unit: 'lb', currency: 'USD' });
    await post('/setup/scales', { ...aScale(), division: '0,02', capacity: '100 kg', tolerance: '' });
    expect(findScaleByName(ledger.db, 'bench scale')).toMatchObject({
      unit: 'lb',
      division: '0.02',
      capacity: '100 kg',
      class: 'III',
      tolerance: '',
    });
    const { body } = await get('/setup/scales');
    expect(body).toContain('shows 0,02 lb steps · up to 100 kg · class III');
  });

  test('a scale is changed in place', async () => {
    await post('/setup/scales', aScale());
    const id = findScaleByName(ledger.db, 'bench scale')?.id;
    await post(`/setup/scales/${id}`, { name: 'hanging scale', unit: 'kg', class: 'unmarked', tolerance: '20 g' });
    expect(listScales(ledger.db)).toEqual([
      {
        id,
        name: 'hanging scale',
        unit: 'kg',
        division: '',
        capacity: '',
        class: 'unmarked',
        tolerance: '20 g',
        added_on: clock.today(),
      },
    ]);
  });
});

describe('yards', () => {
  test('a yard is added with the coin it rounds cash to, and leads to its price board', async () => {
    const { headers } = await post('/setup/yards', { ...aYard(), scaleDivision: '0.5', scaleClass: 'III L' });
    const yard = findYardByName(ledger.db, 'Demo Yard South');
    expect(yard).toMatchObject({ unit: 'kg', cash_step_minor: 5, scale_division: '0.5', scale_class: 'III L' });
    expect((await get(headers.location ?? '')).body).toContain(`/prices/board?yard=${yard?.id}`);
  });

  test('without a step, cash is paid to the cent', async () => {
    await post('/setup/yards', { ...aYard(), cashStep: '' });
    expect(findYardByName(ledger.db, 'Demo Yard South')?.cash_step_minor).toBe(amountMinor(1));
  });

  test('its form opens with what is stored', async () => {
    const { body } = await get(`/setup/yards/${findYardByName(ledger.db, 'Demo Yard North')?.id}`);
    expect(body).toMatch(/name="cashStep" value="0.05"/);
    expect(body).toMatch(/name="scaleDivision" value="0.5"/);
    expect(body).toContain('<option value="III" selected>');
  });

  test('its own names for grades are kept, changed and taken away; others stay', async () => {
    const yardId = findYardByName(ledger.db, 'Demo Yard North')?.id ?? 0;
    const [copper, brass] = [gradeId(ledger, 'No. 2 copper'), gradeId(ledger, 'Yellow brass')];
    await post(`/setup/yards/${yardId}/grade-names`, { [`name-${copper}`]: '#2 Cu', [`name-${brass}`]: 'Y/B' });
    await post(`/setup/yards/${yardId}/grade-names`, { [`name-${copper}`]: '' });
    expect([...yardGradeNames(ledger.db, yardId)]).toEqual([[brass, 'Y/B']]);
    expect((await get(`/setup/yards/${yardId}`)).body).toMatch(/brass and bronze \(1 named\)/);
  });

  test('a name that is too long is refused with the others kept, and none is stored', async () => {
    const yardId = findYardByName(ledger.db, 'Demo Yard North')?.id ?? 0;
    const [copper, brass] = [gradeId(ledger, 'No. 2 copper'), gradeId(ledger, 'Yellow brass')];
    const form = { [`name-${copper}`]: 'Number two', [`name-${brass}`]: LONG, 'name-9999': 'nobody' };
    const { statusCode, body } = await post(`/setup/yards/${yardId}/grade-names`, form);
    expect(statusCode).toBe(422);
    expect(body).toContain('value="Number two"');
    expect(body).toContain('At most 80 characters');
    expect(yardGradeNames(ledger.db, yardId).size).toBe(0);
  });

  test('names for a grade that is not there are left alone', async () => {
    const yardId = findYardByName(ledger.db, 'Demo Yard North')?.id ?? 0;
    expect((await post(`/setup/yards/${yardId}/grade-names`, { 'name-9999': 'nobody' })).statusCode).toBe(303);
    expect(yardGradeNames(ledger.db, yardId).size).toBe(0);
  });
});

describe('further scales of a yard', () => {
  const at = () => `/setup/yards/${findYardByName(ledger.db, 'Demo Yard North')?.id}`;
  const scales = () => listYardScales(ledger.db).map(({ name, division, families }) => [name, division, families]);
  const sole = () => listYardScales(ledger.db)[0]?.id;
  /** A browser sends each tick as a field of its own. */
  const ticked = (url: string, fields: Fields, families: string[]) => {
    const ticks = families.map((family): [string, string] => ['families', family]);
    const pairs = [...Object.entries(fields), ...ticks];
    const headers = { ...OWN_POST, 'content-type': 'application/x-www-form-urlencoded' };
    const payload = new URLSearchParams([...Object.entries(OWN_FIELDS), ...pairs]).toString();
    return app.inject({ method: 'POST', url, headers, payload });
  };

  test('one is added with what goes over it, and its form opens with that', async () => {
    const { families: _, ...fields } = aYardScale();
    const { statusCode, headers } = await ticked(`${at()}/scales`, fields, ['ferrous', 'motors and units']);
    expect(statusCode).toBe(303);
    expect(scales()).toEqual([['truck scale', '20', ['ferrous', 'motors and units']]]);
    const { body } = await get(headers.location ?? '');
    expect(body).toContain('The scale is added.');
    expect(body).toContain('ferrous, motors and units · 20 lb steps · class III L');
    expect(body).toContain('an honest truck scale would look wrong');
    const form = body.split(`action="${at()}/scales/${sole()}"`)[1]?.split('</form>')[0] ?? '';
    expect(form.match(/value="(ferrous|motors and units)"\s+checked/g)).toHaveLength(2);
  });

  test('a family goes over one further scale only: taken over, it moves, and the page says so', async () => {
    await post(`${at()}/scales`, aYardScale());
    expect((await get(at())).body).toContain('goes over truck scale now: ticked here, it moves');
    await post(`${at()}/scales`, { ...aYardScale(), name: 'floor scale', division: '0.5' });
    expect(scales()).toEqual([
      ['truck scale', '20', []],
      ['floor scale', '0.5', ['ferrous']],
    ]);
    expect((await get(at())).body).toContain('nothing goes over it yet');
  });

  test('the same family and the same name at another yard are another matter', async () => {
    await post('/setup/yards', aYard());
    const south = findYardByName(ledger.db, 'Demo Yard South')?.id;
    await post(`${at()}/scales`, aYardScale());
    expect((await post(`/setup/yards/${south}/scales`, aYardScale())).statusCode).toBe(303);
    expect(scales().map(([, , families]) => families)).toEqual([['ferrous'], ['ferrous']]);
    expect((await post(`/setup/yards/${south}/scales/${sole()}`, aYardScale())).statusCode).toBe(404);
  });

  test('it is changed, keeps its own name, and gives up what is no longer ticked', async () => {
    await post(`${at()}/scales`, aYardScale());
    const { statusCode } = await post(`${at()}/scales/${sole()}`, { ...aYardScale(), division: '50', families: '' });
    expect([statusCode, scales()]).toEqual([303, [['truck scale', '50', []]]]);
  });

  test('a second of one name is refused, whatever its case, with everything typed', async () => {
    await post(`${at()}/scales`, aYardScale());
    const { statusCode, body } = await post(`${at()}/scales`, { ...aYardScale(), name: 'TRUCK scale' });
    expect(statusCode).toBe(422);
    expect(body).toContain('id="f-scale-new-name-problem"');
    expect(body).toContain('value="TRUCK scale"');
  });

  test.each([
    ['name', ['', LONG]],
    ['division', [...BAD_WEIGHTS, '0']],
    ['class', ['IX', LONG]],
    ['families', ['gold', 'ferrous, gold', LONG]],
  ])('a bad %s is refused beside its field', async (field, texts) => {
    for (const text of texts) {
      const { statusCode, body } = await post(`${at()}/scales`, { ...aYardScale(), [field]: text });
      expect([text.slice(0, 20), statusCode, body.includes(`id="f-scale-new-${field}-problem"`)]).toEqual([
        text.slice(0, 20),
        422,
        true,
      ]);
    }
    expect(scales()).toEqual([]);
  });

  test('removed, what went over it goes over the usual one again; a trail of it stays', async () => {
    await post(`${at()}/scales`, aYardScale());
    const { headers } = await post(`${at()}/scales/${sole()}/removal`, {});
    expect((await get(headers.location ?? '')).body).toContain('goes over the usual one again');
    expect([scales(), ledger.db.sqlite.prepare('select count(*) from yard_scale_family').pluck().get()]).toEqual([
      [],
      0,
    ]);
    const acts = ledger.db.sqlite.prepare("select act from event where document_kind = 'yard_scale'").pluck().all();
    expect(acts).toEqual(['added a scale of a yard', 'removed a scale of a yard']);
  });

  test('when the unit of the yard’s tickets changes, a step stays what it was', async () => {
    await post(`${at()}/scales`, aYardScale());
    await post(`${at()}/scales`, { ...aYardScale(), name: 'shed scale', division: '0.2 kg', families: '' });
    await post(at(), { ...aYard(), name: 'Demo Yard North', unit: 'kg' });
    expect(scales().map(([, division]) => division)).toEqual(['20 lb', '0.2']);
    expect((await get(at())).body).toContain('20 lb steps');
    await post(at(), { ...aYard(), name: 'Demo Yard North', unit: 'lb' });
    expect(scales().map(([, division]) => division)).toEqual(['20', '0.2 kg']);
  });
});

describe('the ledger', () => {
  test('its settings are kept', async () => {
    const { headers } = await post('/setup/ledger', theLedger());
    expect(readSettings(ledger.db)).toEqual({
      unit: 'kg',
      currency: 'CAD',
      decimalMark: ',',
      staleQuoteDays: 30,
      scaleCheckDays: 60,
      wage: '12.50',
      wasteCost: '0.1',
      wastePer: 'kg',
    });
    expect((await get(headers.location ?? '')).body).toContain('The settings are saved.');
  });

  test('the currency stays once an amount is written in it; the rest may still change', async () => {
    quoteSomething();
    const { statusCode, body } = await post('/setup/ledger', theLedger());
    expect(statusCode).toBe(422);
    expect(body).toContain('id="f-currency-problem"');
    expect((await post('/setup/ledger', { ...theLedger(), currency: 'USD' })).statusCode).toBe(303);
    expect(openLedger(ledger.db, clock).settings).toMatchObject({ unit: 'kg', currency: 'USD' });
  });
});
