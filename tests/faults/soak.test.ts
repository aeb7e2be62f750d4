import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { Agent, request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { Chance } from '../../seed/demo/random.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { systemClock } from '../../server/clock.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { newBenchScale, OWN_FIELDS, OWN_POST, setUpWorkedExample } from '../helper.ts';
import { MULTIPART, multipartBody } from '../multipart.ts';
import { plainJpeg } from '../pictures.ts';
import { isThorough, measured, trials } from './trials.ts';

// A real server that is asked and told a hundred thousand things, one after the other: does anything of it grow? Its
// memory is read when all that is not needed has been given back, which the debugger of Node asks it for from outside.

const MAIN = fileURLToPath(new URL('../../server/main.ts', import.meta.url));
const REQUESTS = trials(600, 100_000);
/** As scripts/run.mjs starts it. */
const FLAGS = ['--max-semi-space-size=1', '--max-old-space-size=384'];
const PARTS = 5;
const AT_ONCE = 8;
const MOST_WAL_BYTES = 16 * 1024 * 1024;
/** Longer than this nobody waits for a page, whatever else is asked at the same time. A file takes as long as it is. */
const LONGEST_ANSWER_MS = isThorough ? 3_000 : 10_000;
/** Each code path runs the first time in a short trial, which costs more than any leak would show. */
const MOST_GROWTH = isThorough ? 1.05 : 1.5;
/** What Node and the C library keep in hand for the next file that is as large as the largest so far; not held by anything. */
const MOST_RESIDENT_GROWTH = isThorough ? 1.25 : 1.5;

const BINS = ['CU2', 'WLO', 'YB1', 'YB2', 'FE1'];
const PAGES = [
  '/',
  '/weigh-in',
  '/weigh-in?bin=YB1',
  '/in-weights',
  '/in-weights?bin=CU2&from=2025-01-01',
  '/bins/CU2',
  '/bins/YB1',
  '/prices',
  '/prices/grades/1',
  '/manifests',
  '/tickets',
  '/reports',
  '/reports/realised-prices',
  '/reports/shrinkage',
  '/reports/scales',
  '/trail',
  '/setup',
  '/setup/bins',
  '/weigh-in/understood?bin=CU2&gross=12.5',
];
const SEARCHES = ['/find?q=CU2', '/find?q=copper', '/find?q=S12', '/find?q=soaked', '/find?q=nothing%20there'];
const EXPORTS = ['in-weights', 'loads', 'ticket-lines', 'quotes', 'on-hand', 'reconciliation', 'realised-prices'];

let folder: string;
let server: ChildProcess;
let address: string;
let debuggerUrl: string;

const chance = new Chance(20_251_125);
const agent = new Agent({ keepAlive: true, maxSockets: AT_ONCE });
const ended: { slowestMs: number; slowest: string; largestWal: number } = { slowestMs: 0, slowest: '', largestWal: 0 };
/** In-weights that can still be taken back. */
const standing: string[] = [];
let weighedIn = 0;
let sold = 0;
let photos = 0;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-soak-'));
  const db = openDb(join(folder, 'ledger.sqlite'));
  const ledger = openLedger(db, systemClock);
  setUpWorkedExample(ledger);
  newBenchScale(ledger);
  db.close();
  const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0' };
  server = spawn(process.execPath, ['--inspect=127.0.0.1:0', ...FLAGS, MAIN], {
    env,
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const said = async (stream: NodeJS.ReadableStream | null, pattern: RegExp): Promise<string> => {
    let text = '';
    for await (const piece of stream ?? []) {
      text += String(piece);
      const found = pattern.exec(text)?.[1];
      if (found !== undefined) return found;
    }
    throw new Error(`the server said ${text}`);
  };
  [address, debuggerUrl] = await Promise.all([
    said(server.stdout, /(http:\/\/127\.0\.0\.1:\d+)/),
    said(server.stderr, /(ws:\/\/\S+)/),
  ]);
});

afterAll(async () => {
  agent.destroy();
  if (server?.exitCode === null) {
    const exit = once(server, 'exit');
    server.kill('SIGTERM');
    await exit;
  }
  rmSync(folder, { recursive: true, force: true });
});

interface Answer {
  status: number;
  location: string;
  body: string;
}

/** Asks the server one thing and takes the time. */
function ask(method: 'GET' | 'POST', path: string, type = '', body: Buffer | string = ''): Promise<Answer> {
  const begun = performance.now();
  const headers = {
    cookie: OWN_POST.cookie,
    'accept-encoding': 'identity',
    ...(method === 'GET' ? {} : { origin: address, 'content-type': type, 'content-length': Buffer.byteLength(body) }),
  };
  return new Promise((resolve, reject) => {
    const sent = request(address + path, { method, headers, agent }, (answer) => {
      const pieces: Buffer[] = [];
      answer.on('data', (piece: Buffer) => pieces.push(piece));
      answer.once('error', reject);
      answer.once('end', () => {
        const took = performance.now() - begun;
        if (took > ended.slowestMs && !path.startsWith('/export/'))
          Object.assign(ended, { slowestMs: took, slowest: `${method} ${path}` });
        const { statusCode: status = 0, headers: said } = answer;
        resolve({ status, location: said.location ?? '', body: String(Buffer.concat(pieces)) });
      });
    });
    sent.once('error', reject);
    sent.end(body);
  });
}

async function page(path: string): Promise<void> {
  const { status, body } = await ask('GET', path);
  expect([path, status, body.length > 20]).toEqual([path, 200, true]);
}

const FORM = 'application/x-www-form-urlencoded';

async function send(path: string, fields: Record<string, string>): Promise<string> {
  const typed = new URLSearchParams({ ...OWN_FIELDS, requestKey: newKey(), ...fields });
  const { status, location, body } = await ask('POST', path, FORM, typed.toString());
  expect([path, status, status === 303 ? '' : body]).toEqual([path, 303, '']);
  return location;
}

let keys = 0;
const newKey = (): string => `soak-key-${++keys}`;
const pick = <Item>(items: readonly Item[]): Item => items[chance.below(items.length)] as Item;

async function weighIn(): Promise<void> {
  const fields = { bin: pick(BINS), container: '', tare: '', scale: '1', unit: 'lb', note: 'soaked' };
  const gross = chance.between('1', '20').toFixed(2);
  const location = await send('/in-weights', { ...fields, gross, occurredOn: systemClock.today() });
  weighedIn += 1;
  standing.push(new URL(location, address).searchParams.get('done') ?? '');
  await page(location);
}

async function undo(): Promise<void> {
  const id = standing.pop();
  if (id !== undefined) await send(`/in-weights/${id}/undo`, { back: '', bookShortfall: '1' });
}

async function bringIn(kind: string, lines: readonly string[]): Promise<void> {
  const content = Buffer.from(`${lines.join('\r\n')}\r\n`).toString('base64url');
  const body = multipartBody({ step: 'import', kind, content, requestKey: newKey() }, []);
  const { status, body: said } = await ask('POST', '/import', MULTIPART, body);
  expect([kind, status, status === 303 ? '' : said]).toEqual([kind, 303, '']);
}

/** A load of yellow brass, sold: what a trip to the yard leaves in the ledger. */
async function sell(): Promise<void> {
  const [number, on] = [`S${++sold}`, systemClock.today()];
  const yard = 'Demo Yard North';
  await bringIn('quotes', ['yard,grade,price,per,seen_on', `${yard},Yellow brass,2.${100 + (sold % 900)},lb,${on}`]);
  const load = `${yard},${number},${on},A,YB1,5.00,lb,,`;
  await bringIn('loads', ['yard,manifest,loaded_on,load,bin,net,unit,quoted_price,quoted_per', load]);
  const columns = 'yard,ticket,manifest,sold_on,line,loads,paid_as,gross,tare,deduction,net,unit,price,per,amount';
  const line = `${yard},T${number},${number},${on},1,A,Yellow brass,5.0,0,0,5.0,lb,2.00,lb,10.00`;
  await bringIn('ticket-lines', [columns, line]);
  await page(`/tickets/${sold}`);
}

/** A photo that is not there yet: the same one again is refused. */
async function addPhoto(): Promise<void> {
  const bytes = await plainJpeg(320 + ++photos, 240);
  const body = multipartBody({ requestKey: newKey() }, [{ name: `soak-${photos}.jpg`, bytes }]);
  const { status, body: said } = await ask('POST', '/bins/YB2/photos', MULTIPART, body);
  expect([status, status === 303 ? '' : said]).toEqual([303, '']);
}

/** One of the things that people ask for, about as often as they do; tickets and photos now and then. */
function something(index: number): Promise<void> {
  if (index % 700 === 250) return sell();
  if (index % 2_000 === 400) return addPhoto();
  const among = 1 + chance.below(100);
  if (among <= 28) return weighIn();
  if (among <= 33) return undo();
  if (among <= 40) return page(pick(SEARCHES));
  if (among <= 41) return page(`/export/${pick(EXPORTS)}.csv`);
  return page(pick(PAGES));
}

/** Does so many things, eight at a time, and looks at the size of the write-ahead log meanwhile. */
async function soak(from: number, until: number): Promise<void> {
  let next = from;
  const one = async (): Promise<void> => {
    while (next < until) {
      const index = next++;
      await something(index);
      if (index % 20 === 0) ended.largestWal = Math.max(ended.largestWal, walSize());
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, one));
}

const walSize = (): number => {
  const file = join(folder, 'ledger.sqlite-wal');
  return existsSync(file) ? statSync(file).size : 0;
};

/** Tells the server's Node, by the protocol of its debugger, to give back what it does not need, and asks for its heap. */
async function heapBytes(): Promise<number> {
  const socket = new WebSocket(debuggerUrl);
  await new Promise((resolve) => socket.addEventListener('open', resolve));
  let id = 0;
  const call = (method: string): Promise<{ result: { usedSize: number } }> => {
    socket.send(JSON.stringify({ id: ++id, method }));
    return new Promise((resolve) =>
      socket.addEventListener('message', ({ data }) => resolve(JSON.parse(String(data))), { once: true }),
    );
  };
  await call('HeapProfiler.collectGarbage');
  await call('HeapProfiler.collectGarbage');
  const { result } = await call('Runtime.getHeapUsage');
  socket.close();
  return result.usedSize;
}

const residentBytes = (): number =>
  Number(/VmRSS:\s+(\d+) kB/.exec(readFileSync(`/proc/${server.pid}/status`, 'utf8'))?.[1]) * 1024;

interface Resting {
  heap: number;
  resident: number;
  handles: number;
}

/** What the server holds when nobody asks it anything. */
async function atRest(): Promise<Resting> {
  agent.destroy();
  const heap = await heapBytes();
  // The server learns of each closed connection in its own time.
  await sleep(500);
  return { heap, resident: residentBytes(), handles: readdirSync(`/proc/${server.pid}/fd`).length };
}

const megabytes = (bytes: number): string => `${(bytes / 1024 / 1024).toFixed(1)} MB`;

test.skipIf(!existsSync('/proc/self/status'))(
  `after ${REQUESTS} mixed requests nothing has grown but the ledger`,
  async () => {
    const rests: Resting[] = [];
    const begun = performance.now();
    for (let part = 0; part < PARTS; part += 1) {
      await soak((part * REQUESTS) / PARTS, ((part + 1) * REQUESTS) / PARTS);
      rests.push(await atRest());
    }
    const seconds = (performance.now() - begun) / 1000;
    const [second, last] = [rests[1] as Resting, rests.at(-1) as Resting];
    measured('soak, requests', `${REQUESTS} in ${seconds.toFixed(0)} s, ${weighedIn} of them weigh-ins, ${sold} sales`);
    measured('soak, resident memory after each fifth', rests.map(({ resident }) => megabytes(resident)).join(', '));
    measured('soak, heap in use after each fifth', rests.map(({ heap }) => megabytes(heap)).join(', '));
    measured('soak, file handles after each fifth', rests.map(({ handles }) => handles).join(', '));
    measured('soak, largest write-ahead log', megabytes(ended.largestWal));
    measured('soak, slowest answer', `${ended.slowestMs.toFixed(0)} ms, ${ended.slowest}`);
    expect(last.resident / second.resident).toBeLessThan(MOST_RESIDENT_GROWTH);
    expect(last.heap / second.heap).toBeLessThan(MOST_GROWTH);
    // SQLite keeps the file of a closed reader for the next one: at most as many as have read at the same time.
    expect(last.handles).toBeLessThanOrEqual(second.handles + AT_ONCE);
    expect(ended.largestWal).toBeLessThan(MOST_WAL_BYTES);
    expect(ended.slowestMs).toBeLessThan(LONGEST_ANSWER_MS);
    const db = openDb(join(folder, 'ledger.sqlite'));
    expect(db.sqlite.prepare('SELECT count(*) FROM in_weight').pluck().get()).toBe(weighedIn);
    const wrong = checkLedger(openLedger(db, systemClock)).filter(({ found }) => found.length > 0);
    db.close();
    expect(wrong).toEqual([]);
  },
);
