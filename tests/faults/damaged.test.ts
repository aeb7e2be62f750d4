import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import SqliteDatabase from 'better-sqlite3';
import { afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { systemClock } from '../../server/clock.ts';
import { DAMAGED, everythingIn, soundLedger, Victim } from './damage.ts';
import { ask, type Ran, randomFrom, run, startServer } from './server.ts';
import { measured, trials } from './trials.ts';
import { Client, countMarks, sendPost } from './writing.ts';

// A ledger's file that something else than Tarebook has changed: cut short, flipped, zeroed, replaced. It is told in a
// sentence, never by a crash; nothing is said to be saved that is not; and the damaged file, which may be the only copy,
// is not written over.

const SEED = 20251125;

let good: Buffer;
let everything: string;
let victim: Victim;
let { folder, file }: { folder: string; file: string } = { folder: '', file: '' };

beforeAll(() => {
  ({ good, everything } = soundLedger());
});
beforeEach(() => {
  victim = new Victim();
  ({ folder, file } = victim);
});
afterEach(() => victim.remove());

/** One plain line, and no trace of a program's inside. */
function expectPlain({ status, err }: Ran): void {
  expect(err).not.toMatch(/\n\s+at |node:|Error:|undefined/);
  expect(err.trim().length).toBeGreaterThan(0);
  expect(status).toBe(1);
}

/**
 * Starts the server on what is there and posts a weighing. Either it says why not, in a sentence and without a change to
 * the file, or it answers, and what it says it saved can be read.
 * @returns whether it started
 */
async function expectNoFalseSaved(round: number): Promise<boolean> {
  const before = existsSync(file) ? readFileSync(file) : null;
  try {
    victim.server = await startServer(folder);
  } catch (error) {
    const said = String(error);
    expect(said).toContain('Tarebook could not start: ');
    expect(said).not.toMatch(/\n\s+at /);
    if (before !== null) expect(readFileSync(file).equals(before)).toBe(true);
    return false;
  }
  const client = new Client(`damaged-${round}`, systemClock.today());
  for (const page of ['/', '/weigh-in', '/bins/CU2', '/reports', '/trail']) {
    expect([200, 404, 500, 503]).toContain((await ask(victim.server.url, page)).status);
  }
  const post = client.weighing();
  const { status } = await sendPost(victim.server.url, post);
  expect([303, 404, 422, 500, 503]).toContain(status);
  if (status === 303) {
    const sqlite = new SqliteDatabase(file, { readonly: true });
    expect(countMarks(sqlite, [post.kind])(post.kind, post.mark)).toBe(1);
    sqlite.close();
  }
  expect(victim.server.errors()).not.toContain('it stopped');
  expect(await victim.server.end('SIGTERM')).toBe(0);
  return true;
}

test('one bit flipped at 200 places: the check finds each that changes anything', async () => {
  const random = randomFrom(SEED);
  const count = trials(3, 200);
  const found = { named: 0, unreadable: 0, harmless: 0, harmlessTold: 0 };
  const missed: number[] = [];
  for (let flip = 0; flip < count; flip += 1) {
    const at = Math.floor(random() * good.length);
    const flipped = Buffer.from(good);
    flipped[at] = (flipped[at] ?? 0) ^ (1 << Math.floor(random() * 8));
    victim.put(flipped);
    const now = everythingIn(file);
    const checked = run('commands/check.ts', folder);
    const isTold = checked.status === 1;
    if (isTold) expectPlain(checked);
    if (now === everything) found[isTold ? 'harmlessTold' : 'harmless'] += 1;
    else if (!isTold) missed.push(at);
    else found[now === null ? 'unreadable' : 'named'] += 1;
    // A check changes nothing, whatever it finds.
    expect([at, readFileSync(file).equals(flipped)]).toEqual([at, true]);
    if (flip % 10 === 0) await expectNoFalseSaved(flip);
  }
  expect(missed).toEqual([]);
  measured('bits flipped in a ledger, at random places', String(count));
  measured('of them changed what can be read, found and named; not found', `${found.named}; ${missed.length}`);
  measured('made the file unreadable, told so', String(found.unreadable));
  measured(
    'changed nothing: in indexes and found all the same; in unused space',
    `${found.harmlessTold}; ${found.harmless}`,
  );
}, 900_000);

test('cut short at many lengths: said by the check and by the server, and left as it is', async () => {
  const random = randomFrom(SEED + 1);
  const lengths = [1, 15, 100, 512, 4095, 4096, 4097, 8192, good.length - 4096, good.length - 1];
  const more = Array.from({ length: 40 }, () => 1 + Math.floor(random() * (good.length - 2)));
  let told = 0;
  const tried = [...lengths, ...more].filter((_, index) => index % trials(20, 1) === 0);
  for (const [round, length] of tried.entries()) {
    victim.put(good.subarray(0, length));
    const checked = run('commands/check.ts', folder);
    expectPlain(checked);
    told += checked.status === 1 ? 1 : 0;
    expect(readFileSync(file).length).toBe(length);
    if (round % 3 === 0) await expectNoFalseSaved(round);
  }
  expect(told).toBe(tried.length);
  measured('ledgers cut short, told', `${tried.length}, ${told}`);
}, 600_000);

test('pages of zeros: said by the check, and by the server where it meets one', async () => {
  const pages = good.length / 4096;
  const random = randomFrom(SEED + 2);
  const count = trials(2, 40);
  let [told, harmless] = [0, 0];
  for (let round = 0; round < count; round += 1) {
    const page = round === 0 ? 0 : Math.floor(random() * pages);
    victim.put(Buffer.from(good).fill(0, page * 4096, (page + 1) * 4096));
    const isSame = everythingIn(file) === everything;
    const checked = run('commands/check.ts', folder);
    if (checked.status === 1) told += 1;
    else harmless += 1;
    expect([page, checked.status === 1 || isSame]).toEqual([page, true]);
    if (checked.status === 1) expectPlain(checked);
    if (round % 4 === 0) await expectNoFalseSaved(round);
  }
  measured('pages zeroed: told; nothing in them', `${told}; ${harmless}`);
}, 600_000);

describe('something else in the place of the ledger is told in a sentence and left as it is', () => {
  test.each([
    ['text', () => writeFileSync(file, 'a shopping list\n'.repeat(400)), DAMAGED],
    ['a folder', () => mkdirSync(file), 'The ledger file cannot be opened. Look at the rights of its folder.'],
  ] as const)(
    '%s',
    (_, make, sentence) => {
      make();
      const before = existsSync(file) && _ === 'text' ? readFileSync(file) : null;
      expect(run('main.ts', folder)).toEqual({ status: 1, out: '', err: `Tarebook could not start: ${sentence}\n` });
      for (const [script, ...args] of [['commands/check.ts'], ['commands/export.ts', 'grades']] as const) {
        expect(run(script, folder, args)).toEqual({ status: 1, out: '', err: `${sentence}\n` });
      }
      if (before !== null) expect(readFileSync(file).equals(before)).toBe(true);
    },
    60_000,
  );
});
