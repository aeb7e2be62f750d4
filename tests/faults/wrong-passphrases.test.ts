import type { FastifyInstance } from 'fastify';
import { afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { setFirstPassphrase } from '../../server/access/acts.ts';
import { hashPassphrase } from '../../server/access/passphrase.ts';
import { listDevices } from '../../server/access/queries.ts';
import { buildApp } from '../../server/app.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { newLedger, TODAY } from '../helper.ts';
import { Browser } from '../visit.ts';
import { measured, trials } from './trials.ts';

const PASSPHRASE = 'rope lantern gravel tuesday';
const HOME = '192.168.1.20:4870';
/** What one hash holds (server/access/passphrase.ts); two may run at a time. */
const HASH_BYTES = 128 * 2 ** 20;
/** A hash takes a third of a second, and many times that on a busy machine. */
const PATIENT_MS = trials(120_000, 1_800_000);
const TRIES = trials(30, 1_000);
const AT_ONCE = trials(40, 1_000);

let hash: string;
beforeAll(async () => {
  hash = await hashPassphrase(PASSPHRASE);
});

let ledger: Ledger;
let app: FastifyInstance;
let nowMs: number;
const clock = { today: () => TODAY, now: () => new Date(nowMs).toISOString() };
beforeEach(async () => {
  nowMs = Date.parse('2025-03-20T12:00:00.000Z');
  ledger = openLedger(newLedger().db, clock);
  setFirstPassphrase(ledger, hash);
  app = await buildApp({ db: ledger.db, clock, homeUrls: () => [`http://${HOME}`] });
});
afterEach(() => app.close());

const at = (remoteAddress: string) => new Browser(() => app, { host: HOME, remoteAddress });
const address = (index: number) => `10.0.${Math.floor(index / 250)}.${(index % 250) + 1}`;

/** Words that are near the right ones, as a guesser would try them. */
const guess = (index: number): string =>
  [PASSPHRASE.toUpperCase(), `${PASSPHRASE}.`, PASSPHRASE.slice(0, -1), ''][index] ?? `wrong number ${index} of them`;

/** The most memory that was held while something went on, above what was held before. */
async function mostMemory(act: () => Promise<void>): Promise<number> {
  const before = process.memoryUsage.rss();
  let most = before;
  const timer = setInterval(() => {
    most = Math.max(most, process.memoryUsage.rss());
  }, 20);
  await act();
  clearInterval(timer);
  return most - before;
}

describe(`${TRIES} wrong passphrases`, { timeout: PATIENT_MS }, () => {
  test('from one address: none gets in, and it waits longer and longer', async () => {
    const guesser = at('192.168.1.66');
    const counts = { hashed: 0, told: 0 };
    const begunMs = nowMs;
    for (let index = 0; index < TRIES; index += 1) {
      const { statusCode } = await guesser.signIn(guess(index), 'Guesser');
      if (statusCode === 422) counts.hashed += 1;
      else if (statusCode === 429) counts.told += 1;
      else throw new Error(`answered ${statusCode}`);
      // As fast as a second after another: a whole night has 28,800.
      nowMs += 1_000;
    }
    expect(listDevices(ledger.db)).toEqual([]);
    expect(counts.hashed + counts.told).toBe(TRIES);
    expect(counts.hashed).toBeLessThanOrEqual(14);
    measured(`of ${TRIES} tries in ${(nowMs - begunMs) / 1000} s from one address`, `${counts.hashed} were looked at`);
    expect((await at('192.168.1.77').signIn(PASSPHRASE, 'Phone')).statusCode).toBe(303);
    // Neither does the right one get it in before its time.
    expect((await guesser.signIn(PASSPHRASE, 'Guesser')).statusCode).toBe(429);
  });

  test('from as many addresses: none gets in, and the right one from elsewhere does', async () => {
    let took = 0;
    const grown = await mostMemory(async () => {
      const begun = performance.now();
      for (let index = 0; index < trials(4, TRIES); index += 1) {
        expect((await at(address(index)).signIn(guess(index), 'Guesser')).statusCode).toBe(422);
      }
      took = performance.now() - begun;
    });
    expect(listDevices(ledger.db)).toEqual([]);
    expect((await at('192.168.1.77').signIn(PASSPHRASE, 'Phone')).statusCode).toBe(303);
    expect(grown).toBeLessThan(3 * HASH_BYTES);
    measured(
      'wrong passphrases from as many addresses',
      `${(took / trials(4, TRIES) / 1000).toFixed(2)} s each, ${Math.round(grown / 1e6)} MB above before`,
    );
  });

  test(`${AT_ONCE} at once: two are looked at, twenty wait, and everybody else is told to try again`, async () => {
    const guessers = Array.from({ length: AT_ONCE }, (_, index) => at(address(index)));
    for (const guesser of guessers) await guesser.get('/sign-in');
    const statuses: number[] = [];
    const pages: number[] = [];
    const grown = await mostMemory(async () => {
      const sent = guessers.map(async (guesser, index) => {
        const { statusCode } = await guesser.post('/sign-in', { passphrase: guess(index), device: 'Guesser' });
        statuses.push(statusCode);
      });
      // Meanwhile pages are answered as ever.
      for (let asked = 0; asked < 10; asked += 1) {
        const begun = performance.now();
        expect((await at('192.168.1.77').get('/sign-in')).statusCode).toBe(200);
        pages.push(performance.now() - begun);
        await new Promise((resolve) => setTimeout(resolve, 50));
      }
      await Promise.all(sent);
    });
    expect(statuses.filter((status) => status === 422).length).toBe(22);
    expect(statuses.filter((status) => status === 429).length).toBe(AT_ONCE - 22);
    expect(listDevices(ledger.db)).toEqual([]);
    expect(grown).toBeLessThan(3 * HASH_BYTES);
    const median = pages.sort((a, b) => a - b)[5] ?? 0;
    expect(median).toBeLessThan(500);
    measured(
      `${AT_ONCE} wrong passphrases at once`,
      `${Math.round(grown / 1e6)} MB above before; a page meanwhile ${median.toFixed(1)} ms`,
    );
    expect((await at('192.168.1.77').signIn(PASSPHRASE, 'Phone')).statusCode).toBe(303);
  });

  test('pairing codes are not found by trying', async () => {
    const guesser = at('192.168.1.66');
    await guesser.get('/sign-in');
    for (let index = 0; index < TRIES; index += 1) {
      const code = Buffer.alloc(32, index).toString('base64url');
      expect((await guesser.post('/pairings', { code, device: 'Guesser' })).statusCode).toBe(410);
    }
    expect(listDevices(ledger.db)).toEqual([]);
  });
});
