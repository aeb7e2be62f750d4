import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { updateBin } from '../../server/ledger/queries.ts';
import { standingChecks } from '../../server/scales/queries.ts';
import { saveScale } from '../../server/setup/acts.ts';
import {
  BAD_FIGURES,
  binId,
  get as getFrom,
  newApp,
  newLedger,
  post as postTo,
  setUpWorkedExample,
} from '../helper.ts';

let ledger: Ledger;
let app: FastifyInstance;
let id: number;

type Fields = Record<string, string>;
const get = (url: string) => getFrom(app, url);
const post = (url: string, fields: Fields = {}) => postTo(app, url, fields);

const bench = {
  name: 'Bench scale',
  unit: 'lb',
  division: '0.05',
  capacity: '110',
  class: 'III',
  tolerance: '',
} as const;
const aCheck = (change: Fields = {}): Fields => ({
  checkedOn: '2025-03-01',
  weight: '10',
  reading: '10.05',
  unit: 'lb',
  note: '',
  ...change,
});
const record = (change: Fields = {}) => post(`/setup/scales/${id}/checks`, aCheck(change));
const page = async () => (await get(`/setup/scales/${id}`)).body;
const text = (body: string) =>
  body
    .replace(/<svg[\s\S]*?<\/svg>/g, '')
    .replace(/<[^>]*>/g, ' ')
    .replace(/\s+/g, ' ');

beforeEach(async () => {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  id = saveScale(ledger, null, bench);
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

describe('a check with a known weight', () => {
  test('is written down, and the page says what it found', async () => {
    const { statusCode, headers } = await record({ reading: '10.05', note: 'marked weight' });
    expect(statusCode).toBe(303);
    expect(standingChecks(ledger.db)).toMatchObject([
      {
        scale_id: id,
        checked_on: '2025-03-01',
        weight_typed: '10',
        reading_typed: '10.05',
        unit: 'lb',
        is_adjusted: 0,
      },
    ]);
    const body = text((await get(headers.location ?? '')).body);
    // Class III at up to 500 divisions: one division, 0.05 lb. Source: as in server/scales/tolerance.ts.
    expect(body).toContain('Checked with 10 lb: 0.05 lb too high, within its tolerance of ± 0.05 lb.');
    expect(body).toContain('1 Mar 2025 10 lb 10.05 lb +0.05 lb within ± 0.05 lb marked weight Take back I adjusted it');
    expect(body).toContain(
      'It is right, as far as one check can tell: 0.05 lb too high at 10.00 lb, within its tolerance.',
    );
    expect(body).not.toContain('Weigh it again.');
  });

  test('that is off by more than the tolerance is said calmly, with what to do', async () => {
    const { headers } = await record({ reading: '9.9' });
    const body = text((await get(headers.location ?? '')).body);
    expect(body).toContain('Checked with 10 lb: 0.10 lb too low, more than its tolerance of ± 0.05 lb.');
    expect(body).toContain(
      'Weigh it again. If it shows the same, adjust the scale as its papers say, or have it looked at.',
    );
  });

  test('may have its weight in another unit than the scale', async () => {
    await record({ weight: '5 kg', reading: '11.05' });
    expect(standingChecks(ledger.db)).toMatchObject([{ weight_typed: '5 kg', weight_ug: 5_000_000_000, unit: 'lb' }]);
    // 5 kg is 11.0231 lb.
    expect(text(await page())).toContain('5 kg 11.05 lb +0.03 lb within ± 0.05 lb');
  });

  test('sent twice is written down once', async () => {
    const form = aCheck({ requestKey: 'the-same-key-1' });
    for (const _ of [1, 2]) await post(`/setup/scales/${id}/checks`, form);
    expect(standingChecks(ledger.db)).toHaveLength(1);
  });

  test('that the scale cannot show is asked about once', async () => {
    const asked = await record({ reading: '10.03' });
    expect(asked.statusCode).toBe(422);
    expect(text(asked.body)).toContain(
      'Bench scale shows steps of 0.05 lb, so it cannot show 10.03 lb. Did you type it as you read it?',
    );
    expect((await record({ reading: '10.03', confirm: '1' })).statusCode).toBe(303);
  });

  test.each([
    ['with more decimals than are usual', '10.001', 'cannot show 10.001 lb.'],
    ['with the unit beside it', '10.03 lb', 'cannot show 10.03 lb.'],
    ['as pounds and ounces', '10 lb 1 oz', 'cannot show 10 lb 1 oz.'],
  ])('that the scale cannot show is named as typed, %s', async (_, reading, sentence) => {
    const { statusCode, body } = await record({ reading });
    expect([statusCode, text(body).includes(sentence)]).toEqual([422, true]);
  });

  test.each([
    ['the weight is no whole number of steps', { weight: '10.03', reading: '10.05' }, {}],
    ['the reading is in another unit', { weight: '5 kg', reading: '5.01 kg' }, {}],
    ['another unit was chosen', { weight: '5', reading: '5.01', unit: 'kg' }, {}],
    ['the step is in another unit, without an end in this one', { reading: '10.03' }, { division: '20 g' }],
    ['the step is not known', { reading: '10.03' }, { division: '' }],
  ])('is not asked about when %s', async (_, change, traits) => {
    saveScale(ledger, id, { ...bench, ...traits });
    expect((await record(change)).statusCode).toBe(303);
  });

  test('that nothing shows of at the decimals of the scale found it right', async () => {
    // 5 kg is 11.0231 lb.
    saveScale(ledger, id, { ...bench, division: '0.01' });
    const { headers } = await record({ weight: '5 kg', reading: '11.02' });
    const body = text((await get(headers.location ?? '')).body);
    expect(body).toContain('Checked with 5 kg: right, within its tolerance of ± 0.02 lb.');
    expect(body).toContain('It was not off in one check.');
    expect(body).not.toContain('0.00 lb too');
  });

  test('is said in the unit of its scale, as fine as it shows, whatever the ledger’s unit', async () => {
    saveScale(ledger, id, { ...bench, unit: 'g', division: '0.1', tolerance: '0.2', class: '', capacity: '500' });
    updateBin(ledger.db, binId(ledger, 'CU2'), { scale_id: id });
    await record({ weight: '200', reading: '200.6', unit: 'g' });
    expect(text((await get('/')).body)).toContain(
      'Bench scale was 0.6 g too high at 200 g when it was checked on 1 Mar 2025, more than its tolerance of ± 0.2 g: adjust it, or have it looked at',
    );
    expect(text((await get('/setup/scales')).body)).toContain('0.6 g too high at 200 g, more than its tolerance');
  });

  test('that failed is settled by a newer one within tolerance, or by taking it back, and is no second line', async () => {
    updateBin(ledger.db, binId(ledger, 'CU2'), { scale_id: id });
    const lines = async () => text((await get('/')).body).match(/Bench scale was/g)?.length ?? 0;
    // 203 days ago: a check would be due as well.
    await record({ checkedOn: '2024-08-29', reading: '10.20' });
    expect(await lines()).toBe(1);
    expect(text((await get('/setup/scales')).body)).not.toContain('a check is due');
    await record({ checkedOn: '2025-03-01', reading: '10.05' });
    expect(await lines()).toBe(0);
    await record({ checkedOn: '2025-03-05', reading: '9.80' });
    expect(await lines()).toBe(1);
    await post(`/scale-checks/${standingChecks(ledger.db).at(-1)?.id}/undo`);
    expect(await lines()).toBe(0);
  });

  test('that failed is said wherever the scale is spoken of, until it is settled', async () => {
    updateBin(ledger.db, binId(ledger, 'CU2'), { scale_id: id });
    const pages = async () => [
      text((await get('/')).body),
      text((await get('/setup/scales')).body),
      text(await page()),
    ];
    const { headers } = await record({ reading: '10.20' });
    expect((await get(headers.location ?? '')).body).toContain('class="saved is-off"');
    const [home, list, own] = await pages();
    expect(home).toContain('Bench scale was 0.20 lb too high at 10.00 lb when it was checked on 1 Mar 2025');
    for (const said of [list, own]) expect(said).toContain('0.20 lb too high at 10.00 lb, more than its tolerance');
    const [check] = standingChecks(ledger.db);
    const adjusted = await post(`/scale-checks/${check?.id}/adjustment`);
    expect(adjusted.statusCode).toBe(303);
    expect(standingChecks(ledger.db)).toMatchObject([{ reading_typed: '10.20', is_adjusted: 1 }]);
    for (const said of await pages())
      expect(said).not.toContain('0.20 lb too high at 10.00 lb, more than its tolerance');
    await record({ checkedOn: '2025-03-02', reading: '10.00' });
    expect(text(await page())).toContain(
      'It was not off in one check since it was adjusted on 1 Mar 2025. Before that it was 0.20 lb too high at 10.00 lb.',
    );
  });

  test('is marked as adjusted only while it is the newest', async () => {
    await record({ reading: '10.20' });
    await record({ checkedOn: '2025-03-05', reading: '10.00' });
    const [first] = standingChecks(ledger.db);
    const refused = await post(`/scale-checks/${first?.id}/adjustment`);
    expect(refused.statusCode).toBe(422);
    expect(text(refused.body)).toContain('Only the newest check can be marked so.');
    expect(standingChecks(ledger.db)).toHaveLength(2);
  });

  test('taken back counts no more and stays in the list', async () => {
    await record();
    await record({ checkedOn: '2025-03-05', reading: '10' });
    const [first] = standingChecks(ledger.db);
    const { statusCode, headers } = await post(`/scale-checks/${first?.id}/undo`);
    expect(statusCode).toBe(303);
    const body = text((await get(headers.location ?? '')).body);
    expect(body).toContain('The check is taken back. It no longer counts.');
    expect(body).toContain('It was not off in one check.');
    expect(body).toMatch(/1 Mar 2025 10 lb 10\.05 lb \+0\.05 lb within ± 0\.05 lb taken back/);
    const again = await post(`/scale-checks/${first?.id}/undo`);
    expect([again.statusCode, again.body.includes('This check was already taken back.')]).toEqual([422, true]);
  });

  test.each([
    ['weight', ['', '0', ...BAD_FIGURES], 'weight'],
    ['reading', ['', ...BAD_FIGURES], 'reading'],
    ['unit', ['each', 'stone'], 'unit'],
    ['checkedOn', ['', '2025-02-30', '2025-03-21'], 'checkedOn'],
    ['note', ['x'.repeat(3000)], 'note'],
  ])('with a bad %s is refused beside it, with everything typed', async (field, texts) => {
    for (const typed of texts) {
      const { statusCode, body } = await record({ [field]: typed, note: field === 'note' ? typed : 'kept as typed' });
      expect([typed.slice(0, 20), statusCode, body.includes(`id="f-check-${field}-problem"`)]).toEqual([
        typed.slice(0, 20),
        422,
        true,
      ]);
      expect(body).toContain(field === 'note' ? typed.slice(0, 40) : 'kept as typed');
    }
    expect(standingChecks(ledger.db)).toEqual([]);
  });

  test.each([
    ['a reading of nothing', { reading: '0' }, 'The scale showed nothing with 10.00 lb on it.'],
    ['a reading far below', { reading: '7.9' }, '7.90 lb is far from 10.00 lb.'],
    ['a reading far above', { reading: '12.05' }, '12.05 lb is far from 10.00 lb.'],
    ['more than the scale can weigh', { weight: '120', reading: '120' }, 'Bench scale goes up to 110.00 lb.'],
  ])('with %s is asked about, and taken once ticked', async (_, change, sentence) => {
    const { statusCode, body } = await record(change);
    expect([statusCode, text(body).includes(sentence)]).toEqual([422, true]);
    expect(body).toMatch(/id="f-check-confirm" type="checkbox"/);
    expect((await record({ ...change, confirm: '1' })).statusCode).toBe(303);
    expect(standingChecks(ledger.db)).toHaveLength(1);
  });

  test('a fifth off is not asked about', async () => {
    expect((await record({ reading: '8' })).statusCode).toBe(303);
    expect((await record({ reading: '12' })).statusCode).toBe(303);
  });

  test('of a scale or a check that is not there is not found', async () => {
    expect((await post('/setup/scales/99/checks', aCheck())).statusCode).toBe(404);
    expect((await post('/scale-checks/99/undo')).statusCode).toBe(404);
  });
});

describe('the page of a scale', () => {
  test('before any check it says so, and how to make one', async () => {
    const body = text(await page());
    expect(body).toContain('This scale was not checked yet.');
    expect(body).toContain('a gym plate or a bag of sugar may itself be off');
  });

  test('draws the checks with the band of the tolerance, two of one day apart, and marks the adjustment', async () => {
    await record({ reading: '10.30', isAdjusted: '1' });
    await record({ reading: '10.00' });
    await record({ checkedOn: '2025-03-10', reading: '9.95' });
    const body = await page();
    const chart = /<figure class="chart">[\s\S]*?<\/figure>/.exec(body)?.[0] ?? '';
    const wide = /<svg class="chart-wide"[\s\S]*?<\/svg>/.exec(chart)?.[0] ?? '';
    expect(wide.match(/<title>Off by, [^<]*/g)).toEqual([
      '<title>Off by, 1 Mar 2025: +0.30',
      '<title>Off by, 1 Mar 2025: 0.00',
      '<title>Off by, 10 Mar 2025: −0.05',
    ]);
    expect(chart).toContain('Its tolerance');
    expect(chart).toContain('1 Mar 2025: the scale was adjusted after this check');
    expect(chart).not.toMatch(/NaN|Infinity|undefined/);
    expect(text(body)).toContain(
      'It is right, as far as 2 checks since it was adjusted on 1 Mar 2025 can tell: at most 0.05 lb too low at 10.00 lb, within its tolerance.',
    );
    expect(text(body)).toContain('the 2 readings of 10.00 lb scatter by 0.035 lb (standard deviation).');
  });

  test('breaks the line and the band where the scale was adjusted', async () => {
    for (const reading of ['10.00', '10.30']) await record({ reading, isAdjusted: reading === '10.30' ? '1' : '' });
    for (const reading of ['10.00', '10.05']) await record({ checkedOn: '2025-03-10', reading });
    const narrow = /<svg class="chart-narrow"[\s\S]*?<\/svg>/.exec(await page())?.[0] ?? '';
    const line = /class="chart-line"[^>]* d="([^"]*)"/.exec(narrow.replace(/\n/g, ' '))?.[1] ?? '';
    expect([line.match(/M/g)?.length, narrow.match(/class="chart-band"/g)?.length]).toEqual([2, 2]);
  });

  test('does not call a scale right that one check found wrong, though another was off by as much', async () => {
    // Class III: two divisions above 500 of them, one below. Source: as in server/scales/tolerance.ts.
    await record({ weight: '50', reading: '50.10' });
    await record({ checkedOn: '2025-03-02', reading: '10.10' });
    expect(text(await page())).toContain(
      'It was not right in 2 checks: 0.10 lb too high at 10.00 lb, more than its tolerance.',
    );
  });

  test('says nothing of a mean where no check found anything', async () => {
    for (const checkedOn of ['2025-03-01', '2025-03-02']) await record({ checkedOn, reading: '10.00' });
    const body = text(await page());
    expect(body).toContain('It was not off in 2 checks.');
    expect(body).not.toContain('On average');
  });

  test('asks for a check after an adjustment', async () => {
    await record({ isAdjusted: '1' });
    expect(text(await page())).toContain(
      'It was adjusted on 1 Mar 2025 and not checked since: check it once more. Before that it was 0.05 lb too high at 10.00 lb.',
    );
  });

  test.each([
    [{ division: '', class: '' }, 'Its step and class, or a stated tolerance, are not known, so no band is drawn'],
    [{ division: '0.05', class: '' }, 'Its class, or a stated tolerance, is not known, so no band is drawn'],
    [{ division: '', class: 'III' }, 'Its step, or a stated tolerance, is not known, so no band is drawn'],
    [{ division: '0.05', class: 'unmarked' }, 'Its plate names no class, and a stated tolerance is not known'],
  ])('without a tolerance (%o) says what is missing', async (change, sentence) => {
    saveScale(ledger, id, { ...bench, ...change });
    await record({ reading: '10.15' });
    const body = await page();
    expect(text(body)).toContain(sentence);
    expect(body).not.toContain('Its tolerance</span>');
    const offer = 'you may write the largest error seen, at least one step, as its tolerance : 0.15 lb here.';
    expect(text(body).includes(offer)).toBe(change.class !== 'III');
  });

  test('offers one step at least, and nothing where the scale has a tolerance', async () => {
    saveScale(ledger, id, { ...bench, class: '' });
    await record({ reading: '10.01', confirm: '1' });
    expect(text(await page())).toContain('as its tolerance : 0.05 lb here.');
    saveScale(ledger, id, { ...bench, class: '', tolerance: '0.1' });
    expect(text(await page())).not.toContain('Where its papers say nothing');
  });

  test('keeps the check form as it was when the form of the scale comes back', async () => {
    await record();
    const { statusCode, body } = await post(`/setup/scales/${id}`, { ...bench, division: 'x' });
    expect(statusCode).toBe(422);
    expect(body).toMatch(/id="f-division"[^>]*value="x"/);
    expect(text(body)).toContain('as far as one check can tell');
  });

  test('pages through more checks than fit on one, and an address beyond them is no fault', async () => {
    for (let count = 1; count <= 101; count += 1)
      await record({ reading: `10.${String(count).padStart(3, '0')}`, confirm: '1' });
    expect(text(await page()).match(/Take back/g)).toHaveLength(101);
    expect(text((await get(`/setup/scales/${id}?page=2`)).body)).toContain('10 lb 10.001 lb');
    expect((await get(`/setup/scales/${id}?page=9`)).statusCode).toBe(200);
  });

  test('writes figures with the ledger’s decimal mark, and reads them with it', async () => {
    const settings = { unit: 'lb', currency: 'USD', decimalMark: ',', staleQuoteDays: '14', scaleCheckDays: '90' };
    await post('/setup/ledger', settings);
    await record({ reading: '10,05' });
    expect(text(await page())).toContain('10 lb 10,05 lb +0,05 lb within ± 0,05 lb');
  });
});

describe('the reminder', () => {
  const home = async () => text((await get('/')).body);
  const useBench = () => updateBin(ledger.db, binId(ledger, 'CU2'), { scale_id: id });
  const addedOn = (on: string | null) => ledger.db.sqlite.prepare('update scale set added_on = ?').run(on);

  test('names a scale in use that was not checked for long, and leads to its form', async () => {
    useBench();
    await record({ checkedOn: '2024-08-29' });
    const { body } = await get('/');
    expect(text(body)).toContain(
      'Bench scale was last checked on 29 Aug 2024, 203 days ago: check it with a known weight .',
    );
    expect(body).toContain(`href="/setup/scales/${id}#check"`);
    expect(await page()).toContain('id="check"');
  });

  test('counts from the day a scale came into use when it was never checked', async () => {
    useBench();
    expect(await home()).not.toContain('Bench scale');
    addedOn('2024-12-01');
    expect(await home()).toContain('Bench scale was not checked yet: check it with a known weight');
    addedOn(null);
    expect(await home()).toContain('Bench scale was not checked yet');
  });

  test('is silent for a scale that no open bin is weighed on, and once it was checked', async () => {
    addedOn(null);
    expect(await home()).not.toContain('Bench scale');
    useBench();
    await record({ checkedOn: '2025-03-20' });
    expect(await home()).not.toContain('Bench scale');
  });

  test('comes after as many days as the settings say', async () => {
    useBench();
    await record({ checkedOn: '2025-03-01' });
    const settings = { unit: 'lb', currency: 'USD', decimalMark: '.', staleQuoteDays: '14', scaleCheckDays: '18' };
    await post('/setup/ledger', settings);
    expect(await home()).toContain('19 days ago: check it');
    await post('/setup/ledger', { ...settings, scaleCheckDays: '19' });
    expect(await home()).not.toContain('Bench scale');
  });

  test('stands with each scale of the list as well', async () => {
    await record({ checkedOn: '2024-08-29' });
    expect(text((await get('/setup/scales')).body)).toContain(
      'last checked 29 Aug 2024, 203 days ago · a check is due',
    );
    await record({ checkedOn: '2025-03-19' });
    const body = text((await get('/setup/scales')).body);
    expect(body).toContain('last checked 19 Mar 2025, yesterday');
    expect(body).not.toContain('a check is due');
  });
});
