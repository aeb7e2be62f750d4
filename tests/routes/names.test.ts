import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { clock, newLedger, setUpWorkedExample } from '../helper.ts';
import { type Listening, listen, sendRaw } from '../raw.ts';

// The name that is asked for, over a real socket: a client library would put it right first. A page elsewhere that points
// a name of its own at this address ("DNS rebinding") asks under that name, and gets nothing.

const HOME = '192.168.1.20:4870';
let app: FastifyInstance;
let server: Listening;
beforeAll(async () => {
  const ledger = newLedger();
  setUpWorkedExample(ledger);
  app = await buildApp({ db: ledger.db, clock, hosts: ['tarebook.example'], homeUrls: () => [`http://${HOME}`] });
  server = await listen(app);
});
afterAll(() => app.close());

describe('answers to its own names', () => {
  test.for([
    '127.0.0.1',
    '127.0.0.1:4870',
    'localhost',
    'LocalHost:4870',
    '[::1]',
    '[::1]:4870',
    HOME,
    'tarebook.example',
  ])('%s', async (host) => {
    const { status, body } = await sendRaw(server, 'GET /bins/CU2', [`Host: ${host}`]);
    expect([status, body.includes('No. 2 copper')]).toEqual([200, true]);
  });
});

/** Heads of requests under names that are none of ours: the request line and its headers. */
const OTHERS: readonly (readonly [why: string, line: string, headers: readonly string[]])[] = [
  ['a name that was pointed here', 'GET /bins/CU2', ['Host: rebound.example']],
  ['the same with our port', 'GET /bins/CU2', ['Host: rebound.example:4870']],
  ['our address as its sub-domain', 'GET /bins/CU2', ['Host: 127.0.0.1.rebound.example']],
  ['our name as its sub-domain', 'GET /bins/CU2', ['Host: localhost.rebound.example']],
  ['a name that services point at an address', 'GET /bins/CU2', ['Host: 192-168-1-20.rebound.example']],
  ['our name with a trailing dot', 'GET /bins/CU2', ['Host: localhost.']],
  ['our address with a trailing dot', 'GET /bins/CU2', ['Host: 127.0.0.1.']],
  ['a name allowed to us, as its sub-domain', 'GET /bins/CU2', ['Host: a.tarebook.example']],
  ['a name allowed to us, with more behind it', 'GET /bins/CU2', ['Host: tarebook.example.rebound.example']],
  ['another address at home', 'GET /bins/CU2', ['Host: 192.168.1.21:4870']],
  ['another loopback address', 'GET /bins/CU2', ['Host: 127.0.0.2']],
  ['every address', 'GET /bins/CU2', ['Host: 0.0.0.0:4870']],
  ['every address, IPv6', 'GET /bins/CU2', ['Host: [::]']],
  ['another IPv6 address', 'GET /bins/CU2', ['Host: [::2]:4870']],
  ['IPv4 within IPv6', 'GET /bins/CU2', ['Host: [::ffff:127.0.0.1]']],
  ['IPv6 without brackets', 'GET /bins/CU2', ['Host: ::1']],
  ['IPv6 with a zone', 'GET /bins/CU2', ['Host: [::1%25lo]']],
  ['our address as one number', 'GET /bins/CU2', ['Host: 2130706433']],
  ['our address in hexadecimal', 'GET /bins/CU2', ['Host: 0x7f.0.0.1']],
  ['our address in octal', 'GET /bins/CU2', ['Host: 0177.0.0.1']],
  ['our address, shortened', 'GET /bins/CU2', ['Host: 127.1']],
  ['our name as a user', 'GET /bins/CU2', ['Host: localhost@rebound.example']],
  ['a user before our name', 'GET /bins/CU2', ['Host: user@localhost']],
  ['a path behind our name', 'GET /bins/CU2', ['Host: localhost/rebound.example']],
  ['a port that is none', 'GET /bins/CU2', ['Host: localhost:rebound.example']],
  ['a port with too many digits', 'GET /bins/CU2', ['Host: localhost:999999']],
  ['two names with a comma', 'GET /bins/CU2', ['Host: localhost, rebound.example']],
  ['two names with a space', 'GET /bins/CU2', ['Host: localhost rebound.example']],
  ['percent signs', 'GET /bins/CU2', ['Host: local%68ost']],
  ['letters that look like ours', 'GET /bins/CU2', ['Host: l\u00f6calhost']],
  ['an empty name', 'GET /bins/CU2', ['Host: ']],
  ['only a port', 'GET /bins/CU2', ['Host: :4870']],
  ['no name at all', 'GET /bins/CU2', []],
  ['our name, then another', 'GET /bins/CU2', ['Host: localhost', 'Host: rebound.example']],
  ['another name, then ours', 'GET /bins/CU2', ['Host: rebound.example', 'Host: localhost']],
  ['our name twice', 'GET /bins/CU2', ['Host: localhost', 'Host: localhost']],
  ['another name, passed on as ours', 'GET /bins/CU2', ['Host: rebound.example', 'X-Forwarded-Host: localhost']],
  ['another name, with Forwarded', 'GET /bins/CU2', ['Host: rebound.example', 'Forwarded: host=localhost']],
  [
    'another name, with X-Host',
    'GET /bins/CU2',
    ['Host: rebound.example', 'X-Host: localhost', 'X-Original-Host: localhost'],
  ],
  ['an address in absolute form', 'GET http://rebound.example/bins/CU2', ['Host: localhost']],
  ['an address in absolute form, TLS', 'GET https://rebound.example/bins/CU2', ['Host: localhost']],
  ['a name split over two lines', 'GET /bins/CU2', ['Host: local\r\n host']],
  ['a tunnel', 'CONNECT localhost:4870', ['Host: localhost']],
];

describe('answers to no other name', () => {
  test('there are more than thirty of them', () => expect(OTHERS.length).toBeGreaterThan(30));

  test.for(OTHERS)('%s', async ([why, line, headers]) => {
    const { status, headers: answered, body } = await sendRaw(server, line, headers);
    // 400 is the HTTP parser's, 421 ours; 0 is a connection that was just ended.
    expect([400, 421, 0]).toContain(status);
    expect(body).not.toMatch(/copper|CU2|Demo Yard|href="\/prices"/);
    // Node refuses a request without a name by itself, in no words at all.
    if (status !== 0 && why !== 'no name at all')
      expect(answered['content-security-policy']).toContain("frame-ancestors 'none'");
  });

  test('nor a post, nor the way in', async () => {
    for (const line of [
      'POST /bins/CU2/recounts',
      'GET /sign-in',
      'GET /health',
      'GET /static/tarebook.js',
      'GET /%zz',
    ]) {
      const { status } = await sendRaw(server, line, ['Host: rebound.example', 'Origin: http://rebound.example']);
      expect([line, status]).toEqual([line, line.endsWith('%zz') ? 404 : 421]);
    }
  });

  test('a header that says by what name it was passed on changes no address in a page', async () => {
    const plain = await sendRaw(server, 'GET /sign-in', ['Host: localhost']);
    const passedOn = await sendRaw(server, 'GET /sign-in', ['Host: localhost', 'X-Forwarded-Host: rebound.example']);
    expect(passedOn.body).not.toContain('rebound.example');
    expect([plain.status, passedOn.status]).toEqual([303, 403]);
  });
});

describe('bytes that are no request', () => {
  test.for([
    ['a line feed within a header', 'GET /', ['Host: localhost', 'X-A: b\nX-C: d']],
    ['a length that is none', 'POST /in-weights', ['Host: localhost', 'Content-Length: abc']],
    ['two lengths', 'POST /in-weights', ['Host: localhost', 'Content-Length: 5', 'Content-Length: 6']],
    ['a length and chunks', 'POST /in-weights', ['Host: localhost', 'Content-Length: 5', 'Transfer-Encoding: chunked']],
    ['chunks twice', 'POST /in-weights', ['Host: localhost', 'Transfer-Encoding: chunked, chunked']],
    ['a space before the colon', 'GET /', ['Host : localhost']],
    ['a null within a header', 'GET /', ['Host: localhost', 'X-A: b\0c']],
    ['a head of 20 kB', 'GET /', ['Host: localhost', `X-A: ${'a'.repeat(20_000)}`]],
  ] as const)('%s is not taken', async ([, line, headers]) => {
    const { status, headers: answered, body } = await sendRaw(server, line, headers);
    expect([400, 403, 431]).toContain(status);
    expect(answered['content-security-policy']).toBeDefined();
    expect(body).not.toMatch(/copper|CU2/);
  });
});
