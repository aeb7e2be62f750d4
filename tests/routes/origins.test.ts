import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { letIn, setFirstPassphrase } from '../../server/access/acts.ts';
import { formTokenOf } from '../../server/access/token.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { DEMO_CLOCK, fullDemo } from '../full-demo.ts';
import { listen, sendRaw } from '../raw.ts';
import { routesOf } from '../route-list.ts';

// Posts of a browser that is signed in and has the right form token: only where they come from is wrong.

const HOST = '192.168.1.20:4870';
const OWN = `http://${HOST}`;

let ledger: Ledger;
let app: FastifyInstance;
let posts: string[];
let token: string;
beforeAll(async () => {
  ledger = await fullDemo();
  setFirstPassphrase(ledger, 'scrypt$AAAA$AAAA');
  token = letIn(ledger, 'Kitchen phone', 'pairing').token;
  app = await buildApp({ db: ledger.db, clock: DEMO_CLOCK, homeUrls: () => [OWN] });
  await app.ready();
  posts = routesOf(app)
    .filter(({ method }) => method === 'POST')
    .map(({ url }) => url.replace(':code', 'CU2').replace(/:\w+/g, '1'));
});
afterAll(() => app.close());

const FIELDS = { net: '10', occurredOn: '2026-03-01', name: 'Changed', device: 'Changed', bin: 'CU2', gross: '10' };

const post = (url: string, origin: string | undefined, more: Record<string, string> = {}) =>
  app.inject({
    method: 'POST',
    url,
    remoteAddress: '192.168.1.77',
    headers: {
      host: HOST,
      cookie: `${COOKIE}=${token}`,
      'content-type': 'application/x-www-form-urlencoded',
      ...(origin === undefined ? {} : { origin }),
      ...more,
    },
    payload: new URLSearchParams({ formToken: formTokenOf(token), ...FIELDS }).toString(),
  });

/** Every row that was ever written, changed or deleted over this connection. */
const changes = (): unknown => ledger.db.sqlite.prepare('select total_changes()').pluck().get();

const FOREIGN: readonly (readonly [string, string | undefined])[] = [
  ['missing', undefined],
  ['empty', ''],
  ['null', 'null'],
  ['another site', 'http://elsewhere.example'],
  ['another site, same port', 'http://elsewhere.example:4870'],
  ['another computer at home', 'http://192.168.1.21:4870'],
  ['another port', 'http://192.168.1.20:4871'],
  ['no port', 'http://192.168.1.20'],
  ['another scheme', `https://${HOST}`],
  ['a file', 'file://'],
  ['an extension', 'chrome-extension://abcdefghijklmnop'],
  ['odd case of the scheme', `HTTP://${HOST}`],
  ['a trailing slash', `${OWN}/`],
  ['a path', `${OWN}/setup/devices`],
  ['a question', `${OWN}?x`],
  ['a sub-domain of the address', 'http://a.192.168.1.20:4870'],
  ['the address as a sub-domain', 'http://192.168.1.20.elsewhere.example:4870'],
  ['the address as a user', `http://${HOST}@elsewhere.example`],
  ['a user before the address', `http://user@${HOST}`],
  ['two of them', `${OWN}, http://elsewhere.example`],
  ['two of them, ours last', `http://elsewhere.example ${OWN}`],
  ['this computer itself', 'http://127.0.0.1:4870'],
  ['its name', 'http://localhost:4870'],
  ['the address as a number', 'http://3232235796:4870'],
  ['a trailing dot', 'http://192.168.1.20.:4870'],
  ['only the host', HOST],
];

test.for(FOREIGN)('a post from elsewhere is refused on every route and changes nothing: %s', async ([, origin]) => {
  expect(posts.length).toBeGreaterThan(60);
  const before = changes();
  const taken: string[] = [];
  for (const url of posts) {
    const { statusCode } = await post(url, origin);
    if (statusCode !== 403) taken.push(`${url}: ${statusCode}`);
  }
  expect(taken).toEqual([]);
  expect(changes()).toBe(before);
});

test('neither with what a page elsewhere can send along', async () => {
  const before = changes();
  const tricks: Record<string, string>[] = [
    { 'x-forwarded-host': 'elsewhere.example' },
    { referer: `${OWN}/setup/devices` },
    { 'content-type': 'text/plain' },
    { 'content-type': 'multipart/form-data; boundary=x' },
    { 'content-type': 'application/json' },
    { 'x-http-method-override': 'GET' },
    { 'hx-request': 'true' },
    { 'sec-fetch-site': 'same-origin' },
  ];
  for (const trick of tricks) {
    for (const url of posts) {
      const { statusCode } = await post(url, 'http://elsewhere.example', trick);
      expect([url, trick, statusCode]).toEqual([url, trick, 403]);
    }
  }
  expect(changes()).toBe(before);
});

test('nor by two Origin headers, whichever comes first', async () => {
  const server = await listen(app);
  const body = new URLSearchParams({ formToken: formTokenOf(token), ...FIELDS }).toString();
  const before = changes();
  for (const origins of [
    [OWN, 'http://elsewhere.example'],
    ['http://elsewhere.example', OWN],
    [OWN, OWN],
  ]) {
    const headers = [
      `Host: ${HOST}`,
      ...origins.map((origin) => `Origin: ${origin}`),
      `Cookie: ${COOKIE}=${token}`,
      'Content-Type: application/x-www-form-urlencoded',
      `Content-Length: ${body.length}`,
    ];
    expect((await sendRaw(server, 'POST /bins/CU2/recounts', headers, body)).status).toBe(403);
  }
  expect(changes()).toBe(before);
});

test('the same post from a page of ours is taken', async () => {
  const before = changes();
  expect((await post('/bins/CU2/recounts', OWN)).statusCode).toBe(303);
  expect(changes()).not.toBe(before);
});
