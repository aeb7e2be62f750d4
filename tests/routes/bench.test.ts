import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { saveWireKind } from '../../server/bench/acts.ts';
import { recordStripping } from '../../server/bench/stripping.ts';
import type { Ledger } from '../../server/context.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import { day } from '../../server/units/day.ts';
import {
  binId,
  get as getFrom,
  gradeId,
  lb,
  massIn,
  newApp,
  newLedger,
  post as postTo,
  setUpWorkedExample,
  weighIn,
} from '../helper.ts';

let ledger: Ledger;
let app: FastifyInstance;
let yardId: number;

beforeEach(async () => {
  ledger = newLedger();
  yardId = setUpWorkedExample(ledger).yardId;
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const get = (url: string) => getFrom(app, url);
const post = (url: string, fields: Record<string, string>) => postTo(app, url, fields);
/** The text of a page without its tags, blanks run together. */
const textOf = (body: string): string => (body.split('<main')[1] ?? '').replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

const WIRE = 'Insulated wire, low recovery';
const aKind = () => ({ name: 'flat cord', grade: String(gradeId(ledger, WIRE)), bareGrade: '1', note: 'no plugs' });
const aSample = (before: string, after: string, more: Record<string, string> = {}) => ({
  before,
  after,
  unit: 'g',
  minutes: '6',
  sampledOn: '2025-03-19',
  note: '',
  ...more,
});
const quote = (grade: string, price: string, on: string) =>
  recordQuote(ledger, { yardId, gradeId: gradeId(ledger, grade), price, per: 'lb', seenOn: day(on), seenWhere: '' });

test('the bench leads to its questions and says how grades are told', async () => {
  const { statusCode, body } = await get('/bench');
  expect(statusCode).toBe(200);
  for (const path of ['/bench/wire', '/bench/metal', '/bench/stripping', '/bench/wire/kinds', '/bench/grades']) {
    expect(body).toContain(`href="${path}"`);
    expect((await get(path)).statusCode).toBe(200);
  }
  expect(textOf((await get('/bench/grades')).body)).toContain('Yellow brass');
});

describe('strip or sell', () => {
  test('a kind with samples and quotes is answered in a sentence, a stale quote marked', async () => {
    quote(WIRE, '1.10', '2025-03-15');
    quote('No. 2 copper', '3.60', '2025-02-01');
    expect((await post('/bench/wire/kinds', aKind())).headers.location).toBe('/bench/wire/kinds/1?done=added');
    for (const [before, after] of [
      ['100', '40'],
      ['200', '84'],
      ['150', '58'],
    ] as const) {
      expect((await post('/bench/wire/kinds/1/samples', aSample(before, after))).statusCode).toBe(303);
    }
    const text = textOf((await get('/bench/wire?kind=1')).body);
    expect(text).toContain(
      'Strip it Stripping brings $0.356 per lb of wire more than selling it as it is, $1.18 an hour more',
    );
    expect(text).toContain('Stripping pays from a recovery of 30.6 % on.');
    expect(text).toContain('while the bare metal is above $2.72 per lb');
    expect(text).toContain('Your 3 samples put the metal between');
    expect(text).toContain('47 days ago, look it up again');
  });

  test('samples that straddle the break-even do not settle it', async () => {
    saveWireKind(ledger, null, { name: 'cord', grade_id: gradeId(ledger, WIRE), bare_grade_id: 1, note: '' });
    for (const after of ['30', '40', '55']) await post('/bench/wire/kinds/1/samples', aSample('100', after));
    const text = textOf((await get('/bench/wire?kind=1&insulated=1.5&bare=3.6')).body);
    expect(text).toContain('Your samples do not settle it yet: measure more.');
  });

  test('a rule of thumb is offered while there is no sample, and is marked as an estimate', async () => {
    const asked = '/bench/wire?insulated=1.1&bare=3.6';
    const { body } = await get(asked);
    expect(textOf(body)).toContain('Common practice, with no published source');
    const [, link = ''] = /href="([^"]*)">appliance cord/.exec(body) ?? [];
    const text = textOf((await get(link.replaceAll('&amp;', '&'))).body);
    expect(text).toContain('Strip it (by an estimate)');
    expect(text).toContain('40.0 %, an estimate as typed');
  });

  test('one’s own time may turn the answer', async () => {
    const asked = '/bench/wire?insulated=1.1&bare=3.6&by=figure&recovery=40&rate=5';
    expect(textOf((await get(asked)).body)).toContain('Strip it (by an estimate)');
    const text = textOf((await get(`${asked}&wage=15`)).body);
    expect(text).toContain('Sell it as it is (by an estimate)');
    expect(text).toContain('With $15.00 for each hour of yours it falls short by $2.66 per lb');
  });

  test('figures of another unit fail no page', async () => {
    await post('/bench/wire/kinds', aKind());
    await post('/bench/wire/kinds/1/samples', aSample('100', '40', { unit: 'tonne', minutes: '0.02' }));
    expect((await get('/bench/wire/kinds/1')).statusCode).toBe(200);
    const { statusCode, body } = await get('/bench/wire?kind=1&insulated=1&bare=1000000&barePer=g&wage=9999999');
    expect([statusCode, textOf(body).includes('more than can be right')]).toEqual([200, true]);
  });

  test('what cannot be right comes back as typed, with its sentence', async () => {
    const { statusCode, body } = await get('/bench/wire?by=conductor&size=99&length=10&piece=5&insulated=1&bare=3');
    expect(statusCode).toBe(422);
    expect(body).toContain('id="f-size-problem">There is no such gauge. AWG runs from 4/0 to 40.');
    expect(body).toContain('value="99"');
  });
});

describe('kinds of wire and samples', () => {
  beforeEach(() => post('/bench/wire/kinds', aKind()));

  test('more metal than wire is refused, and nothing typed is lost', async () => {
    const { statusCode, body } = await post('/bench/wire/kinds/1/samples', aSample('40', '100', { note: 'swapped' }));
    expect(statusCode).toBe(422);
    expect(body).toContain('The metal weighs more than the wire did. Swap the two figures?');
    expect(body).toContain('swapped');
  });

  test.each([
    ['-5', 'cannot be negative'],
    ['0', 'Leave the minutes empty'],
    ['99999999', 'cannot be right here'],
  ])('%s minutes are refused', async (minutes, sentence) => {
    const { statusCode, body } = await post('/bench/wire/kinds/1/samples', aSample('100', '40', { minutes }));
    expect([statusCode, body.includes(sentence)]).toEqual([422, true]);
  });

  test('a sample is listed, found by its note, and taken back once', async () => {
    await post('/bench/wire/kinds/1/samples', aSample('100', '40', { note: 'from the heater' }));
    expect((await get('/find?q=heater')).body).toContain('/bench/wire/kinds/1');
    expect((await get('/find?q=plugs')).body).toContain('/bench/wire/kinds/1');
    expect((await post('/wire-samples/1/undo', {})).statusCode).toBe(303);
    expect((await get('/bench/wire/kinds/1')).body).toContain('taken back');
    expect((await post('/wire-samples/1/undo', { requestKey: 'another-key' })).statusCode).toBe(422);
    expect(textOf((await get('/trail?document=wire_kind-1')).body)).toContain('Took back a sample of wire');
  });

  test('a kind is changed, removed, and its removal put back', async () => {
    expect((await post('/bench/wire/kinds/1', { ...aKind(), name: 'round cord' })).statusCode).toBe(303);
    expect((await post('/bench/wire/kinds/1/removal', {})).headers.location).toBe('/bench/wire/kinds?removed=1');
    expect((await get('/bench/wire/kinds/1')).statusCode).toBe(404);
    const [, line = ''] = /\/trail\/(\d+)\/put-back/.exec((await get('/trail')).body) ?? [];
    expect((await post(`/trail/${line}/put-back`, {})).statusCode).toBe(303);
    expect((await get('/bench/wire/kinds')).body).toContain('round cord');
  });

  test('the same grade twice is refused', async () => {
    const { statusCode, body } = await post('/bench/wire/kinds', { ...aKind(), name: 'x', bareGrade: aKind().grade });
    expect([statusCode, body.includes('Choose another grade')]).toEqual([422, true]);
  });
});

describe('stripping a lot', () => {
  const aLot = {
    fromBin: 'WLO',
    toBin: 'CU2',
    before: '6',
    after: '2.4',
    unit: 'lb',
    minutes: '',
    note: 'of the heaters',
  };
  const on = { occurredOn: '2025-03-19', sampleOf: '' };

  test('moves the metal, and stands in both ledgers with one way back', async () => {
    weighIn(ledger, 'WLO', '10');
    expect((await post('/strippings', { ...aLot, ...on })).headers.location).toBe('/bins/CU2?done=stripped');
    expect([massIn(ledger, 'WLO'), massIn(ledger, 'CU2')]).toEqual([lb('4'), lb('2.4')]);
    const source = (await get('/bins/WLO')).body;
    expect(textOf(source)).toContain('stripped to CU2');
    expect(textOf(source)).toContain('insulation stripped off, waste');
    expect(source.split('/bins/WLO/strippings/1/undo')).toHaveLength(2);
    expect(textOf((await get('/bins/CU2')).body)).toContain('stripped from WLO');
    expect((await get('/find?q=heaters')).body).toContain('WLO to CU2');
    expect(textOf((await get('/bins/WLO?kind=moved')).body)).toContain('stripped to CU2');
    expect((await post('/bins/CU2/strippings/1/undo', {})).statusCode).toBe(303);
    expect([massIn(ledger, 'WLO'), massIn(ledger, 'CU2')]).toEqual([lb('10'), 0]);
    const trail = textOf((await get('/trail?kind=bins')).body);
    expect(trail).toContain('Took back a stripping: WLO to CU2, 6.00 lb');
  });

  test('more than the bin has is asked about and then booked', async () => {
    weighIn(ledger, 'WLO', '5');
    const refused = await post('/strippings', { ...aLot, ...on });
    expect(refused.statusCode).toBe(422);
    expect(refused.body).toContain('name="bookShortfall"');
    expect((await post('/strippings', { ...aLot, ...on, bookShortfall: '1' })).statusCode).toBe(303);
    expect(massIn(ledger, 'WLO')).toBe(0);
  });

  test('kept as a sample it counts as one', async () => {
    weighIn(ledger, 'WLO', '10');
    await post('/bench/wire/kinds', aKind());
    await post('/strippings', { ...aLot, ...on, sampleOf: '1', minutes: '45' });
    const text = textOf((await get('/bench/wire/kinds/1')).body);
    expect(text).toContain('One sample: 40.0 % metal.');
    expect(text).toContain('a stripped lot');
  });

  test('the bin for wire offers it, and the day shows it', async () => {
    weighIn(ledger, 'WLO', '10');
    expect((await get('/bins/WLO')).body).toContain('href="/bench/stripping?from=WLO"');
    expect((await get('/bins/CU2')).body).not.toContain('/bench/stripping');
    recordStripping(ledger, {
      fromBinId: binId(ledger, 'WLO'),
      toBinId: binId(ledger, 'CU2'),
      beforeTyped: '1',
      afterTyped: '1',
      unit: 'lb',
      beforeUg: lb('1'),
      afterUg: lb('1'),
      seconds: null,
      occurredOn: day('2025-03-19'),
      note: '',
      bookShortfall: false,
      sampleOf: null,
    });
    expect(textOf((await get('/find?q=2025-03-19')).body)).toContain('WLO recounted or moved');
  });
});

describe('which metal', () => {
  test('names what it may be, with source and what parts them', async () => {
    const text = textOf((await get('/bench/metal?dry=850&submerged=750&unit=g&division=1')).body);
    expect(text).toContain('8.48 ± 0.07 g/cm³');
    expect(text).toContain('yellow brass, free cutting C36000');
    expect(text).toContain('from memory');
    expect(text).toContain('silver white: solder 60/40 Sn-Pb');
    expect(text).toContain('The spark test is only named here');
  });

  test('a coarse scale is told what it needs', async () => {
    const text = textOf((await get('/bench/metal?dry=80&submerged=70&unit=g&division=1')).body);
    expect(text).toContain('Too coarse to tell much: use a finer scale or a bigger piece. The water carries 10 steps');
    expect(text).toContain('it should carry 39 or more');
  });

  test('without a step nothing is claimed', async () => {
    const text = textOf((await get('/bench/metal?dry=850&submerged=750&unit=g')).body);
    expect(text).toContain('How sure this is cannot be told');
    expect(text).toContain('Nearest in the table');
    expect(text).not.toContain('It may be');
  });

  test('light metal is not to be filed', async () => {
    const text = textOf((await get('/bench/metal?dry=1810&submerged=812&unit=g&division=1')).body);
    expect(text).toContain('magnesium');
    expect(text).toContain('Do not file, grind or drill it');
  });

  test('swapped figures are asked about', async () => {
    const { statusCode, body } = await get('/bench/metal?dry=750&submerged=850&unit=g');
    expect([statusCode, body.includes('It weighs more in water than dry: swap the figures?')]).toEqual([422, true]);
    expect(body).toContain('value="850"');
  });
});
