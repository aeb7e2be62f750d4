import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { afterEach, beforeAll, beforeEach, expect, test } from 'vitest';
import { systemClock } from '../../server/clock.ts';
import { brokenIn, DAMAGED, soundLedger, Victim } from './damage.ts';
import { ask, run, startServer } from './server.ts';
import { Client, sendPost } from './writing.ts';

// What happens to the ledger's file while the server runs: it is damaged, moved, replaced, or written to by another one.

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
const url = () => victim.server?.url ?? '';
const client = new Client('running', systemClock.today());

test('damage that is met ends all saving until the next start, on pages and at the console', async () => {
  expect((await sendPost(url(), client.weighing())).status).toBe(303);
  // Everything of the log goes into the file, and the file is then damaged under the server.
  const sqlite = new SqliteDatabase(file);
  const root = sqlite.prepare("select rootpage from sqlite_master where name = 'quote'").pluck().get() as number;
  sqlite.pragma('wal_checkpoint(TRUNCATE)');
  sqlite.close();
  const damaged = readFileSync(file).fill(0xff, (root - 1) * 4096, root * 4096);
  writeFileSync(file, damaged);
  const page = await ask(url(), '/prices');
  expect([page.status, page.body.includes(DAMAGED)]).toEqual([503, true]);
  const post = client.weighing();
  const refused = await sendPost(url(), post);
  expect([refused.status, refused.body.includes(DAMAGED)]).toEqual([503, true]);
  expect(refused.body).toContain(`>${post.mark}</textarea>`);
  expect(victim.server?.errors()).toBe(`${DAMAGED}\n`);
  expect((await ask(url(), '/health')).status).toBe(200);
  expect(await victim.server?.end('SIGTERM')).toBe(0);
  expect(readFileSync(file).equals(damaged)).toBe(true);
}, 60_000);

test.each([
  ['moved away', () => rmSync(file)],
  [
    'replaced by another one',
    () => {
      rmSync(file);
      writeFileSync(file, good);
    },
  ],
  ['left without the log beside it', () => rmSync(`${file}-wal`)],
] as const)(
  'a ledger that is %s takes nothing more, and says so',
  async (_, act) => {
    expect((await sendPost(url(), client.weighing())).status).toBe(303);
    act();
    const post = client.weighing();
    const refused = await sendPost(url(), post);
    expect(refused.status).toBe(503);
    expect(refused.body).toContain(
      'The ledger file was moved, replaced or deleted while Tarebook ran, so nothing was saved.',
    );
    expect(refused.body).toContain(`>${post.mark}</textarea>`);
  },
  60_000,
);

test('two programs that write at once do each other no harm', async () => {
  const rows = Array.from({ length: 300 }, (_, index) => `${systemClock.today()},CU2,${index + 1},lb`);
  writeFileSync(join(folder, 'in.csv'), `occurred_on,bin,gross,unit\n${rows.join('\n')}\n`);
  const other = await startServer(folder).catch((error: unknown) => String(error));
  if (typeof other === 'string') {
    // Another server is told that this one runs.
    expect(other).toContain('Tarebook could not start: ');
  } else {
    const posts = await Promise.all(
      Array.from({ length: 60 }, (_, index) => sendPost(index % 2 === 0 ? url() : other.url, client.weighing())),
    );
    expect(posts.map(({ status }) => status).filter((status) => status !== 303)).toEqual([]);
    expect(await other.end('SIGTERM')).toBe(0);
  }
  expect(run('commands/import.ts', folder, ['in-weights', join(folder, 'in.csv')]).status).toBe(0);
  expect((await sendPost(url(), client.weighing())).status).toBe(303);
  expect(await victim.server?.end('SIGTERM')).toBe(0);
  expect(brokenIn(file)).toEqual([]);
}, 60_000);
