import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { setFirstPassphrase } from '../../server/access/acts.ts';
import { ownPath, writeCarried } from '../../server/access/carried.ts';
import { hashPassphrase } from '../../server/access/passphrase.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { openLedger } from '../../server/context.ts';
import { clock, newBin, newLedger, setUpWorkedExample } from '../helper.ts';
import { type Listening, listen, sendRaw } from '../raw.ts';
import { routesOf } from '../route-list.ts';
import { Browser } from '../visit.ts';

// Wherever an address comes from a form or a link, the browser stays on this server. What it would do is asked of URL,
// which reads an address as browsers do (WHATWG URL Standard).

const PASSPHRASE = 'rope lantern gravel tuesday';
const HOST = '192.168.1.20:4870';
const OWN = `http://${HOST}`;

const ELSEWHERE = 'elsewhere.example';
const PAYLOADS: readonly string[] = [
  `https://${ELSEWHERE}/`,
  `http://${ELSEWHERE}`,
  `HTTP://${ELSEWHERE}`,
  `http:${ELSEWHERE}`,
  `http:/${ELSEWHERE}`,
  `http:\\\\${ELSEWHERE}`,
  `ftp://${ELSEWHERE}/`,
  `//${ELSEWHERE}/`,
  `///${ELSEWHERE}/`,
  `////${ELSEWHERE}/`,
  `/\\${ELSEWHERE}`,
  `\\\\${ELSEWHERE}`,
  `\\/${ELSEWHERE}`,
  `\\${ELSEWHERE}`,
  `/\t/${ELSEWHERE}`,
  `/\n/${ELSEWHERE}`,
  `/\r\n/${ELSEWHERE}`,
  `\t//${ELSEWHERE}`,
  ` //${ELSEWHERE}`,
  `/ /${ELSEWHERE}`,
  `/\u00a0/${ELSEWHERE}`,
  `/%09/${ELSEWHERE}`,
  `/%5c${ELSEWHERE}`,
  `/%2f${ELSEWHERE}`,
  `%2f%2f${ELSEWHERE}`,
  `/..//${ELSEWHERE}`,
  `/.//${ELSEWHERE}`,
  `/%2e//${ELSEWHERE}`,
  `/%2e%2e//${ELSEWHERE}`,
  `/bins/../..//${ELSEWHERE}`,
  `/bins/..\\..\\\\${ELSEWHERE}`,
  `/;@${ELSEWHERE}`,
  `@${ELSEWHERE}`,
  `.${ELSEWHERE}`,
  `:80@${ELSEWHERE}`,
  `${HOST}@${ELSEWHERE}`,
  `//${HOST}@${ELSEWHERE}`,
  `/?to=//${ELSEWHERE}`,
  `/sign-in?to=//${ELSEWHERE}`,
  `/#//${ELSEWHERE}`,
  'javascript:alert(1)',
  'java\nscript:alert(1)',
  'JaVaScRiPt:alert(1)//',
  'data:text/html,<script>alert(1)</script>',
  'vbscript:x',
  'blob:x',
  'file:///etc/hostname',
  `/\r\nLocation: http://${ELSEWHERE}/`,
  `/\r\nSet-Cookie: ${COOKIE}=x`,
  `//[::1]@${ELSEWHERE}`,
  `//\u3002${ELSEWHERE}`,
  `/\uff0f${ELSEWHERE}`,
  `\uff0f\uff0f${ELSEWHERE}`,
  `/\u2028/${ELSEWHERE}`,
  `/\0/${ELSEWHERE}`,
  `/${'a/../'.repeat(500)}/${ELSEWHERE}`,
];

let ledger: Ledger;
let app: FastifyInstance;
let server: Listening;
let phone: Browser;
beforeAll(async () => {
  ledger = openLedger(newLedger().db, clock);
  setUpWorkedExample(ledger);
  setFirstPassphrase(ledger, await hashPassphrase(PASSPHRASE));
  app = await buildApp({ db: ledger.db, clock, homeUrls: () => [OWN] });
  server = await listen(app);
  phone = new Browser(() => app, { host: HOST, remoteAddress: '192.168.1.77' });
  expect((await phone.signIn(PASSPHRASE, 'Kitchen phone')).statusCode).toBe(303);
});
afterAll(() => app.close());

/** Where a browser at this page would go next, as long as that is here; throws otherwise. */
function stays(location: unknown, from: string): string {
  const target = new URL(String(location), OWN + from);
  expect([location, target.origin]).toEqual([location, OWN]);
  expect(String(location)).toMatch(/^\/(?![/\\])[\x21-\x7e]*$/);
  return target.pathname + target.search;
}

test('there are more than forty of them, and many do lead elsewhere from a page of ours', () => {
  expect(PAYLOADS.length).toBeGreaterThan(40);
  const led = PAYLOADS.filter((payload) => URL.parse(payload, OWN)?.origin !== OWN);
  expect(led.length).toBeGreaterThan(25);
});

describe.each(PAYLOADS.map((payload) => [JSON.stringify(payload).slice(0, 60), payload] as const))(
  '%s',
  (_name, payload) => {
    test('as the page that was wanted before the sign-in', async () => {
      const { statusCode, headers } = await phone.get(`/sign-in?${new URLSearchParams({ to: payload })}`);
      expect(statusCode).toBe(303);
      stays(headers.location, '/sign-in');
      const asked = await new Browser(() => app, { host: HOST, remoteAddress: '192.168.1.78' }).get(
        `/sign-in?${new URLSearchParams({ to: payload })}`,
      );
      const to = /name="to" value="([^"]*)"/.exec(asked.body)?.[1] ?? '';
      stays(to.replaceAll('&amp;', '&').replaceAll('&#39;', "'"), '/sign-in');
    });

    test('in the form that signs in, and in one that waits behind it', async () => {
      const plain = await phone.post('/sign-in', { to: payload, passphrase: '', device: '' });
      expect(plain.statusCode).toBe(303);
      stays(plain.headers.location, '/sign-in');
      const carried = writeCarried({ url: payload, typed: { to: payload, note: payload } });
      const waiting = await phone.post('/sign-in', { carried, passphrase: '', device: '' });
      expect(waiting.statusCode).toBe(200);
      const actions = [...waiting.body.matchAll(/<form method="post" action="([^"]*)"/g)].map(
        ([, action = '']) => action,
      );
      expect(actions.length).toBe(1);
      stays(actions[0]?.replaceAll('&amp;', '&').replaceAll('&#39;', "'"), '/sign-in');
    });

    test('as the address itself, of a page and of a post', async () => {
      const line = payload.replace(/[\r\n\t\0 ]/g, (sign) => encodeURIComponent(sign));
      const latin = Buffer.from(line, 'utf8').toString('latin1');
      const stranger = await sendRaw(server, `GET ${latin}`, [`Host: ${HOST}`]);
      if (stranger.headers.location !== undefined) {
        const to = new URL(stays(stranger.headers.location, '/'), OWN).searchParams.get('to') ?? '/';
        stays(ownPath(to), '/sign-in');
      }
      for (const cookie of [[], [`Cookie: ${COOKIE}=${phone.cookie}`]]) {
        const headers = [
          `Host: ${HOST}`,
          `Origin: ${OWN}`,
          ...cookie,
          'Content-Type: application/x-www-form-urlencoded',
        ];
        const body = 'net=10';
        const answer = await sendRaw(server, `POST ${latin}`, [...headers, `Content-Length: ${body.length}`], body);
        expect([303, 400, 401, 403, 404, 421]).toContain(answer.status);
        if (answer.status === 303) stays(answer.headers.location, '/');
        for (const [, action = ''] of answer.body.matchAll(/action="([^"]*)"/g))
          stays(action.replaceAll('&amp;', '&'), '/');
      }
    });

    test('within an address that only takes posts, of which Back asks for the page above', async () => {
      const part = encodeURIComponent(payload).slice(0, 190);
      const rawPart = payload.replace(/[\s\0/?#]/g, '').slice(0, 150);
      for (const url of [`/bins/${part}/recounts`, `/tickets/${part}/photos`, `/bins/${rawPart}/recounts`]) {
        const { headers, statusCode } = await phone.get(url);
        expect([303, 404]).toContain(statusCode);
        if (statusCode === 303) stays(headers.location, url);
      }
    });
  },
);

test('no field of any form names the page that comes next', async () => {
  const NAMES = [
    'to',
    'back',
    'next',
    'return',
    'returnTo',
    'redirect',
    'url',
    'uri',
    'location',
    'from',
    'path',
    'requestKey',
  ];
  const posts = routesOf(app).filter(({ method }) => method === 'POST');
  // These end the session or let nobody in any more.
  const left = posts.filter(({ url }) => !/sign-out|passphrase/.test(url));
  for (const payload of [`//${ELSEWHERE}`, `https://${ELSEWHERE}/`]) {
    const fields = Object.fromEntries(NAMES.map((name) => [name, payload]));
    for (const { url } of left) {
      const address = url.replace(':code', 'CU2').replace(/:\w+/g, '1');
      const { headers } = await phone.post(`${address}?${new URLSearchParams(fields)}`, fields, { referer: payload });
      if (headers.location !== undefined) stays(headers.location, address);
    }
  }
});

test('neither does what was typed into the ledger', async () => {
  for (const code of ['//E', '/\\E', '..', '.', 'A?B', 'A#B', '%2F', 'É']) {
    const made = await phone.post('/setup/bins', {
      code,
      grade_id: '1',
      grade: '1',
      gradeId: '1',
      openedOn: '2025-01-01',
    });
    if (made.headers.location !== undefined) stays(made.headers.location, '/setup/bins');
    if (!ledger.db.sqlite.prepare('select 1 from bin where code = ?').get(code)) newBin(ledger, code, 'Yellow brass');
    const address = `/bins/${encodeURIComponent(code)}`;
    const recount = await phone.post(`${address}/recounts`, { net: '10', occurredOn: '2025-03-19' });
    if (recount.statusCode === 404) continue;
    const to = stays(recount.headers.location, `${address}/recounts`);
    expect([code, (await phone.get(to)).statusCode]).toEqual([code, 200]);
    const weighed = await phone.post('/in-weights', {
      bin: code,
      gross: '10',
      tare: '0',
      unit: 'lb',
      occurredOn: '2025-03-19',
    });
    const after = stays(weighed.headers.location, '/in-weights');
    expect([code, (await phone.get(after)).statusCode]).toEqual([code, 200]);
  }
});
