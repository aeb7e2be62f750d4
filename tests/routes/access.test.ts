import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { setFirstPassphrase } from '../../server/access/acts.ts';
import { hashPassphrase } from '../../server/access/passphrase.ts';
import { listDevices } from '../../server/access/queries.ts';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { openLedger } from '../../server/context.ts';
import { get, massIn, newLedger, setUpWorkedExample, TODAY } from '../helper.ts';
import { readQrIn } from '../qr.ts';
import { Browser, type From } from '../visit.ts';

const PASSPHRASE = 'rope lantern gravel tuesday';
const HASH = await hashPassphrase(PASSPHRASE);
const HOME = '192.168.1.20:4870';
const PHONE_ADDRESS = '192.168.1.77';

let ledger: Ledger;
let app: FastifyInstance;
let nowMs: number;
/** A clock that a test can put forward. */
const clock = { today: () => TODAY, now: () => new Date(nowMs).toISOString() };

beforeEach(async () => {
  nowMs = Date.parse('2025-03-20T12:00:00.000Z');
  ledger = openLedger(newLedger().db, clock);
  app = await buildApp({ db: ledger.db, clock, hosts: ['tarebook.example'], homeUrls: () => [`http://${HOME}`] });
});
afterEach(() => app.close());

class Visit extends Browser {
  constructor(from: Partial<From> = {}) {
    super(() => app, { host: HOME, remoteAddress: PHONE_ADDRESS, ...from });
  }

  override signIn(passphrase = PASSPHRASE, device = 'Kitchen phone', more: Record<string, string> = {}) {
    return super.signIn(passphrase, device, more);
  }
}

const atComputer = () => new Visit({ host: '127.0.0.1:4870', remoteAddress: '127.0.0.1' });
const withPassphrase = () => setFirstPassphrase(ledger, HASH);

describe('until a passphrase is set', () => {
  test('only this computer is answered', async () => {
    expect((await atComputer().get('/')).statusCode).toBe(200);
    const phone = await new Visit().get('/');
    expect(phone.statusCode).toBe(403);
    expect(phone.body).toContain('answers only the computer it runs on');
    expect(phone.body).not.toContain('href="/prices"');
  });

  test('whom a proxy on this computer passes on is not this computer', async () => {
    const headers = { 'x-forwarded-for': '198.51.100.7', 'x-forwarded-proto': 'https' };
    const proxied = new Visit({ host: 'tarebook.example', remoteAddress: '127.0.0.1', headers });
    expect((await proxied.get('/')).statusCode).toBe(403);
  });

  test('it is set at this computer: long enough and typed twice; this browser is then signed in', async () => {
    const visit = atComputer();
    await visit.get('/setup/devices');
    const tooShort = await visit.post('/setup/devices/passphrase', {
      passphrase: 'short',
      again: 'short',
      device: 'Desk',
    });
    expect(tooShort.statusCode).toBe(422);
    expect(tooShort.body).toContain('at least 12 characters');
    const unlike = await visit.post('/setup/devices/passphrase', {
      passphrase: PASSPHRASE,
      again: 'rope',
      device: 'Desk',
    });
    expect(unlike.body).toContain('The two are not the same');
    expect(unlike.body).not.toContain(PASSPHRASE);
    const set = await visit.post('/setup/devices/passphrase', {
      passphrase: PASSPHRASE,
      again: PASSPHRASE,
      device: 'Desk',
    });
    expect([set.statusCode, set.headers.location]).toEqual([303, '/setup/devices?done=set']);
    expect((await visit.get('/setup/devices')).body).toContain('Desk</b> (this one)');
    const again = await visit.post('/setup/devices/passphrase', {
      passphrase: PASSPHRASE,
      again: PASSPHRASE,
      device: 'Desk',
    });
    expect(again.statusCode).toBe(422);
  });
});

describe('a form is taken only from a page of ours, made for this browser', () => {
  const recount = { net: '10', occurredOn: '2025-03-19' };
  beforeEach(() => void setUpWorkedExample(ledger));

  test.for([
    ['another place', 'http://elsewhere.example'],
    ['another port', 'http://127.0.0.1:9999'],
    ['a sandbox', 'null'],
    ['TLS that is not there', 'https://127.0.0.1:4870'],
    ['nothing', ''],
  ])('its Origin is not %s', async ([, origin]) => {
    const visit = atComputer();
    await visit.get('/bins/CU2');
    const answer = await visit.post('/bins/CU2/recounts', recount, { origin: origin ?? '' });
    expect(answer.statusCode).toBe(403);
    expect(massIn(ledger, 'CU2')).toBe(0);
  });

  test('a post without any Origin is refused', async () => {
    const visit = atComputer();
    await visit.get('/bins/CU2');
    const answer = await visit.send({
      method: 'POST',
      url: '/bins/CU2/recounts',
      headers: { 'content-type': 'application/x-www-form-urlencoded' },
      payload: new URLSearchParams({ ...recount, formToken: visit.formToken }).toString(),
    });
    expect(answer.statusCode).toBe(403);
  });

  test('without its token it comes back as it was typed, and goes through when it is sent from there', async () => {
    const visit = atComputer();
    const answer = await visit.post('/bins/CU2/recounts', recount);
    expect(answer.statusCode).toBe(403);
    expect(answer.body).toContain('<form method="post" action="/bins/CU2/recounts">');
    expect(answer.body).toContain('name="net" value="10"');
    expect(massIn(ledger, 'CU2')).toBe(0);
    expect((await visit.post('/bins/CU2/recounts', recount)).statusCode).toBe(303);
    expect(massIn(ledger, 'CU2')).toBeGreaterThan(0);
  });

  test('the token of one browser is worth nothing in another', async () => {
    const [mine, other] = [atComputer(), atComputer()];
    await mine.get('/bins/CU2');
    await other.get('/bins/CU2');
    const answer = await other.post('/bins/CU2/recounts', { ...recount, formToken: mine.formToken });
    expect(answer.statusCode).toBe(403);
  });

  test('every form that posts carries it, once', async () => {
    for (const url of [
      '/',
      '/weigh-in?bin=CU2',
      '/bins/CU2',
      '/setup/bins/1',
      '/setup/yards/1',
      '/setup/devices',
      '/import',
    ]) {
      const { body } = await get(app, url);
      const forms = body.match(/<form\b[^>]*method="post"[^>]*>[\s\S]*?<\/form>/gi) ?? [];
      expect([url, forms.map((form) => form.match(/name="formToken"/g)?.length)]).toEqual([url, forms.map(() => 1)]);
    }
  });
});

describe('names', () => {
  test.for(['127.0.0.1', '127.0.0.1:4870', 'localhost:4870', 'LOCALHOST', '[::1]:4870', HOME, 'tarebook.example'])(
    'answers to %s',
    async (host) => {
      expect((await new Visit({ host, remoteAddress: '127.0.0.1' }).get('/')).statusCode).toBe(200);
    },
  );

  test.for([
    'elsewhere.example',
    '127.0.0.1.elsewhere.example',
    'localhost.elsewhere.example',
    '127.0.0.1@elsewhere.example',
    'elsewhere.example:4870',
    '192.168.1.21:4870',
    '192.168.1.20.',
    '127.0.0.2',
    '[::2]',
    '0.0.0.0',
    '2130706433',
    '127.1',
    'localhost:999999',
    'local host',
  ])('does not answer to “%s”', async (host) => {
    const answer = await new Visit({ host, remoteAddress: '127.0.0.1' }).get('/');
    expect(answer.statusCode).toBe(421);
    expect(answer.body).not.toContain('href="/prices"');
  });
});

describe('with a passphrase', () => {
  beforeEach(() => {
    setUpWorkedExample(ledger);
    withPassphrase();
  });

  test('a device gives it once, is led to where it wanted to go, and stays signed in', async () => {
    const phone = new Visit();
    const asked = await phone.get('/weigh-in?bin=CU2');
    expect([asked.statusCode, asked.headers.location]).toEqual([303, '/sign-in?to=%2Fweigh-in%3Fbin%3DCU2']);
    await phone.get(String(asked.headers.location));
    const answer = await phone.post('/sign-in', {
      passphrase: PASSPHRASE,
      device: 'Kitchen phone',
      to: '/weigh-in?bin=CU2',
    });
    expect([answer.statusCode, answer.headers.location]).toEqual([303, '/weigh-in?bin=CU2']);
    const [cookie] = answer.cookies;
    expect(cookie).toMatchObject({ name: 'tarebook', httpOnly: true, sameSite: 'Lax', path: '/' });
    expect(cookie?.secure).toBeUndefined();
    expect(Buffer.from(cookie?.value ?? '', 'base64url').length * 8).toBeGreaterThanOrEqual(128);
    expect((await phone.get('/weigh-in?bin=CU2')).statusCode).toBe(200);
  });

  test('this computer gives it too, so that a proxy or another account on it is no way in', async () => {
    expect((await atComputer().get('/')).headers.location).toBe('/sign-in?to=%2F');
  });

  test('what is kept of a token signs nobody in', async () => {
    const phone = new Visit();
    await phone.signIn();
    const kept = ledger.db.sqlite.prepare('select token_hash from device').pluck().get() as string;
    expect(kept).not.toContain(phone.cookie);
    const thief = new Visit();
    thief.cookie = kept.slice(0, 43);
    expect((await thief.get('/')).statusCode).toBe(303);
  });

  test('a token that was planted before is not the one that is signed in', async () => {
    const phone = new Visit();
    phone.cookie = 'planted'.padEnd(43, 'x');
    await phone.signIn();
    expect(phone.cookie).not.toContain('planted');
    const thief = new Visit();
    thief.cookie = 'planted'.padEnd(43, 'x');
    expect((await thief.get('/')).statusCode).toBe(303);
  });

  test('signed out is out, here and from the computer', async () => {
    const [phone, tablet, computer] = [new Visit(), new Visit(), atComputer()];
    for (const [visit, name] of [
      [phone, 'Phone'],
      [tablet, 'Tablet'],
      [computer, 'Desk'],
    ] as const) {
      await visit.signIn(PASSPHRASE, name);
      await visit.get('/setup/devices');
    }
    const [first] = listDevices(ledger.db).filter(({ name }) => name === 'Phone');
    const byOther = await tablet.post(`/setup/devices/${first?.id}/sign-out`, {});
    expect(byOther.statusCode).toBe(403);
    const before = phone.cookie;
    expect((await computer.post(`/setup/devices/${first?.id}/sign-out`, {})).statusCode).toBe(303);
    phone.cookie = before;
    expect((await phone.get('/')).statusCode).toBe(303);
    expect((await tablet.post('/sign-out', {})).headers.location).toBe('/sign-in');
    expect((await tablet.get('/')).statusCode).toBe(303);
    expect((await computer.get('/')).statusCode).toBe(200);
  });

  test('a changed passphrase signs every device out; the old one opens nothing', async () => {
    const [phone, computer] = [new Visit(), atComputer()];
    await phone.signIn();
    await computer.signIn(PASSPHRASE, 'Desk');
    await computer.get('/setup/devices');
    const next = 'harbour spoon velvet ninety';
    const change = (old: string) =>
      computer.post('/setup/devices/new-passphrase', { old, passphrase: next, again: next });
    expect((await change('not the old one')).body).toContain('This is not the passphrase');
    expect((await change(PASSPHRASE)).headers.location).toBe('/setup/devices?done=changed');
    expect((await phone.get('/')).statusCode).toBe(303);
    expect((await computer.get('/')).statusCode).toBe(200);
    expect((await new Visit().signIn()).statusCode).toBe(422);
    expect((await new Visit().signIn(next)).statusCode).toBe(303);
  });

  test('taken away again, only this computer is answered', async () => {
    const [phone, computer] = [new Visit(), atComputer()];
    await phone.signIn();
    await computer.signIn(PASSPHRASE, 'Desk');
    await computer.get('/setup/devices');
    expect((await computer.post('/setup/devices/passphrase/removal', {})).statusCode).toBe(303);
    expect((await phone.get('/')).statusCode).toBe(403);
    expect((await computer.get('/')).statusCode).toBe(200);
  });

  test('a form of a device that was signed out meanwhile waits behind the sign-in with what was typed', async () => {
    const phone = new Visit();
    await phone.signIn();
    await phone.get('/bins/CU2');
    ledger.db.sqlite.exec("update device set signed_out_at = 'x'");
    const asked = await phone.post('/bins/CU2/recounts', { net: '10', occurredOn: '2025-03-19' });
    expect(asked.statusCode).toBe(401);
    expect(massIn(ledger, 'CU2')).toBe(0);
    expect(asked.body).toContain('value="Kitchen phone"');
    const carried = /name="carried" value="([^"]+)"/.exec(asked.body)?.[1] ?? '';
    const back = await phone.post('/sign-in', { passphrase: PASSPHRASE, device: 'Phone', carried });
    expect(back.body).toContain('<form method="post" action="/bins/CU2/recounts">');
    expect(back.body).toContain('name="net" value="10"');
    expect((await phone.post('/bins/CU2/recounts', { net: '10', occurredOn: '2025-03-19' })).statusCode).toBe(303);
    expect(massIn(ledger, 'CU2')).toBeGreaterThan(0);
  });

  test('a form that waits in one tab goes on from there when another tab paired the device', async () => {
    const phone = new Visit();
    await phone.signIn();
    await phone.get('/bins/CU2');
    ledger.db.sqlite.exec("update device set signed_out_at = 'x'");
    const asked = await phone.post('/bins/CU2/recounts', { net: '10', occurredOn: '2025-03-19' });
    const carried = /name="carried" value="([^"]+)"/.exec(asked.body)?.[1] ?? '';
    const { formToken } = phone;
    await phone.signIn(PASSPHRASE, 'Kitchen phone');
    const back = await phone.post('/sign-in', { formToken, carried, passphrase: '', device: '' });
    expect(back.body).toContain('<form method="post" action="/bins/CU2/recounts">');
    expect((await phone.post('/bins/CU2/recounts', { net: '10', occurredOn: '2025-03-19' })).statusCode).toBe(303);
    expect(massIn(ledger, 'CU2')).toBeGreaterThan(0);
  });

  test('a passphrase that was typed never comes back in a page', async () => {
    const phone = new Visit();
    await phone.get('/sign-in');
    const stale = await phone.post('/sign-in', { formToken: 'old', passphrase: PASSPHRASE, device: 'Phone' });
    expect(stale.statusCode).toBe(403);
    const computer = atComputer();
    await computer.signIn(PASSPHRASE, 'Desk');
    const fields = { formToken: 'old', old: PASSPHRASE, passphrase: PASSPHRASE, again: PASSPHRASE, device: 'Desk' };
    const change = await computer.post('/setup/devices/new-passphrase', fields);
    expect(change.statusCode).toBe(403);
    for (const { body } of [stale, change]) expect(body).not.toContain(PASSPHRASE);
    const form = /name="carried" value="([^"]*)"/.exec(change.body)?.[1] ?? '';
    expect(Buffer.from(form, 'base64url').toString()).not.toContain(PASSPHRASE);
  });

  test('the trail says which device did it', async () => {
    const phone = new Visit();
    await phone.signIn(PASSPHRASE, 'Kitchen phone');
    await phone.get('/bins/CU2');
    await phone.post('/bins/CU2/recounts', { net: '10', occurredOn: '2025-03-19' });
    const who = ledger.db.sqlite.prepare("select who from event where act = 'recounted a bin'").pluck().get();
    expect(who).toBe('Kitchen phone');
  });

  test('two devices with one name get a number', async () => {
    await new Visit().signIn(PASSPHRASE, 'Phone');
    await new Visit().signIn(PASSPHRASE, 'phone');
    expect(listDevices(ledger.db).map(({ name }) => name)).toEqual(['phone 2', 'Phone']);
  });

  test('after five wrong tries an address waits, longer each time, and no other address does', async () => {
    const guesser = new Visit();
    for (let tries = 0; tries < 5; tries += 1) expect((await guesser.signIn('wrong wrong wrong')).statusCode).toBe(422);
    const waiting = await guesser.signIn();
    expect(waiting.statusCode).toBe(429);
    expect(waiting.body).toContain('Wait 5 seconds');
    expect((await new Visit({ remoteAddress: '192.168.1.78' }).signIn()).statusCode).toBe(303);
    nowMs += 5_000;
    expect((await guesser.signIn('wrong wrong wrong')).statusCode).toBe(422);
    expect((await guesser.signIn()).body).toContain('Wait 10 seconds');
    nowMs += 10_000;
    expect((await guesser.signIn()).statusCode).toBe(303);
  }, 60_000);

  test.for([
    'https://elsewhere.example/',
    '//elsewhere.example/',
    '/\\elsewhere.example',
    '\\\\elsewhere.example',
    '/\t/elsewhere.example',
    '/%09/elsewhere.example/..//elsewhere.example',
    'javascript:alert(1)',
    '/..//elsewhere.example',
    'data:text/html,x',
    ' //elsewhere.example',
  ])('after the sign-in nothing leads elsewhere: %s', async (to) => {
    const phone = new Visit();
    await phone.signIn();
    const { headers } = await phone.get(`/sign-in?${new URLSearchParams({ to })}`);
    expect(new URL(String(headers.location), `http://${HOME}`).origin).toBe(`http://${HOME}`);
    expect(String(headers.location)).toMatch(/^\/(?![/\\])/);
  });
});

describe('pairing a phone', () => {
  const codeIn = (body: string) => /\/pair\/([\w-]+)/.exec(body)?.[1] ?? '';

  /** A signed-in computer that has a code on its screen. */
  async function offer() {
    withPassphrase();
    const computer = atComputer();
    await computer.signIn(PASSPHRASE, 'Desk');
    await computer.get('/setup/devices');
    expect((await computer.post('/setup/devices/pairing', {})).headers.location).toBe('/setup/devices/pairing');
    const page = await computer.get('/setup/devices/pairing');
    const url = new URL((await readQrIn(page.body)) ?? 'http://unread/');
    expect(url.host).toBe(HOME);
    return { computer, code: codeIn(url.pathname) };
  }

  test('the code lets one phone in, once, and the computer says so', async () => {
    const { computer, code } = await offer();
    const phone = new Visit();
    const opened = await phone.get(`/pair/${code}`);
    expect(opened.statusCode).toBe(200);
    const paired = await phone.post('/pairings', { code, device: 'Garage phone' });
    expect([paired.statusCode, paired.headers.location]).toEqual([303, '/']);
    expect((await phone.get('/weigh-in')).statusCode).toBe(200);
    expect((await computer.get('/setup/devices/pairing/state')).body).toContain('Garage phone is paired.');
    const second = new Visit();
    expect((await second.get(`/pair/${code}`)).statusCode).toBe(410);
    expect((await second.post('/pairings', { code, device: 'Thief' })).statusCode).toBe(403);
    await second.get('/sign-in');
    expect((await second.post('/pairings', { code, device: 'Thief' })).statusCode).toBe(410);
  });

  test('it is good for five minutes', async () => {
    const { code } = await offer();
    nowMs += 5 * 60_000 - 1;
    expect((await new Visit().get(`/pair/${code}`)).statusCode).toBe(200);
    nowMs += 1;
    expect((await new Visit().get(`/pair/${code}`)).statusCode).toBe(410);
  });

  test('it is made and shown at this computer only, and not to a proxy', async () => {
    const { computer } = await offer();
    const phone = new Visit();
    await phone.signIn();
    expect((await phone.get('/setup/devices/pairing')).statusCode).toBe(403);
    await phone.get('/setup/devices');
    expect((await phone.post('/setup/devices/pairing', {})).statusCode).toBe(403);
    expect(codeIn((await phone.get('/setup/devices')).body)).toBe('');
    const passedOn = await computer.send({
      method: 'GET',
      url: '/setup/devices/pairing',
      headers: { 'x-forwarded-for': '203.0.113.9' },
    });
    expect(passedOn.statusCode).toBe(403);
  });

  test('a device may be renamed, by itself and at the computer', async () => {
    await offer();
    const phone = new Visit();
    await phone.signIn(PASSPHRASE, 'Phone');
    await phone.get('/setup/devices');
    const id = listDevices(ledger.db).find(({ name }) => name === 'Phone')?.id;
    expect((await phone.post(`/setup/devices/${id}/name`, { device: '' })).statusCode).toBe(422);
    expect((await phone.post(`/setup/devices/${id}/name`, { device: 'Shed phone' })).statusCode).toBe(303);
    expect(listDevices(ledger.db).map(({ name }) => name)).toContain('Shed phone');
  });
});

describe('behind a proxy that ends TLS', () => {
  const headers = { 'x-forwarded-proto': 'https', 'x-forwarded-for': '198.51.100.7' };
  const proxied = (from = '198.51.100.7') =>
    new Visit({
      host: 'tarebook.example',
      remoteAddress: '127.0.0.1',
      headers: { ...headers, 'x-forwarded-for': from },
    });
  beforeEach(withPassphrase);

  test('the cookie is for TLS only, and forms come from the https address', async () => {
    const visit = proxied();
    const answer = await visit.signIn();
    expect(answer.statusCode).toBe(303);
    expect(answer.cookies[0]).toMatchObject({ secure: true, httpOnly: true });
    await visit.get('/setup/devices');
    const plain = await visit.post('/sign-out', {}, { origin: 'http://tarebook.example' });
    expect(plain.statusCode).toBe(403);
  });

  test('wrong tries are counted by the address it passes on, the last one it wrote', async () => {
    for (let tries = 0; tries < 5; tries += 1)
      await proxied(`10.0.0.${tries}, 198.51.100.7`).signIn('wrong wrong wrong');
    expect((await proxied().signIn()).statusCode).toBe(429);
    expect((await proxied('198.51.100.8').signIn()).statusCode).toBe(303);
  }, 30_000);
});

describe('headers', () => {
  test('no inline script or style, nothing that breaks plain HTTP, nothing framed', async () => {
    const { headers } = await get(app, '/');
    const policy = String(headers['content-security-policy']);
    for (const part of [
      "default-src 'none'",
      "script-src 'self'",
      "style-src 'self'",
      "form-action 'self'",
      "frame-ancestors 'none'",
    ]) {
      expect(policy).toContain(part);
    }
    expect(policy).not.toMatch(/unsafe|upgrade-insecure-requests/);
    expect(headers['strict-transport-security']).toBeUndefined();
    expect(headers['x-content-type-options']).toBe('nosniff');
    expect(headers['referrer-policy']).toBe('same-origin');
  });
});
