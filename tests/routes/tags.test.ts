import fc from 'fast-check';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { closeBin } from '../../server/setup/acts.ts';
import { isNumeric, readHomeAddress, weighInAddress } from '../../server/setup/tag-address.ts';
import { binId, clock, get, newApp, newBin, newLedger, post, setUpWorkedExample } from '../helper.ts';

const HOME = 'http://192.168.7.20:4870';

let ledger: Ledger;
let app: FastifyInstance;
let homeUrls: string[];
beforeEach(async () => {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  homeUrls = [`${HOME}/`];
  app = await buildApp({ db: ledger.db, clock, homeUrls: () => homeUrls });
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const tagCodes = (body: string): string[] =>
  [...body.matchAll(/<h2 class="hang-code[^>]*>([^<]*)</g)].map(([, code = '']) => code);
const tickedOf = (body: string): string[] =>
  [...body.matchAll(/name="bins" value="(\d+)" checked/g)].map(([, id = '']) => id);

describe('the tags', () => {
  test('are those of all open bins at first, each with grade, family, place and a code', async () => {
    closeBin(ledger, binId(ledger, 'FE1'));
    ledger.db.sqlite.exec("insert into container (name, tare_typed, tare_ug) values ('blue tub', '2', 907184740)");
    ledger.db.sqlite.exec("update bin set place = 'by the door', container_id = 1 where code = 'YB1'");
    const { body } = await get(app, '/setup/tags');
    expect(tagCodes(body)).toEqual(['CU2', 'WLO', 'YB1', 'YB2']);
    expect(body).toContain('brass and bronze');
    expect(body).toContain('by the door');
    expect(body.replace(/<[^>]*>/g, '')).toContain('blue tub, empty 2.00 lb');
    expect(body.match(/<svg class="qr"/g)).toHaveLength(4);
  });

  test('are those that the address names, and the choice shows it', async () => {
    const ids = [binId(ledger, 'YB2'), binId(ledger, 'CU2')].map(String);
    const { body } = await get(app, `/setup/tags?chosen=bins&bins=${ids[0]}&bins=${ids[1]}`);
    expect(tagCodes(body)).toEqual(['CU2', 'YB2']);
    expect(tickedOf(body).sort()).toEqual([...ids].sort());
  });

  test('may be that of a closed bin that was asked for', async () => {
    closeBin(ledger, binId(ledger, 'FE1'));
    expect(tagCodes((await get(app, `/setup/tags?bins=${binId(ledger, 'FE1')}`)).body)).toEqual(['FE1']);
  });

  test('are none when none is ticked, and the page says so', async () => {
    const { body } = await get(app, '/setup/tags?chosen=bins');
    expect(tagCodes(body)).toEqual([]);
    expect(body).toContain('No bin is ticked');
    expect(body).not.toContain('data-print');
  });

  test('are none where there is no bin, and the page says what to do', async () => {
    const empty = newLedger();
    const bare = await newApp(empty.db);
    const { body, statusCode } = await get(bare, '/setup/tags');
    expect(statusCode).toBe(200);
    expect(body).toContain('There is no open bin to print a tag for.');
    await bare.close();
    empty.db.close();
  });

  test('ignore ids that no bin has', async () => {
    expect(tagCodes((await get(app, '/setup/tags?bins=999&bins=x&bins=')).body)).toEqual([]);
  });

  test('stand two hundred on a page, and the page says how many are left', async () => {
    for (let n = 0; n < 200; n += 1) newBin(ledger, `X${n}`, 'Yellow brass');
    const { body } = await get(app, '/setup/tags');
    expect(tagCodes(body)).toHaveLength(200);
    expect(body).toContain('5 more do not fit on this page.');
  });

  test('are linked from the list of bins, from a bin and from its set-up', async () => {
    const id = binId(ledger, 'CU2');
    expect((await get(app, '/setup/bins')).body).toContain('href="/setup/tags"');
    expect((await get(app, '/bins/CU2')).body).toContain(`href="/setup/tags?bins=${id}"`);
    expect((await get(app, `/setup/bins/${id}`)).body).toContain(`href="/setup/tags?bins=${id}"`);
  });
});

describe('what the codes lead to', () => {
  const lead = async () => /opens <span class="address">([^<]*)</.exec((await get(app, '/setup/tags')).body)?.[1];
  const choose = (fields: Record<string, string>) => post(app, '/setup/tags/address', { bins: '', ...fields });

  test('is the likeliest address of this computer at first', async () => {
    expect(await lead()).toBe(`${HOME}/weigh-in?bin=CU2`);
  });

  test('is nothing while this computer answers only itself: then tags have no codes', async () => {
    homeUrls = [];
    const { body } = await get(app, '/setup/tags');
    expect(tagCodes(body)).toHaveLength(5);
    expect(body).not.toContain('class="qr"');
    expect(body).toContain('For now this computer answers only itself');
  });

  test('is kept once it was chosen, and the same bins are shown again', async () => {
    homeUrls.push('http://garage.local:4870');
    const bins = [binId(ledger, 'CU2'), binId(ledger, 'FE1')];
    const { statusCode, headers } = await choose({ address: 'http://garage.local:4870', bins: bins.join(', ') });
    expect([statusCode, headers.location]).toEqual([303, `/setup/tags?chosen=address&bins=${bins[0]}&bins=${bins[1]}`]);
    const { body } = await get(app, String(headers.location));
    expect(tagCodes(body)).toEqual(['CU2', 'FE1']);
    expect(body).toContain('The codes lead to http://garage.local:4870 now.');
    expect(await lead()).toBe('http://garage.local:4870/weigh-in?bin=CU2');
  });

  test('may be a name that was typed, which goes before the list', async () => {
    await choose({ address: HOME, name: 'Garage.local' });
    expect(await lead()).toBe('http://garage.local:4870/weigh-in?bin=CU2');
    expect((await get(app, '/setup/tags')).body).toContain('<option value="http://garage.local:4870" selected>');
  });

  test('is said when the computer no longer has the address', async () => {
    await choose({ address: HOME });
    homeUrls = ['http://192.168.7.31:4870'];
    expect((await get(app, '/setup/tags')).body).toContain(`does not have the address ${HOME} now`);
  });

  test.for([
    [{ name: 'my garage' }, 'name'],
    [{ name: 'http://garage/elsewhere' }, 'name'],
    [{ name: 'garage:99999' }, 'name'],
    [{ name: '192.168.7.999' }, 'name'],
    [{ name: '"><script>' }, 'name'],
    [{ address: 'http://elsewhere.invalid' }, 'address'],
    [{}, 'address'],
  ] as const)('comes back with a sentence beside the field: %j', async ([fields, field]) => {
    const { statusCode, body } = await choose({ ...fields });
    expect(statusCode).toBe(422);
    expect(body).toContain(`id="f-${field}-problem"`);
    expect(await lead()).toBe(`${HOME}/weigh-in?bin=CU2`);
  });
});

describe('the address of a home computer', () => {
  test.for([
    ['garage', 'http://garage:4870'],
    [' Garage.local ', 'http://garage.local:4870'],
    ['garage.local:80', 'http://garage.local:80'],
    ['192.168.7.20', 'http://192.168.7.20:4870'],
    ['http://garage:4999/', 'http://garage:4999'],
    ['https://garage.local', 'https://garage.local'],
  ] as const)('%j is %s', ([typed, address]) => {
    expect(readHomeAddress(typed, 4870)).toEqual({ ok: true, value: address });
  });

  test('is one of figures or a name', () => {
    expect(isNumeric('http://192.168.7.20:4870')).toBe(true);
    expect(isNumeric('http://garage7.local:4870')).toBe(false);
  });

  test('brings any code of a bin back as it was', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary', minLength: 1, maxLength: 40 }), (code) => {
        expect(new URL(weighInAddress(HOME, code)).searchParams.get('bin')).toBe(code);
      }),
    );
  });

  test('whatever is accepted is an address without a path that a browser reads the same', () => {
    fc.assert(
      fc.property(fc.string({ unit: fc.constantFrom(...'aZ09.-:/ @htps'), maxLength: 30 }), (typed) => {
        const read = readHomeAddress(typed, 4870);
        if (!read.ok) return;
        expect(new URL(read.value).pathname).toBe('/');
        expect(new URL(read.value).username).toBe('');
      }),
    );
  });
});
