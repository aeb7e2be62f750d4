import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { letIn, setFirstPassphrase } from '../../server/access/acts.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { staticAddress, staticNames } from '../../server/static-files.ts';
import { ADDRESSES } from '../browser/pages.ts';
import { DEMO_CLOCK, fullDemo } from '../full-demo.ts';
import { type Listening, listen, sendRaw } from '../raw.ts';

// What stands above every answer, whatever it is: nothing runs or loads from elsewhere, nothing is guessed to be of
// another type, nothing stands in a frame of another page, and nobody on the way keeps what is in the ledger.

const HOST = '192.168.1.20:4870';
let ledger: Ledger;
let app: FastifyInstance;
let server: Listening;
let cookie: string;
beforeAll(async () => {
  ledger = await fullDemo();
  setFirstPassphrase(ledger, 'scrypt$AAAA$AAAA');
  cookie = `${COOKIE}=${letIn(ledger, 'Kitchen phone', 'pairing').token}`;
  app = await buildApp({ db: ledger.db, clock: DEMO_CLOCK, homeUrls: () => [`http://${HOST}`] });
  server = await listen(app);
});
afterAll(() => app.close());

const ask = (method: string, url: string, more: Record<string, string> = {}) =>
  app.inject({
    method: method as 'GET',
    url,
    remoteAddress: '192.168.1.77',
    headers: { host: HOST, cookie, origin: `http://${HOST}`, ...more },
  });

type Headers = Readonly<Record<string, unknown>>;

/** What holds for every answer; and, where it is of the ledger, that only the browser that asked may keep it. */
function expectSafe(what: string, headers: Headers, { isOfLedger = true } = {}): void {
  const policy = String(headers['content-security-policy']);
  expect([what, policy]).toEqual([what, expect.stringContaining("default-src 'none'")]);
  expect([what, policy]).toEqual([what, expect.not.stringMatching(/unsafe|\*|https?:|upgrade/)]);
  const rules = ['x-content-type-options', 'x-frame-options', 'referrer-policy'].map((name) => headers[name]);
  expect([what, ...rules]).toEqual([what, 'nosniff', 'DENY', 'same-origin']);
  expect([what, headers.server, headers['x-powered-by'], headers['access-control-allow-origin']]).toEqual([
    what,
    undefined,
    undefined,
    undefined,
  ]);
  const cache = String(headers['cache-control']);
  if (isOfLedger) expect([what, cache]).toEqual([what, expect.stringMatching(/^private, |^no-store$/)]);
  else
    expect([what, cache]).toEqual([
      what,
      expect.stringMatching(/^(public, max-age=31536000, immutable|no-cache|private, no-cache)$/),
    ]);
}

test.for(ADDRESSES)('the page %s', async (url) => {
  const { headers, statusCode } = await ask('GET', url);
  expect(statusCode).toBe(200);
  expectSafe(url, headers);
  expect(headers['content-type']).toBe('text/html; charset=utf-8');
});

describe('other answers', () => {
  test.for([
    ['a page that is not there', 'GET', '/no-such-page', 404],
    ['a document that is not there', 'GET', '/tickets/999', 404],
    ['a filter that cannot be read', 'GET', '/reports/shrinkage?from=never', 422],
    ['the head alone', 'HEAD', '/prices', 200],
    ['a post that leads on', 'POST', '/in-weights', 403],
    ['another method', 'DELETE', '/bins/CU2', 403],
    ['a file to save', 'GET', '/export/bins.csv', 200],
    ['a photo', 'GET', '/files/1', 200],
    ['its preview', 'GET', '/files/1/preview', 200],
    ['a part of a page', 'GET', '/weigh-in/understood?gross=3&unit=lb', 200],
    ['an address of a form', 'GET', '/in-weights/3/undo', 303],
    ['the sign-in of one who is in', 'GET', '/sign-in', 303],
  ] as const)('%s', async ([what, method, url, status]) => {
    const { headers, statusCode } = await ask(method, url);
    expect([what, statusCode]).toEqual([what, status]);
    expectSafe(what, headers);
  });

  test('a file to save is saved, as text', async () => {
    const { headers } = await ask('GET', '/export/bins.csv');
    expect(headers['content-type']).toBe('text/csv; charset=utf-8');
    expect(headers['content-disposition']).toBe('attachment; filename="bins.csv"');
  });

  test('a photo is kept by the browser that asked, under its mark only, and runs nothing', async () => {
    const { headers } = await ask('GET', '/files/1');
    expect(headers['content-security-policy']).toBe("default-src 'none'; sandbox");
    expect(headers['cache-control']).toBe('private, no-cache');
    const again = await ask('GET', '/files/1', { 'if-none-match': String(headers.etag) });
    expect(again.statusCode).toBe(304);
    expectSafe('a photo that is known', again.headers);
  });

  test('for those who are not let in', async () => {
    for (const [method, url] of [
      ['GET', '/'],
      ['GET', '/sign-in'],
      ['POST', '/in-weights'],
      ['GET', '/pair/x'],
      ['GET', '/health'],
    ] as const) {
      expectSafe(url, (await ask(method, url, { cookie: '' })).headers);
    }
    expectSafe('another name', (await ask('GET', '/', { host: 'elsewhere.example' })).headers);
    expectSafe('a part of a page', (await ask('GET', '/', { cookie: '', 'hx-request': 'true' })).headers);
  });

  test('what pages are drawn with is the same for everybody, and says nothing of the ledger', async () => {
    for (const name of staticNames) {
      for (const url of [`/static/${name}`, staticAddress(name)]) {
        const { headers } = await ask('GET', url, { cookie: '' });
        expectSafe(url, headers, { isOfLedger: false });
        expect(headers['set-cookie']).toBeUndefined();
      }
    }
  });

  test('a fault of ours shows a page and nothing of the fault', async () => {
    const broken = await buildApp({
      db: ledger.db,
      clock: DEMO_CLOCK,
      homeUrls: () => [`http://${HOST}`],
      refreshNetwork: () => Promise.reject(new Error('secret of the fault')),
    });
    const said = console.error;
    console.error = () => undefined;
    const { headers, statusCode, body } = await broken.inject({
      method: 'GET',
      url: '/setup/devices',
      headers: { host: HOST, cookie },
    });
    console.error = said;
    expect(statusCode).toBe(500);
    expect(body).not.toContain('secret of the fault');
    expectSafe('a fault', headers);
    await broken.close();
  });
});

describe('what never becomes a request', () => {
  test.for([
    ['an address that cannot be read', 'GET /%zz', [], 404],
    ['an address that is too long', `GET /bins/${'a'.repeat(300)}`, [], 404],
    ['a head that is too long', 'GET /', [`X-A: ${'a'.repeat(20_000)}`], 431],
    ['no HTTP at all', 'HELLO', [], 400],
  ] as const)('%s', async ([what, line, more, status]) => {
    const answer = await sendRaw(server, line, [`Host: ${HOST}`, ...more]);
    expect([what, answer.status]).toEqual([what, status]);
    expectSafe(what, answer.headers);
    expect(answer.body).not.toMatch(/[{}<>]|zz|aaa|FST_/);
  });
});
