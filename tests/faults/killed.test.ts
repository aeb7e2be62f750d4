import { type ChildProcess, spawn } from 'node:child_process';
import { cpSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import SqliteDatabase from 'better-sqlite3';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { systemClock } from '../../server/clock.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { clock } from '../helper.ts';
import { sendFiles } from '../multipart.ts';
import { phonePhoto } from '../pictures.ts';
import { brokenIn } from './damage.ts';
import { later, middleAndMost, type Running, randomFrom, run, startServer } from './server.ts';
import { isThorough, measured, trials } from './trials.ts';
import { binId, Client, countMarks, gradeId, idIn, type Post, sendPost, setUpForTrials } from './writing.ts';

// Acknowledged means stored: the server and a second program are killed at any moment while four write to one ledger.

const SEED = 20251125;
const TELLING = new URL('telling.ts', import.meta.url).href;
const MAIN = fileURLToPath(new URL('../../server/main.ts', import.meta.url));
const WRITER = fileURLToPath(new URL('writer.ts', import.meta.url));
/** A ledger that has grown takes longer to check, not to start; so every so often a new one is taken. */
const ROUNDS_A_LEDGER = 25;

let fixture: string;
let folder: string;
let ids: { bin: string; grade: string };

beforeAll(() => {
  fixture = mkdtempSync(join(tmpdir(), 'tarebook-fixture-'));
  const ledger = openLedger(openDb(join(fixture, 'ledger.sqlite')), clock);
  setUpForTrials(ledger);
  ids = { bin: String(binId(ledger, 'YB1')), grade: String(gradeId(ledger, 'Yellow brass')) };
  ledger.db.close();
});
afterAll(() => rmSync(fixture, { recursive: true, force: true }));

interface Fate {
  post: Post;
  /** Where the answer led; null when none came. */
  location: string | null;
}

/** Posts one form after the other until the server is gone. Any answer but "saved" is a fault. */
async function postUntilGone(
  url: string,
  forms: (send: (post: Post) => Promise<string>) => Promise<void>,
): Promise<Fate[]> {
  const fates: Fate[] = [];
  const gone = new Error('gone');
  const send = async (post: Post): Promise<string> => {
    const answer = await sendPost(url, post).catch(() => null);
    if (answer !== null && answer.status !== 303)
      throw new Error(`${post.path} answered ${answer.status}: ${answer.body}`);
    fates.push({ post, location: answer?.location ?? null });
    if (answer === null) throw gone;
    return answer.location;
  };
  try {
    for (;;) await forms(send);
  } catch (error) {
    if (error !== gone) throw error;
  }
  return fates;
}

/** Three phones, each with forms of its own. */
function phones(url: string, round: number): Promise<Fate[][]> {
  const today = systemClock.today();
  const [bench, prices, sales] = ['bench', 'prices', 'sales'].map((name) => new Client(`${name}-${round}`, today));
  return Promise.all([
    postUntilGone(url, async (send) => {
      const first = idIn(await send(must(bench).weighing()));
      await send(must(bench).weighing());
      await send(must(bench).undo(first));
      const wrong = idIn(await send(must(bench).weighing()));
      await send(must(bench).correction(wrong));
    }),
    postUntilGone(url, async (send) => {
      await send(must(prices).board());
      await send(must(prices).paper());
    }),
    postUntilGone(url, async (send) => {
      const manifest = idIn(await send(must(sales).manifest(ids.bin)));
      // A draft of one bin has one line; in a ledger that only this client drafts in, its id is the manifest's.
      await send(must(sales).loading(manifest, manifest));
      await send(must(sales).ticket(manifest, ids.grade));
    }),
  ]);
}

function must<Value>(value: Value | undefined): Value {
  if (value === undefined) throw new Error('not there');
  return value;
}

/** The second program, and what it said it began and did. */
class Second {
  readonly begun: string[] = [];
  readonly done: string[] = [];
  readonly #child: ChildProcess;
  readonly #gone: Promise<void>;

  constructor(round: number) {
    const env = { ...process.env, TAREBOOK_DATA: folder };
    this.#child = spawn(process.execPath, [WRITER, `second-${round}`], { env, stdio: ['ignore', 'pipe', 'inherit'] });
    let rest = '';
    this.#child.stdout?.on('data', (text) => {
      const lines = `${rest}${text}`.split('\n');
      rest = lines.pop() ?? '';
      for (const line of lines) {
        const [word, note = ''] = line.split(' ');
        (word === 'done' ? this.done : this.begun).push(note);
      }
    });
    this.#gone = new Promise((resolve) => this.#child.once('close', () => resolve()));
  }

  kill(): Promise<void> {
    this.#child.kill('SIGKILL');
    return this.#gone;
  }
}

/** Looks at the ledger by a connection that only reads, closed again before the next kill: recovery is then the server's. */
function look<Result>(act: (sqlite: SqliteDatabase.Database) => Result): Result {
  const sqlite = new SqliteDatabase(join(folder, 'ledger.sqlite'), { readonly: true });
  try {
    return act(sqlite);
  } finally {
    sqlite.close();
  }
}

const broken = () => brokenIn(join(folder, 'ledger.sqlite'));

const countsNow = () => look(countMarks);

const figures = { answered: 0, bySecond: 0, stored: 0, notStored: 0, readyMs: [] as number[] };

/** Everything that was answered is there once; what was not answered is sent again, and is then there once too. */
async function expectOnce(url: string, fates: readonly Fate[]): Promise<void> {
  const before = countsNow();
  const answered = fates.filter(({ location }) => location !== null);
  const lost = answered.filter(({ post }) => before(post.kind, post.mark) !== post.rows);
  expect(lost.map(({ post }) => [post.kind, post.mark, before(post.kind, post.mark)])).toEqual([]);
  figures.answered += answered.length;
  for (const { post } of fates.filter(({ location }) => location === null)) {
    const count = before(post.kind, post.mark);
    expect([0, post.rows]).toContain(count);
    figures[count === 0 ? 'notStored' : 'stored'] += 1;
    expect([post.kind, (await sendPost(url, post)).status]).toEqual([post.kind, 303]);
    expect([post.kind, countsNow()(post.kind, post.mark)]).toEqual([post.kind, post.rows]);
  }
}

function expectSecondStored({ begun, done }: Second): void {
  const counts = countsNow();
  expect(done.filter((note) => counts('weighing', note) !== 1)).toEqual([]);
  expect(begun.filter((note) => counts('weighing', note) > 1)).toEqual([]);
  figures.bySecond += done.length;
}

async function oneLedger(rounds: number, firstRound: number, random: () => number): Promise<void> {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-killed-'));
  cpSync(fixture, folder, { recursive: true });
  let server: Running | null = null;
  let second = new Second(firstRound);
  try {
    server = await startServer(folder);
    for (let round = firstRound; round < firstRound + rounds; round += 1) {
      const posting = phones(server.url, round);
      await later(random() * 600);
      const isBoth = random() < 0.6;
      const isAsked = random() < 0.15;
      await Promise.all([server.end(isAsked ? 'SIGTERM' : 'SIGKILL'), isBoth ? second.kill() : null]);
      const fates = (await posting).flat();
      server = await startServer(folder);
      figures.readyMs.push(server.readyMs);
      await expectOnce(server.url, fates);
      expect(broken()).toEqual([]);
      expectSecondStored(second);
      if (isBoth) second = new Second(round + 1);
    }
    expect(await server.end('SIGTERM')).toBe(0);
  } finally {
    await second.kill();
    await server?.end();
    rmSync(folder, { recursive: true, force: true });
  }
}

describe('four write to one ledger and are killed at any moment', () => {
  test('what was answered is there once, what was not is there once after it was sent again, every invariant holds', async () => {
    const rounds = trials(2, 300);
    const random = randomFrom(SEED);
    for (let done = 0; done < rounds; done += ROUNDS_A_LEDGER) {
      await oneLedger(Math.min(ROUNDS_A_LEDGER, rounds - done), done, random);
    }
    const [middle, most] = middleAndMost(figures.readyMs);
    measured('killed or stopped while four wrote, rounds', String(rounds));
    measured(
      'posts that were answered, by forms and by a second program',
      `${figures.answered} and ${figures.bySecond}`,
    );
    measured('posts without an answer: found stored, not stored', `${figures.stored}, ${figures.notStored}`);
    measured('from start to the first answer, ms: median, longest', `${Math.round(middle)}, ${Math.round(most)}`);
    expect(figures.answered).toBeGreaterThan(rounds * 3);
    // Beside other tests on the same two cores a start takes as long as those let it.
    if (isThorough) expect(most).toBeLessThan(2000);
  }, 1_800_000);
});

test('the server and every command wait until the disk has what they say is saved', async () => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-killed-'));
  cpSync(fixture, folder, { recursive: true });
  const nodeArgs = ['--import', TELLING];
  // 2 is FULL: the log is flushed before a transaction is said to be done.
  const kept = 'ledger.sqlite kept by wal, synchronous 2';
  /** What was told of each connection to the ledger; the lock beside it holds nothing. */
  const toldIn = (errors: string) => [...new Set(errors.split('\n').filter((line) => line.startsWith('ledger.')))];
  writeFileSync(join(folder, 'in.csv'), 'occurred_on,bin,gross,unit\n2025-03-01,CU2,1,lb\n');
  const commands = [['check.ts'], ['export.ts', 'grades'], ['import.ts', 'in-weights', join(folder, 'in.csv')]];
  for (const [script, ...args] of commands) {
    expect([script, toldIn(run(`commands/${script}`, folder, args, { nodeArgs }).err)]).toEqual([script, [kept]]);
  }
  const server = await startServer(folder, { nodeArgs });
  expect(await server.end('SIGTERM')).toBe(0);
  expect(toldIn(server.errors())).toEqual([kept]);
  rmSync(folder, { recursive: true, force: true });
}, 60_000);

describe('killed or stopped', () => {
  let temporary: string;
  const begin = () => {
    folder = mkdtempSync(join(tmpdir(), 'tarebook-killed-'));
    temporary = mkdtempSync(join(tmpdir(), 'tarebook-killed-tmp-'));
    cpSync(fixture, folder, { recursive: true });
  };
  afterEach(() => {
    for (const each of [folder, temporary]) rmSync(each, { recursive: true, force: true });
  });

  test('in the midst of photos and papers: whole or not there, and nothing of them piles up', async () => {
    begin();
    const photo = await phonePhoto(1600, 1200);
    const random = randomFrom(SEED + 1);
    const rounds = trials(1, 40);
    let server = await startServer(folder, { env: { TMPDIR: temporary } });
    try {
      for (let round = 0; round < rounds; round += 1) {
        const { url } = server;
        const today = systemClock.today();
        const clients = [1, 2, 3].map((name) => new Client(`papers-${round}-${name}`, today));
        const papers = clients.map((client) =>
          postUntilGone(url, async (send) => {
            await send(client.paper(3_000_000));
          }),
        );
        // A photo is decoded in a process of its own, which has to end with the server.
        const photos = sendFiles(url, '/bins/YB1/photos', { requestKey: `photo-${round}` }, [
          { name: 'a.jpg', bytes: Buffer.concat([photo, Buffer.from(String(round))]) },
        ]).catch(() => null);
        await later(random() * 400);
        await server.end(round % 3 === 2 ? 'SIGTERM' : 'SIGKILL');
        const fates = (await Promise.all(papers)).flat();
        await photos;
        await expect.poll(() => readdirSync(temporary), { timeout: 10_000 }).toEqual([]);
        server = await startServer(folder, { env: { TMPDIR: temporary } });
        await expectOnce(server.url, fates);
        expect(broken()).toEqual([]);
      }
    } finally {
      await server.end();
    }
    measured('killed or stopped in the midst of uploads, rounds with nothing left behind', String(rounds));
  }, 900_000);

  test('at any moment of a start, again and again: the next start has everything', async () => {
    begin();
    const random = randomFrom(SEED + 2);
    const before = look((sqlite) => sqlite.serialize());
    const rounds = trials(2, 60);
    for (let round = 0; round < rounds; round += 1) {
      const child = spawn(process.execPath, [MAIN], {
        env: { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0' },
        stdio: 'ignore',
      });
      await later(random() * 600);
      child.kill('SIGKILL');
      await new Promise((resolve) => child.once('exit', resolve));
    }
    const server = await startServer(folder);
    expect(broken()).toEqual([]);
    expect(await server.end('SIGTERM')).toBe(0);
    expect(look((sqlite) => sqlite.serialize()).equals(before)).toBe(true);
    measured('starts that were killed, then one that had everything', String(rounds));
  }, 300_000);

  test('by a fault that nobody caught: it says so and ends, and what was answered is there', async () => {
    begin();
    const faults = ['throw new Error("a fault")', 'void Promise.reject(new Error("a fault"))'];
    for (const [round, fault] of faults.slice(0, trials(1, 2)).entries()) {
      const nodeArgs = ['--import', `data:text/javascript,process.on("SIGUSR2", () => { ${fault} })`];
      const server = await startServer(folder, { nodeArgs });
      const posting = phones(server.url, round);
      await later(200);
      expect(await server.end('SIGUSR2')).toBe(1);
      const fates = (await posting).flat();
      expect(server.errors()).toMatch(
        /^Something went wrong inside Tarebook, and it stopped\. Nothing that was saved is lost/,
      );
      const next = await startServer(folder);
      await expectOnce(next.url, fates);
      expect(broken()).toEqual([]);
      expect(await next.end('SIGTERM')).toBe(0);
    }
  }, 60_000);
});
