import type { FastifyInstance, InjectOptions } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { letIn, setFirstPassphrase, signOut } from '../../server/access/acts.ts';
import { hashToken, newToken } from '../../server/access/token.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { DEMO_CLOCK, fullDemo } from '../full-demo.ts';
import { type Route, routesOf } from '../route-list.ts';

// Every route, from the server's own list, asked for by those who are not let in.

const HOME = '192.168.1.20:4870';
/** Any passphrase: nobody gives it here. */
const HASH = 'scrypt$AAAA$AAAA';
/** What is answered to everybody once there is a passphrase. Written down here apart from the server's own list. */
const PUBLIC = ['/sign-in', '/pair/:code', '/pairings', '/health', '/static/'];
const isPublic = ({ url }: Route): boolean =>
  PUBLIC.some((open) => (open.endsWith('/') ? url.startsWith(open) : url === open));

/** What stands for each part of an address: rows that are there, and some that are not. */
const PARTS: Readonly<Record<string, readonly string[]>> = {
  ':code': ['CU2', 'NOWHERE', '..%2f'],
  ':file': ['bins.csv', 'realised-prices.csv', 'nothing.csv', 'bins'],
  default: ['1', '6', '999999', '-1', 'x'],
};

function addressesOf({ url }: Route): string[] {
  let addresses = [url];
  for (const [part] of url.matchAll(/:\w+/g)) {
    const values = PARTS[part] ?? PARTS.default ?? [];
    addresses = addresses.flatMap((address) => values.map((value) => address.replace(part, value)));
  }
  return addresses;
}

const METHODS = ['PUT', 'DELETE', 'PATCH', 'OPTIONS', 'TRACE', 'PROPFIND'] as const;

let ledger: Ledger;
let app: FastifyInstance;
let routes: Route[];
/** Names and notes of this ledger, none of which a stranger may read. */
let words: string[];

beforeAll(async () => {
  ledger = await fullDemo();
  app = await buildApp({ db: ledger.db, clock: DEMO_CLOCK, homeUrls: () => [`http://${HOME}`] });
  await app.ready();
  routes = routesOf(app);
  words = ['bin.code', 'grade.name', 'yard.name', 'container.name', 'scale.name', 'device.name', 'attachment.file_name']
    .map((column) => column.split('.'))
    .flatMap(([table, column]) => ledger.db.sqlite.prepare(`select ${column} from ${table}`).pluck().all())
    .map(String);
  words.push('The yard’s ticket', 'href="/prices"', 'href="/manifests"');
});
afterAll(() => app.close());

/** Random letters, which may spell a bin's code. */
const TOKENS = /name="(formToken|carried|requestKey)" value="[\w-]+"/g;
const leaks = (body: string): string[] => {
  const text = body.replace(TOKENS, '');
  return words.filter((word) => new RegExp(`(?<!\\w)${RegExp.escape(word)}(?!\\w)`).test(text));
};

type Answer = Awaited<ReturnType<FastifyInstance['inject']>>;

/** What is wrong with an answer to somebody who is not let in, or null. */
function whyOpen(method: string, url: string, { statusCode, headers, body }: Answer): string | null {
  const isAsked = statusCode === 303 && String(headers.location).startsWith('/sign-in?to=');
  const isClosed = isAsked || statusCode === 401 || statusCode === 403;
  const found = leaks(body);
  return isClosed && found.length === 0 ? null : `${method} ${url}: ${statusCode} ${found.join(', ')}`;
}

test('the list of routes is whole, and what is public is a handful', () => {
  expect(routes.filter(({ method }) => method === 'POST').length).toBeGreaterThan(60);
  expect(routes.filter(({ method }) => method === 'GET').length).toBeGreaterThan(50);
  expect(words.length).toBeGreaterThan(40);
  const open = routes.filter(isPublic).filter(({ method }) => method !== 'HEAD');
  expect(open.map(({ method, url }) => `${method} ${url}`).sort()).toEqual([
    'GET /health',
    'GET /pair/:code',
    'GET /sign-in',
    'GET /static/htmx.min.js',
    'GET /static/sheet.css',
    'GET /static/tarebook.css',
    'GET /static/tarebook.js',
    'POST /pairings',
    'POST /sign-in',
  ]);
});

describe('until there is a passphrase', () => {
  const ask = (method: string, url: string, more: Partial<InjectOptions> = {}) =>
    app.inject({
      method: method as 'GET',
      url,
      remoteAddress: '192.168.1.77',
      headers: { host: HOME, origin: `http://${HOME}` },
      ...more,
    });

  test('the network is refused everywhere, public or not', async () => {
    const open: string[] = [];
    for (const route of routes) {
      const [url = ''] = addressesOf(route);
      const answer = await ask(route.method, url);
      if (answer.statusCode !== 403 || leaks(answer.body).length > 0) open.push(`${route.method} ${url}`);
    }
    expect(open).toEqual([]);
  });

  test.for(['x-forwarded-for', 'x-forwarded-host', 'x-forwarded-proto', 'forwarded', 'via', 'x-real-ip'])(
    'so is whoever comes by way of a proxy on this computer (%s)',
    async (name) => {
      const headers = { host: HOME, origin: `http://${HOME}`, [name]: 'https' };
      const answer = await ask('GET', '/', { remoteAddress: '127.0.0.1', headers });
      expect([answer.statusCode, leaks(answer.body)]).toEqual([403, []]);
    },
  );

  test('this computer is answered', async () => {
    const answer = await ask('GET', '/bins/CU2', { remoteAddress: '127.0.0.1', headers: { host: '127.0.0.1:4870' } });
    expect(answer.statusCode).toBe(200);
    expect(leaks(answer.body)).toContain('CU2');
  });
});

describe('with a passphrase', () => {
  /** Cookies that let nobody in, by what they are. */
  const cookies: Record<string, string> = {};

  beforeAll(() => {
    setFirstPassphrase(ledger, HASH);
    const former = letIn(ledger, 'Lost phone', 'pairing');
    signOut(ledger, former.id);
    const standing = letIn(ledger, 'Kitchen phone', 'pairing');
    words.push('Kitchen phone');
    Object.assign(cookies, {
      none: '',
      'of a signed-out device': `${COOKIE}=${former.token}`,
      'made up': `${COOKIE}=${newToken()}`,
      'what the ledger keeps of a good one': `${COOKIE}=${hashToken(standing.token)}`,
      'a good one, cut short': `${COOKIE}=${standing.token.slice(0, -1)}`,
      'a good one under another name': `__Host-${COOKIE}=${standing.token}; session=${standing.token}`,
      'words of a database': `${COOKIE}=' or 1=1 --`,
      'very long': `${COOKIE}=${'A'.repeat(4000)}`,
    });
  });

  const ask = (method: string, url: string, cookie: string, more: Record<string, string> = {}, address = HOME) =>
    app.inject({
      method: method as 'GET',
      url,
      remoteAddress: address === HOME ? '192.168.1.77' : '127.0.0.1',
      headers: {
        host: address,
        origin: `http://${address}`,
        ...(cookie === '' ? {} : { cookie }),
        ...(method === 'GET' || method === 'HEAD' ? {} : { 'content-type': 'application/x-www-form-urlencoded' }),
        ...more,
      },
    });

  test('every route in every way: without a session only the way in answers', async () => {
    const open: string[] = [];
    for (const route of routes.filter((each) => !isPublic(each))) {
      for (const url of addressesOf(route)) {
        const why = whyOpen(route.method, url, await ask(route.method, url, ''));
        if (why !== null) open.push(why);
      }
    }
    expect(open).toEqual([]);
  }, 60_000);

  test('neither with methods that no route has', async () => {
    const open: string[] = [];
    for (const url of [...new Set(routes.flatMap((route) => addressesOf(route).slice(0, 1)))]) {
      for (const method of METHODS) {
        const answer = await ask(method, url, '');
        // A public address has its 404 for everybody.
        if (answer.statusCode === 404 && leaks(answer.body).length === 0 && url.startsWith('/static/')) continue;
        const why = whyOpen(method, url, answer);
        if (why !== null) open.push(why);
      }
    }
    expect(open).toEqual([]);
  }, 60_000);

  test.for([
    'of a signed-out device',
    'made up',
    'what the ledger keeps of a good one',
    'a good one, cut short',
    'a good one under another name',
    'words of a database',
    'very long',
  ])('a cookie lets nobody in: %s', async (kind) => {
    const open: string[] = [];
    for (const route of routes.filter((each) => !isPublic(each))) {
      const [url = ''] = addressesOf(route);
      const why = whyOpen(route.method, url, await ask(route.method, url, cookies[kind] ?? ''));
      if (why !== null) open.push(why);
    }
    expect(open).toEqual([]);
  });

  test('nor does sitting at this computer, nor a header that says so', async () => {
    const open: string[] = [];
    const claims = {
      'x-forwarded-for': '127.0.0.1',
      'x-real-ip': '127.0.0.1',
      forwarded: 'for=127.0.0.1',
      'x-original-url': '/health',
      'x-rewrite-url': '/health',
      'x-http-method-override': 'GET',
    };
    for (const route of routes.filter((each) => !isPublic(each))) {
      const [url = ''] = addressesOf(route);
      const local = await ask(route.method, url, '', {}, '127.0.0.1:4870');
      const claiming = await ask(route.method, url, '', claims);
      open.push(...[local, claiming].flatMap((answer) => whyOpen(route.method, url, answer) ?? []));
    }
    expect(open).toEqual([]);
  }, 60_000);

  test('parts of pages are closed as well, and do not take the place of what was typed', async () => {
    for (const url of ['/weigh-in/understood?gross=3', '/tickets/audit', '/setup/devices/pairing/state']) {
      const answer = await ask(url === '/tickets/audit' ? 'POST' : 'GET', url, '', { 'hx-request': 'true' });
      expect([url, answer.statusCode, answer.body, answer.headers['hx-reswap']]).toEqual([url, 401, '', 'none']);
    }
  });

  test('the way in says nothing of the ledger', async () => {
    for (const url of ['/sign-in', '/sign-in?to=/bins/1', '/pair/x', '/health', '/no-such-page']) {
      expect([url, leaks((await ask('GET', url, '')).body)]).toEqual([url, []]);
    }
    // A device's own former name comes back, to whoever has its former token.
    const former = await ask('GET', '/sign-in', cookies['of a signed-out device'] ?? '');
    expect(former.body).toContain('value="Lost phone"');
    expect((await ask('GET', '/sign-in', cookies['made up'] ?? '')).body).not.toContain('Lost phone');
  });

  test('nothing that was asked or sent changed anything', () => {
    const acts = ledger.db.sqlite.prepare('select act from event order by id desc limit 4').pluck().all();
    expect(acts).toEqual([
      'signed in by pairing',
      'signed Lost phone out',
      'signed in by pairing',
      'set the passphrase',
    ]);
  });
});
