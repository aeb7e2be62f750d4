import fc from 'fast-check';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Ledger, openLedger } from '../../server/context.ts';
import {
  addBinToDraft,
  draftManifest,
  removeFromDraft,
  setDraftAside,
  weighLoads,
} from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { findManifest, loadsOf } from '../../server/manifests/queries.ts';
import { saveContainer } from '../../server/setup/acts.ts';
import { binId, clock, get, lb, newApp, newLedger, post, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';

// Two devices with the same draft open: this one by its forms, the phone in the kitchen by the acts that its forms do.

let ledger: Ledger;
let kitchen: Ledger;
let app: FastifyInstance;

beforeEach(async () => {
  ledger = newLedger();
  kitchen = openLedger(ledger.db, clock, 'Kitchen phone');
  const { yardId } = setUpWorkedExample(ledger);
  saveContainer(ledger, null, { name: 'blue tub', tare_typed: '2', tare_ug: lb('2') });
  for (const code of ['CU2', 'WLO', 'YB1', 'FE1']) weighIn(ledger, code, '60');
  const binIds = [binId(ledger, 'CU2'), binId(ledger, 'WLO')];
  draftManifest(ledger, { yardId, binIds, note: '' });
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

let keys = 0;
type Fields = Record<string, string>;

const unescaped = (text: string) => text.replaceAll('&quot;', '"').replaceAll('&#39;', "'").replaceAll('&amp;', '&');

/** The fields of the draft's form as a browser would send them, with a key of their own. */
function fieldsIn(body: string): Fields {
  keys += 1;
  const form = body.split(/<form /).find((part) => part.includes('/weights"')) ?? '';
  const inputs = [...form.matchAll(/<input[^>]*?name="([^"]*)"[^>]*>/g)].filter(
    ([tag]) => !/type="checkbox"/.test(tag) || /\schecked/.test(tag),
  );
  const texts = inputs.map(([tag, name = '']) => [name, unescaped(/value="([^"]*)"/.exec(tag)?.[1] ?? '')]);
  const selects = [...form.matchAll(/<select[^>]*?name="([^"]*)"[^>]*>([\s\S]*?)<\/select>/g)].map(
    ([, name, options]) => [name, /value="([^"]*)" selected/.exec(options ?? '')?.[1] ?? ''],
  );
  return { ...Object.fromEntries([...texts, ...selects]), requestKey: `meanwhile-key-${keys}` };
}

const opened = async (): Promise<Fields> => fieldsIn((await get(app, '/manifests/1')).body);
const send = (fields: Fields, address = '/manifests/1/weights') => post(app, address, fields);
const grossOf = () => loadsOf(ledger.db, 1).map(({ gross_typed }) => gross_typed);

/** The phone in the kitchen weighs a load, in the blue tub. */
const weighInKitchen = (lineId: number, gross: string): void =>
  weighLoads(kitchen, 1, [
    {
      lineId,
      containerId: 1,
      scaleId: null,
      grossTyped: gross,
      tareTyped: '2',
      netTyped: '',
      unit: 'lb',
      massUg: lb(String(Number.parseFloat(gross) - 2)),
      emptiesBin: true,
    },
  ]);

describe('a load that both weighed', () => {
  test('comes back with both versions, nothing stored, and sent again it keeps the own one', async () => {
    const fields = await opened();
    weighInKitchen(1, '35.0');
    const answer = await send({ ...fields, 'gross-1': '41.5' });
    expect(answer.statusCode).toBe(422);
    expect(answer.body).toContain('This draft was changed meanwhile.');
    expect(answer.body).toContain('Meanwhile on Kitchen phone: 35.0 lb in blue tub.');
    expect(answer.body).toMatch(/name="gross-1" value="41.5"/);
    expect(grossOf()).toEqual(['35.0', '']);
    expect((await send(fieldsIn(answer.body))).statusCode).toBe(303);
    expect(grossOf()).toEqual(['41.5', '']);
  });

  test('is not asked about when both weighed the same, however it is written', async () => {
    const fields = await opened();
    weighInKitchen(1, '35.0');
    const answer = await send({ ...fields, 'gross-1': '35', 'container-1': '1' });
    expect(answer.statusCode).toBe(303);
  });

  test('is asked about again when the other one changed it once more in between', async () => {
    const fields = await opened();
    weighInKitchen(1, '35.0');
    const first = await send({ ...fields, 'gross-1': '41.5' });
    weighInKitchen(1, '36.0');
    const second = await send(fieldsIn(first.body));
    expect(second.statusCode).toBe(422);
    expect(second.body).toContain('36.0 lb in blue tub');
  });

  test('has no name beside it when nobody knows which device it was', async () => {
    const fields = await opened();
    const other = await opened();
    await send({ ...other, 'gross-1': '50' });
    const answer = await send({ ...fields, 'gross-1': '41.5' });
    expect(answer.statusCode).toBe(422);
    expect(answer.body).toContain('Meanwhile: 50 lb.');
  });

  test('says so too when the other one cleared the reading', async () => {
    weighInKitchen(1, '35.0');
    const fields = await opened();
    const other = await opened();
    await send({ ...other, 'gross-1': '' });
    const answer = await send({ ...fields, 'gross-1': '41.5' });
    expect(answer.statusCode).toBe(422);
    expect(answer.body).toContain('Meanwhile: no reading, so the book weight.');
  });
});

describe('different loads of one draft', () => {
  test('weighed by two people are both kept without a question', async () => {
    const fields = await opened();
    weighInKitchen(1, '35.0');
    expect((await send({ ...fields, 'gross-2': '51' })).statusCode).toBe(303);
    expect(grossOf()).toEqual(['35.0', '51']);
  });

  test('a weight and the tick beside it are kept from two people', async () => {
    const fields = await opened();
    weighInKitchen(1, '35.0');
    const { 'empties-1': _, ...unticked } = fields;
    expect((await send(unticked)).statusCode).toBe(303);
    expect(loadsOf(ledger.db, 1)[0]).toMatchObject({ gross_typed: '35.0', empties_bin: 0 });
  });

  test('what the other one saved is loaded along', async () => {
    const fields = await opened();
    weighInKitchen(1, '61.5');
    const answer = await send({ ...fields, 'gross-2': '60.5', loadedOn: TODAY }, '/manifests/1/loading');
    expect(answer.statusCode).toBe(303);
    expect(loadsOf(ledger.db, 1).map(({ mass_ug }) => mass_ug)).toEqual([lb('59.5'), lb('60.5')]);
  });

  test('whatever two people do to two loads, nothing that one of them saved is lost unseen', async () => {
    const reading = fc.constantFrom('', '31', '42.5');
    await fc.assert(
      fc.asyncProperty(reading, reading, reading, reading, async (mine1, mine2, theirs1, theirs2) => {
        const base = await opened();
        const other = await opened();
        await send({ ...other, 'gross-1': theirs1, 'gross-2': theirs2 });
        const before = grossOf();
        const answer = await send({ ...base, 'gross-1': mine1, 'gross-2': mine2 });
        const isLost = [mine1, mine2].some((mine, index) => {
          const was = base[`gross-${index + 1}`];
          return mine !== was && before[index] !== was && mine !== before[index];
        });
        expect(answer.statusCode).toBe(isLost ? 422 : 303);
        const kept = [mine1, mine2].map((mine, index) => (mine === base[`gross-${index + 1}`] ? before[index] : mine));
        expect(grossOf()).toEqual(isLost ? before : kept);
      }),
      { numRuns: 40 },
    );
  });
});

describe('loads that came and went', () => {
  test('an added one is no question when weights are saved, and is one before everything is loaded', async () => {
    const fields = await opened();
    addBinToDraft(kitchen, 1, binId(ledger, 'YB1'));
    const loading = { ...fields, loadedOn: TODAY };
    const asked = await send(loading, '/manifests/1/loading');
    expect(asked.statusCode).toBe(422);
    expect(asked.body).toContain('Meanwhile on Kitchen phone: load C (YB1) was added.');
    expect(findManifest(ledger.db, 1)?.status).toBe('draft');
    expect((await send({ ...fields, 'gross-1': '41.5' })).statusCode).toBe(303);
    const again = await send({ ...fieldsIn(asked.body), 'gross-1': '60.5', loadedOn: TODAY }, '/manifests/1/loading');
    // The load that this form saved a moment ago stands against what it says now: asked again, not overwritten.
    expect(again.statusCode).toBe(422);
    expect((await send({ ...fieldsIn(again.body), loadedOn: TODAY }, '/manifests/1/loading')).statusCode).toBe(303);
    expect(loadsOf(ledger.db, 1)).toHaveLength(3);
  });

  test('one that was taken off is said with what was typed for it', async () => {
    const fields = await opened();
    removeFromDraft(kitchen, 1, 2);
    const asked = await send({ ...fields, 'gross-2': '51', 'container-2': '1' });
    expect(asked.statusCode).toBe(422);
    expect(asked.body).toContain(
      'Meanwhile on Kitchen phone: load B was taken off. You had typed for it: 51 lb in blue tub.',
    );
    expect((await send(fieldsIn(asked.body))).statusCode).toBe(303);
  });

  test('one whose line comes again for another bin never gets what was typed for the first', async () => {
    const fields = await opened();
    removeFromDraft(kitchen, 1, 2);
    addBinToDraft(kitchen, 1, binId(ledger, 'FE1'));
    expect(loadsOf(ledger.db, 1)[1]).toMatchObject({ id: 2, bin_code: 'FE1' });
    const asked = await send({ ...fields, 'gross-2': '51' });
    expect(asked.statusCode).toBe(422);
    expect(asked.body).toContain('load B (FE1) was added');
    expect(grossOf()).toEqual(['', '']);
    const removal = await send(fields, '/manifests/1/lines/2/removal');
    expect(removal.statusCode).toBe(422);
    expect(loadsOf(ledger.db, 1)).toHaveLength(2);
  });

  test('one that was weighed meanwhile is not taken off unseen', async () => {
    const fields = await opened();
    weighInKitchen(2, '35.0');
    const asked = await send(fields, '/manifests/1/lines/2/removal');
    expect(asked.statusCode).toBe(422);
    expect(asked.body).toContain('Taken over from Kitchen phone: 35.0 lb in blue tub.');
    expect((await send(fieldsIn(asked.body), '/manifests/1/lines/2/removal')).statusCode).toBe(303);
    expect(loadsOf(ledger.db, 1)).toHaveLength(1);
  });

  test('bins are added beside what the other one weighed', async () => {
    const fields = await opened();
    weighInKitchen(1, '35.0');
    const bins = String(binId(ledger, 'YB1'));
    expect((await send({ ...fields, bins }, '/manifests/1/lines')).statusCode).toBe(303);
    expect(grossOf()).toEqual(['35.0', '', '']);
  });
});

describe('a draft that is no draft any more', () => {
  test('loaded meanwhile: says so, and shows what was typed', async () => {
    const fields = await opened();
    loadManifest(kitchen, 1, TODAY, false);
    for (const address of ['/manifests/1/weights', '/manifests/1/loading', '/manifests/1/lines']) {
      const typed = { ...fields, 'gross-1': '41.5', 'container-1': '1', loadedOn: TODAY };
      const answer = await send({ ...typed, requestKey: `late-${address.length}-key` }, address);
      expect([address, answer.statusCode]).toEqual([address, 422]);
      expect(answer.body).toContain('Manifest 1 is loaded already and does not change any more.');
      expect(answer.body).toContain('Meanwhile on Kitchen phone the manifest was loaded, so this was not saved:');
      expect(answer.body).toContain('A (CU2): 41.5 lb in blue tub');
      expect(answer.body).not.toContain('B (WLO): ');
    }
  });

  test('set aside meanwhile: the same', async () => {
    const fields = await opened();
    setDraftAside(kitchen, 1);
    const answer = await send({ ...fields, 'gross-1': '4x' });
    expect(answer.statusCode).toBe(422);
    expect(answer.body).toContain('Manifest 1 was set aside');
    expect(answer.body).toContain('A (CU2): 4x');
  });

  test('a draft that the other one weighed is not set aside unseen', async () => {
    const { version = '' } = await opened();
    weighInKitchen(1, '35.0');
    const asked = await post(app, '/manifests/1/set-aside', { requestKey: 'set-aside-1', version });
    expect(asked.statusCode).toBe(422);
    expect(asked.body).toContain('Meanwhile on Kitchen phone: 35.0 lb in blue tub.');
    const seen = fieldsIn(asked.body).version ?? '';
    const again = await post(app, '/manifests/1/set-aside', { requestKey: 'set-aside-1', version: seen });
    expect(again.statusCode).toBe(303);
  });
});

test('a form that comes back for another reason shows what the other one saved where nothing was typed', async () => {
  const fields = await opened();
  weighInKitchen(1, '35.0');
  const answer = await send({ ...fields, 'gross-2': '1.2.3' });
  expect(answer.statusCode).toBe(422);
  expect(answer.body).toMatch(/name="gross-1" value="35.0"/);
  expect(answer.body).toMatch(/name="gross-2" value="1.2.3"/);
  expect(answer.body).toContain('Taken over from Kitchen phone: 35.0 lb in blue tub.');
  expect((await send({ ...fieldsIn(answer.body), 'gross-2': '12' })).statusCode).toBe(303);
  expect(grossOf()).toEqual(['35.0', '12']);
});

test('a version that is none, or of another draft, does no harm', async () => {
  const fields = await opened();
  for (const version of ['', 'x', '1 2.3', '1', '1 99.1.Z.0123456789abcdef.1', '1 '.repeat(5000)]) {
    keys += 1;
    const answer = await send({ ...fields, version, requestKey: `no-version-${keys}` });
    expect([303, 422]).toContain(answer.statusCode);
  }
});
