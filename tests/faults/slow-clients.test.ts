import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { PATIENCE, type Patience } from '../../server/patience.ts';
import { clock, massIn, newLedger, OWN_FIELDS, OWN_POST, setUpWorkedExample } from '../helper.ts';
import { MULTIPART, multipartBody } from '../multipart.ts';
import { connect, type Listening, listen, untilClosed } from '../raw.ts';
import { isThorough, measured, trials } from './trials.ts';

// Clients that send a part and then nothing, or a byte now and then: over a real socket, and in `npm run test:faults`
// with the real times. `npm test` uses a server that is told to wait a twentieth as long. All of them come at once.

const SHORT: Patience = { waitMs: 1_000, filesMs: 4_000, leastBytes: 16_384 };
const patience = isThorough ? PATIENCE : SHORT;
/** How much later than said a cut may come: a look every second, and a busy machine. */
const LATE_MS = isThorough ? 4_000 : 2_500;
const SLOW_ONES = 200;

let ledger: Ledger;
let app: FastifyInstance;
let server: Listening;
beforeAll(async () => {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  app = await buildApp({ db: ledger.db, clock, patience });
  server = await listen(app);
});
afterAll(() => app.close());

const head = (line: string, more: Readonly<Record<string, string>> = {}): string =>
  [
    `${line} HTTP/1.1`,
    'Host: 127.0.0.1',
    `Origin: ${OWN_POST.origin}`,
    `Cookie: ${OWN_POST.cookie}`,
    ...Object.entries(more).map(([name, value]) => `${name}: ${value}`),
  ].join('\r\n');

const RECOUNT = new URLSearchParams({ ...OWN_FIELDS, net: '10', occurredOn: '2025-03-19' }).toString();
const FORM = { 'Content-Type': 'application/x-www-form-urlencoded', 'Content-Length': String(RECOUNT.length) };
const POST = `${head('POST /bins/CU2/recounts', FORM)}\r\n\r\n`;

/** Sends a beginning, then piece after piece, until it is cut off. */
async function dawdle(beginning: string, piece: string | Buffer, everyMs: number) {
  const socket = await connect(server);
  const closed = untilClosed(socket);
  socket.write(beginning);
  const timer = setInterval(() => socket.writable && socket.write(piece), everyMs);
  const cut = await closed;
  clearInterval(timer);
  return cut;
}

const NEVER_MS = 2 ** 30;

describe.concurrent('whoever does not send on is cut off', () => {
  test.for([
    ['a connection that says nothing', '', '', NEVER_MS],
    ['half a head', head('GET /'), '', NEVER_MS],
    ['half a form', `${POST}${RECOUNT.slice(0, 9)}`, '', NEVER_MS],
    [
      'half a form in chunks',
      `${head('POST /bins/CU2/recounts', { 'Transfer-Encoding': 'chunked' })}\r\n\r\n4\r\nnet=\r\n`,
      '',
      NEVER_MS,
    ],
    ['a head, a header at a time', head('GET /'), '\r\nX-Slow: 1', patience.waitMs / 5],
    ['a form, a byte at a time', `${POST}${RECOUNT.slice(0, 9)}`, 'x', patience.waitMs / 5],
    ['a body where none belongs', `${head('GET /', { 'Content-Length': '90000' })}\r\n\r\n`, 'x', patience.waitMs / 5],
    [
      'photos, a byte at a time',
      `${head('POST /bins/CU2/photos', { 'Content-Type': MULTIPART, 'Content-Length': '90000' })}\r\n\r\n`,
      'x',
      patience.waitMs / 5,
    ],
  ] as const)('%s', async ([, beginning, piece, everyMs]) => {
    const { afterMs, said } = await dawdle(beginning, piece, everyMs);
    expect(afterMs).toBeGreaterThan(patience.waitMs * 0.9);
    expect(afterMs).toBeLessThan(patience.waitMs + LATE_MS);
    expect(said).not.toMatch(/^HTTP\/1\.1 [35]/);
    expect(massIn(ledger, 'CU2')).toBe(0);
    if (isThorough) measured('cut off after', `${(afterMs / 1000).toFixed(1)} s`);
  });

  test('a form that comes slowly is told so', async () => {
    const { said } = await dawdle(`${POST}${RECOUNT.slice(0, 9)}`, 'x', patience.waitMs / 5);
    expect(said).toMatch(/^HTTP\/1\.1 408 /);
    expect(said).toContain('took too long to arrive');
    expect(said.toLowerCase()).toContain("content-security-policy: default-src 'none'");
  });

  test('one who was answered already hears nothing more, and is cut off all the same', async () => {
    const beginning = `${head('POST /nowhere', { Host: 'elsewhere.example', 'Content-Length': '90000' })}\r\n\r\n`;
    const { said, afterMs } = await dawdle(beginning, 'x', patience.waitMs / 5);
    expect(said.match(/HTTP\/1\.1/g)?.length).toBe(1);
    expect(afterMs).toBeLessThan(patience.waitMs + LATE_MS);
  });
});

describe.concurrent('whoever sends on is waited for', () => {
  test('a form in three pieces, just in time', async () => {
    const socket = await connect(server);
    const closed = untilClosed(socket);
    const body = [RECOUNT.slice(0, 9), RECOUNT.slice(9, 20), RECOUNT.slice(20)];
    socket.write(`${head('POST /bins/WLO/recounts', { ...FORM, Connection: 'close' })}\r\n\r\n`);
    for (const piece of body) {
      await new Promise((resolve) => setTimeout(resolve, patience.waitMs / 8));
      socket.write(piece);
    }
    expect((await closed).said).toMatch(/^HTTP\/1\.1 303 /);
    expect(massIn(ledger, 'WLO')).toBeGreaterThan(0);
  });

  test('a paper that takes three times as long as a form may', async () => {
    const pdf = Buffer.concat([Buffer.from('%PDF-1.7\n'), Buffer.alloc(200_000, 'a'), Buffer.from('\n%%EOF\n')]);
    const body = multipartBody({}, [{ name: 'paper.pdf', bytes: pdf }]);
    const more = { 'Content-Type': MULTIPART, 'Content-Length': String(body.length), Connection: 'close' };
    const socket = await connect(server);
    const closed = untilClosed(socket);
    socket.write(`${head('POST /bins/WLO/photos', more)}\r\n\r\n`);
    const pieces = 12;
    for (let piece = 0; piece < pieces; piece += 1) {
      await new Promise((resolve) => setTimeout(resolve, (patience.waitMs * 3) / pieces));
      const at = (index: number) => Math.floor((body.length * index) / pieces);
      socket.write(body.subarray(at(piece), at(piece + 1)));
    }
    expect((await closed).said).toMatch(/^HTTP\/1\.1 303 /);
    expect(ledger.db.sqlite.prepare('select count(*) from attachment').pluck().get()).toBe(1);
  });

  test('but for no longer than a form with files may take in all', async () => {
    const more = { 'Content-Type': MULTIPART, 'Content-Length': '50000000' };
    const beginning = `${head('POST /bins/WLO/photos', more)}\r\n\r\n`;
    const { afterMs } = await dawdle(beginning, Buffer.alloc(patience.leastBytes, 'x'), patience.waitMs / 2);
    expect(afterMs).toBeGreaterThan(patience.filesMs * 0.8);
    expect(afterMs).toBeLessThan(patience.filesMs + LATE_MS);
  });
});

test(`${SLOW_ONES} slow clients at once keep nobody else from being answered`, async () => {
  const address = `http://127.0.0.1:${server.port}`;
  const answerMs = async (): Promise<number> => {
    const begun = performance.now();
    const { status } = await fetch(`${address}/weigh-in?bin=CU2`);
    expect(status).toBe(200);
    return performance.now() - begun;
  };
  const median = async (): Promise<number> => {
    const times: number[] = [];
    for (let round = 0; round < trials(15, 60); round += 1) times.push(await answerMs());
    return times.sort((a, b) => a - b)[Math.floor(times.length / 2)] ?? 0;
  };
  const alone = await median();
  const slow = Array.from({ length: SLOW_ONES }, (_, index) =>
    dawdle(index % 2 === 0 ? head('GET /') : `${POST}${RECOUNT.slice(0, 9)}`, index % 2 === 0 ? '\r\nX: 1' : 'x', 200),
  );
  await new Promise((resolve) => setTimeout(resolve, 300));
  const beside = await median();
  measured(`a page beside ${SLOW_ONES} slow clients`, `${beside.toFixed(1)} ms, alone ${alone.toFixed(1)} ms`);
  expect(beside).toBeLessThan(500);
  const cuts = await Promise.all(slow);
  expect(Math.max(...cuts.map(({ afterMs }) => afterMs))).toBeLessThan(patience.waitMs + LATE_MS + 2_000);
  expect(await new Promise((resolve) => app.server.getConnections((_, count) => resolve(count)))).toBeLessThan(5);
});
