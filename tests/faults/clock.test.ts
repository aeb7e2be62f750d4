import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { letIn, setFirstPassphrase } from '../../server/access/acts.ts';
import { Pairing } from '../../server/access/pairing.ts';
import { FORM_TOKEN, formTokenOf } from '../../server/access/token.ts';
import { Tries } from '../../server/access/tries.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { type Clock, localTime, systemClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { clockTrouble } from '../../server/home/compute.ts';
import { LOOKED_AT } from '../browser/pages.ts';
import { clock, get, lb, massIn, newApp, newLedger, post, setUpWorkedExample, weighIn } from '../helper.ts';
import { ask, type Running, send, startServer } from './server.ts';
import { isThorough, measured } from './trials.ts';
import { Client, idIn, sendPost, setUpForTrials } from './writing.ts';

// A clock that was set back or forward: what was stored stays, nothing is doubled or swallowed, pages and sign-ins go
// on, and the person is told that days will be wrong.

const HOUR_MS = 60 * 60_000;
const DAY_MS = 24 * HOUR_MS;
const YEAR_MS = 365 * DAY_MS;

/** Shifts the clock of a process before anything of it runs. */
const shifted = (ms: number): string[] => [
  '--import',
  `data:text/javascript,const Real = Date; globalThis.Date = class extends Real {
    constructor(...parts) { if (parts.length === 0) super(Real.now() + ${ms}); else super(...parts); }
    static now() { return Real.now() + ${ms}; } }`,
];
const dayAfter = (ms: number): string => localTime(new Date(Date.now() + ms).toISOString()).day;

let folder: string;
let server: Running | null;
beforeEach(() => {
  server = null;
  folder = mkdtempSync(join(tmpdir(), 'tarebook-clock-'));
  const ledger = openLedger(openDb(join(folder, 'ledger.sqlite')), clock);
  setUpForTrials(ledger);
  ledger.db.close();
});
afterEach(async () => {
  await server?.end();
  rmSync(folder, { recursive: true, force: true });
});

async function restart(shiftMs: number): Promise<Running> {
  await server?.end('SIGTERM');
  server = await startServer(folder, { nodeArgs: shifted(shiftMs) });
  return server;
}

function withLedger<Result>(act: (ledger: Ledger) => Result): Result {
  const db = openDb(join(folder, 'ledger.sqlite'));
  try {
    return act(openLedger(db, systemClock));
  } finally {
    db.close();
  }
}
const broken = () => withLedger((ledger) => checkLedger(ledger).filter(({ found }) => found.length > 0));

/** Every page that needs nothing but the set-up. */
const PAGES = Object.keys(LOOKED_AT).filter((path) => !path.includes(':'));
const NOTICE = 'clock says';

async function expectPages(url: string): Promise<void> {
  for (const page of [...PAGES, '/bins/CU2', '/export/journal.csv', '/export/in-weights.csv', '/export/on-hand.csv']) {
    const { status } = await ask(url, page);
    if (page === '/export/journal.csv' && status === 404) continue;
    expect([page, status]).toEqual([page, 200]);
  }
}

test('set back a day and a year: what was stored stays, a form sent again is asked about, and the person is told', async () => {
  const { url } = await restart(0);
  const client = new Client('before', systemClock.today());
  const first = client.weighing();
  expect((await sendPost(url, first)).status).toBe(303);
  expect((await ask(url, '/')).body).not.toContain(NOTICE);
  expect((await sendPost(url, first)).status).toBe(303);
  for (const backMs of [DAY_MS, YEAR_MS]) {
    const { url: now, errors } = await restart(-backMs);
    expect((await ask(now, '/')).body).toContain(NOTICE);
    await expect.poll(errors).toContain('Set the clock right before you weigh in, or days will be wrong.');
    // Hours later by nobody's clock, and perhaps one more bucket: asked about, neither doubled nor swallowed.
    const again = await sendPost(now, first);
    expect([again.status, again.body.includes('If this is one more, send it again.')]).toEqual([422, true]);
    const late = new Client(`back-${backMs}`, dayAfter(-backMs)).weighing();
    const saved = await sendPost(now, late);
    expect(saved.status).toBe(303);
    expect((await sendPost(now, late)).location).toBe(saved.location);
    // What is a day in the future by this clock cannot be typed by mistake, and says so.
    const ahead = new Client(`ahead-${backMs}`, systemClock.today()).weighing();
    const refused = await sendPost(now, ahead);
    expect([refused.status, refused.body.includes('has not come yet')]).toEqual([422, true]);
    // The notice stays while the clock is wrong, whatever is entered.
    expect((await ask(now, '/')).body).toContain(NOTICE);
    await expectPages(now);
  }
  await restart(0);
  const held = withLedger((ledger) => massIn(ledger, 'CU2'));
  expect(held).toBe(3 * lb('12.5'));
  expect(broken()).toEqual([]);
  measured('clock set back a day and a year: of 3 weighings the bin holds', String(held / lb('12.5')));
}, 60_000);

test('set forward and back again: entries of days that have not come yet break no page, no report and no check', async () => {
  const { url } = await restart(YEAR_MS);
  const future = dayAfter(YEAR_MS);
  const client = new Client('future', future);
  const weighed = idIn((await sendPost(url, client.weighing())).location);
  expect((await sendPost(url, client.board())).status).toBe(303);
  const manifest = idIn((await sendPost(url, client.manifest('3'))).location);
  expect((await sendPost(url, client.loading(manifest, manifest))).status).toBe(303);
  expect((await sendPost(url, client.ticket(manifest, '4'))).status).toBe(303);
  const { url: now } = await restart(0);
  expect((await ask(now, '/')).body).toContain(NOTICE);
  await expectPages(now);
  const bin = await ask(now, '/bins/CU2');
  expect(bin.body).toContain(future.slice(0, 4));
  const fixed = {
    bin: 'CU2',
    gross: '12.5',
    unit: 'lb',
    occurredOn: systemClock.today(),
    reason: 'the clock was ahead',
  };
  const corrected = await send(now, `/in-weights/${weighed}/corrections`, { ...fixed, requestKey: 'after-the-clock' });
  expect(corrected.status).toBe(303);
  expect(broken()).toEqual([]);
}, 60_000);

test('sign-ins go on through all of it', async () => {
  const token = withLedger((ledger) => {
    setFirstPassphrase(ledger, 'scrypt$AAAA$AAAA');
    return letIn(ledger, 'Phone', 'pairing').token;
  });
  for (const shiftMs of isThorough ? [0, -DAY_MS, -YEAR_MS, YEAR_MS, 0] : [-YEAR_MS, YEAR_MS]) {
    const { url } = await restart(shiftMs);
    const headers = { cookie: `${COOKIE}=${token}` };
    const page = await fetch(`${url}/`, { headers, redirect: 'manual' });
    expect([shiftMs, page.status, (await page.text()).includes('In the bins')]).toEqual([shiftMs, 200, true]);
    const { fields } = new Client(`signed-in${shiftMs}`, dayAfter(shiftMs)).weighing();
    const saved = await fetch(`${url}/in-weights`, {
      method: 'POST',
      headers: { ...headers, origin: url },
      body: new URLSearchParams({ ...fields, [FORM_TOKEN]: formTokenOf(token) }),
      redirect: 'manual',
    });
    expect([shiftMs, saved.status]).toEqual([shiftMs, 303]);
  }
}, 60_000);

test('the notice begins above an hour, and goes after fifty entries with the right clock', async () => {
  expect(clockTrouble('2025-03-20T12:00:00.000Z', null)).toBeNull();
  expect(clockTrouble('2025-03-20T12:00:00.000Z', '2025-03-20T13:00:00.000Z')).toBeNull();
  expect(clockTrouble('2025-03-20T12:00:00.000Z', '2025-03-20T13:00:01.000Z')).toContain(NOTICE);
  const ledger = newLedger();
  setUpWorkedExample(ledger);
  const ahead: Clock = { today: clock.today, now: () => '2026-03-20T12:00:00.000Z' };
  weighIn({ ...ledger, clock: ahead }, 'CU2', '1');
  const app = await newApp(ledger.db);
  const isTold = async () => (await get(app, '/')).body.includes(NOTICE);
  for (let count = 0; count < 49; count += 1) weighIn(ledger, 'CU2', '1');
  expect(await isTold()).toBe(true);
  weighIn(ledger, 'CU2', '1');
  expect(await isTold()).toBe(false);
  expect((await post(app, '/in-weights', {})).statusCode).toBe(422);
  await app.close();
  ledger.db.close();
});

test('set back while it runs, a pairing code is not good for longer, and nobody waits longer for a wrong passphrase', () => {
  const noon = Date.parse('2025-03-20T12:00:00.000Z');
  const pairing = new Pairing();
  const code = pairing.offer(noon);
  expect(pairing.isGood(code, noon)).toBe(true);
  expect(pairing.isGood(code, noon - DAY_MS)).toBe(false);
  const tries = new Tries();
  for (let count = 0; count < 8; count += 1) tries.begin('192.168.1.9', noon);
  expect(tries.waitMs('192.168.1.9', noon)).toBeGreaterThan(0);
  expect(tries.waitMs('192.168.1.9', noon - DAY_MS)).toBe(0);
});
