import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { afterEach, beforeAll, beforeEach, expect, test } from 'vitest';
import { systemClock } from '../../server/clock.ts';
import { soundLedger, Victim } from './damage.ts';
import { ask, later, randomFrom, run, startServer } from './server.ts';
import { isThorough, measured, trials } from './trials.ts';
import { Client, countMarks, sendPost } from './writing.ts';

// A ledger whose newest entries are gone or come from another day: the file that holds them before they are brought in is
// missing, old or damaged, or an older ledger was put in its place.

const SEED = 20251125;

let good: Buffer;
let victim: Victim;
let { folder, file }: { folder: string; file: string } = { folder: '', file: '' };

beforeAll(() => {
  ({ good } = soundLedger());
});
beforeEach(async () => {
  victim = new Victim();
  ({ folder, file } = victim);
  victim.put(good);
  victim.server = await startServer(folder);
});
afterEach(() => victim.remove());
/** Each takes three starts of a server, so `npm test` shows the first and the last of these. */
const inFull = test.skipIf(!isThorough);

/** Longer than it takes until the newest entry is noted beside the ledger. */
const NOTED_MS = 1300;
const log = () => `${file}-wal`;
const LACKS = 'ATTENTION: this ledger lacks its newest entries.';

/** Posts weighings, which then stand in the log beside the ledger. @returns their marks */
async function weighSome(name: string, count: number): Promise<string[]> {
  const client = new Client(name, systemClock.today());
  const posts = Array.from({ length: count }, () => client.weighing());
  for (const post of posts) expect((await sendPost(victim.server?.url ?? '', post)).status).toBe(303);
  await later(NOTED_MS);
  return posts.map(({ mark }) => mark);
}

/** Starts on what is there. @returns which of the marks it has, and what start and check said against it */
async function startAndLook(marks: readonly string[]): Promise<{ lost: string[]; told: string }> {
  const checked = run('commands/check.ts', folder);
  let told = checked.status === 0 ? '' : checked.err;
  try {
    victim.server = await startServer(folder);
  } catch (error) {
    return { lost: [...marks], told: `${told}${error}` };
  }
  if (victim.server.said().includes(LACKS)) {
    told += LACKS;
    expect((await ask(victim.server.url, '/')).body).toContain('This ledger lacks its newest entries.');
  }
  const sqlite = new SqliteDatabase(file, { readonly: true });
  const counts = countMarks(sqlite);
  sqlite.close();
  await victim.server.end('SIGTERM');
  return { lost: marks.filter((mark) => counts('weighing', mark) !== 1), told };
}

test('after a kill without its log: said at the start and on the first page', async () => {
  const marks = await weighSome('lost', 5);
  await victim.server?.end();
  rmSync(log());
  rmSync(`${file}-shm`);
  const before = readFileSync(file);
  const { lost, told } = await startAndLook(marks);
  expect([lost, told]).toEqual([marks, expect.stringContaining(LACKS)]);
  expect(readFileSync(file).equals(before)).toBe(true);
}, 60_000);

inFull(
  'after a kill without the file that programs share: everything is there',
  async () => {
    const marks = await weighSome('kept', 5);
    await victim.server?.end();
    rmSync(`${file}-shm`);
    expect(await startAndLook(marks)).toEqual({ lost: [], told: '' });
  },
  60_000,
);

inFull(
  'with the log of an earlier time beside it: everything is there, or it is said',
  async () => {
    const early = await weighSome('early', 5);
    const stale = readFileSync(log());
    const late = await weighSome('late', 40);
    expect(await victim.server?.end('SIGTERM')).toBe(0);
    writeFileSync(log(), stale);
    const { lost, told } = await startAndLook([...early, ...late]);
    expect(lost.length === 0 || told !== '').toBe(true);
    measured('a log of an earlier time beside the ledger: entries lost, and told', `${lost.length}, ${told !== ''}`);
  },
  60_000,
);

inFull.each([
  ['emptied', () => writeFileSync(file, '')],
  ['replaced by an older copy', () => writeFileSync(file, good)],
] as const)(
  'when the ledger was %s: said at the start',
  async (_, act) => {
    const marks = await weighSome('replaced', 3);
    expect(await victim.server?.end('SIGTERM')).toBe(0);
    act();
    expect(await startAndLook(marks)).toEqual({ lost: marks, told: expect.stringContaining(LACKS) });
  },
  60_000,
);

test('one bit flipped in the log after a kill: everything is there, or it is said', async () => {
  const marks = await weighSome('flipped', 20);
  await victim.server?.end();
  const [ledgerThen, logThen] = [readFileSync(file), readFileSync(log())];
  const note = readFileSync(join(folder, 'last-entry.json'));
  const random = randomFrom(SEED + 3);
  const count = trials(1, 60);
  let lossesTold = 0;
  for (let flip = 0; flip < count; flip += 1) {
    const at = Math.floor(random() * logThen.length);
    const flipped = Buffer.from(logThen);
    flipped[at] = (flipped[at] ?? 0) ^ (1 << Math.floor(random() * 8));
    victim.put(ledgerThen);
    writeFileSync(log(), flipped);
    writeFileSync(join(folder, 'last-entry.json'), note);
    const { lost, told } = await startAndLook(marks);
    expect([at, lost.length === 0 || told !== '']).toEqual([at, true]);
    lossesTold += lost.length > 0 ? 1 : 0;
  }
  measured('bits flipped in the log after a kill; of them cost entries and were told', `${count}; ${lossesTold}`);
}, 600_000);
