import type { FastifyInstance } from 'fastify';
import { afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { setFirstPassphrase } from '../../server/access/acts.ts';
import { hashPassphrase } from '../../server/access/passphrase.ts';
import { formTokenOf, newToken } from '../../server/access/token.ts';
import { buildApp } from '../../server/app.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { clock, newLedger, setUpWorkedExample } from '../helper.ts';
import { readQrIn } from '../qr.ts';
import { Browser } from '../visit.ts';

// A session is a token that only the browser has. Whatever lets a browser in gives it a new one, so that a token that
// somebody else put there, or saw, is worth nothing.

const PASSPHRASE = 'rope lantern gravel tuesday';
const NEXT = 'harbour spoon velvet ninety';
const HOME = '192.168.1.20:4870';
let hash: string;
beforeAll(async () => {
  hash = await hashPassphrase(PASSPHRASE);
});

let ledger: Ledger;
let app: FastifyInstance;
beforeEach(async () => {
  ledger = openLedger(newLedger().db, clock);
  setUpWorkedExample(ledger);
  app = await buildApp({ db: ledger.db, clock, homeUrls: () => [`http://${HOME}`] });
});
afterEach(() => app.close());

const phone = (cookie = '') => browser({ host: HOME, remoteAddress: '192.168.1.77' }, cookie);
const desk = (cookie = '') => browser({ host: '127.0.0.1:4870', remoteAddress: '127.0.0.1' }, cookie);
function browser(from: { host: string; remoteAddress: string }, cookie: string): Browser {
  const made = new Browser(() => app, from);
  made.cookie = cookie;
  if (cookie !== '') made.formToken = formTokenOf(cookie);
  return made;
}

/** Whether a token opens the ledger; another browser is asked, so that this one keeps its own. */
const opens = async (token: string): Promise<boolean> => (await phone(token).get('/bins/CU2')).statusCode === 200;

/** A token that somebody else knows, in the browser before it is let in. */
const PLANTED = newToken();

describe('a token from before is not the session after', { timeout: 120_000 }, () => {
  test('the sign-in', async () => {
    setFirstPassphrase(ledger, hash);
    const visit = phone(PLANTED);
    expect((await visit.signIn(PASSPHRASE, 'Phone')).statusCode).toBe(303);
    expect(visit.cookie).not.toBe(PLANTED);
    expect([await opens(PLANTED), await opens(visit.cookie)]).toEqual([false, true]);
  });

  test('another sign-in', async () => {
    setFirstPassphrase(ledger, hash);
    const visit = phone();
    await visit.signIn(PASSPHRASE, 'Phone');
    const first = visit.cookie;
    await visit.get('/setup/devices');
    expect((await visit.post('/sign-out', {})).headers.location).toBe('/sign-in');
    await visit.signIn(PASSPHRASE, 'Phone');
    expect(visit.cookie).not.toBe(first);
    expect([await opens(first), await opens(visit.cookie)]).toEqual([false, true]);
  });

  test('the pairing', async () => {
    setFirstPassphrase(ledger, hash);
    const computer = desk();
    await computer.signIn(PASSPHRASE, 'Desk');
    await computer.get('/setup/devices');
    await computer.post('/setup/devices/pairing', {});
    const url = new URL((await readQrIn((await computer.get('/setup/devices/pairing')).body)) ?? 'http://unread/');
    const visit = phone(PLANTED);
    await visit.get(url.pathname);
    expect(visit.cookie).toBe(PLANTED);
    expect((await visit.post('/pairings', { code: url.pathname.slice(6), device: 'Phone' })).statusCode).toBe(303);
    expect([await opens(PLANTED), await opens(visit.cookie)]).toEqual([false, true]);
    // Neither is the code a token.
    expect(await opens(url.pathname.slice(6))).toBe(false);
  });

  test('the first passphrase', async () => {
    const computer = desk(PLANTED);
    const fields = { passphrase: PASSPHRASE, again: PASSPHRASE, device: 'Desk' };
    expect((await computer.post('/setup/devices/passphrase', fields)).statusCode).toBe(303);
    expect([await opens(PLANTED), await opens(computer.cookie)]).toEqual([false, true]);
  });

  test('another passphrase, for the browser that set it and for every other', async () => {
    setFirstPassphrase(ledger, hash);
    const [visit, computer] = [phone(), desk()];
    await visit.signIn(PASSPHRASE, 'Phone');
    await computer.signIn(PASSPHRASE, 'Desk');
    const before = computer.cookie;
    const fields = { old: PASSPHRASE, passphrase: NEXT, again: NEXT };
    await computer.get('/setup/devices');
    expect((await computer.post('/setup/devices/new-passphrase', fields)).statusCode).toBe(303);
    expect([await opens(before), await opens(visit.cookie), await opens(computer.cookie)]).toEqual([
      false,
      false,
      true,
    ]);
  });
});

describe('a session ends', { timeout: 120_000 }, () => {
  const signedIn = async () => {
    setFirstPassphrase(ledger, hash);
    const visit = phone();
    await visit.signIn(PASSPHRASE, 'Phone');
    await visit.get('/setup/devices');
    return visit;
  };

  test('with the sign-out, which takes the cookie away too', async () => {
    const visit = await signedIn();
    const token = visit.cookie;
    const { cookies } = await visit.post('/sign-out', {});
    expect(cookies).toMatchObject([{ name: 'tarebook', value: '', path: '/' }]);
    expect(await opens(token)).toBe(false);
  });

  test('with the sign-out in the list of devices', async () => {
    const visit = await signedIn();
    expect((await visit.post('/setup/devices/1/sign-out', {})).statusCode).toBe(303);
    expect(await opens(visit.cookie)).toBe(false);
  });

  test('with the passphrase, and does not come back with the next one', async () => {
    const visit = await signedIn();
    const computer = desk();
    await computer.signIn(PASSPHRASE, 'Desk');
    await computer.get('/setup/devices');
    expect((await computer.post('/setup/devices/passphrase/removal', {})).statusCode).toBe(303);
    setFirstPassphrase(ledger, hash);
    expect([await opens(visit.cookie), await opens(computer.cookie)]).toEqual([false, false]);
  });
});

test('the cookie is out of reach of scripts and of other sites', async () => {
  setFirstPassphrase(ledger, hash);
  const { headers } = await phone().signIn(PASSPHRASE, 'Phone');
  expect(headers['set-cookie']).toMatch(/^tarebook=[\w-]{43}; Max-Age=\d+; Path=\/; HttpOnly; SameSite=Lax$/);
});

test('neither the ledger’s file nor a page holds a token or the passphrase', async () => {
  setFirstPassphrase(ledger, hash);
  const visit = phone();
  await visit.signIn(PASSPHRASE, 'Phone');
  const kept = ledger.db.sqlite.serialize().toString('latin1');
  const pages = await Promise.all(['/', '/setup/devices', '/trail', '/weigh-in'].map(visit.get));
  for (const text of [kept, ...pages.map(({ body }) => body)]) {
    expect(text.includes(visit.cookie)).toBe(false);
    expect(text.includes(PASSPHRASE)).toBe(false);
  }
});
