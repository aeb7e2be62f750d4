import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { handOver } from '../../server/backups/handover.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { takeServingLock } from '../../server/db/serving.ts';
import { clock, massIn, setUpWorkedExample, weighIn } from '../helper.ts';

// One server for a ledger, and another ledger put in its place while it runs.

const root = fileURLToPath(new URL('../..', import.meta.url));
let folder: string;
const running: ChildProcess[] = [];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-serving-'));
});
afterEach(async () => {
  for (const child of running.splice(0))
    if (child.exitCode === null && child.signalCode === null) await ended(child, 'SIGKILL');
  rmSync(folder, { recursive: true, force: true });
});

const ended = (child: ChildProcess, signal: NodeJS.Signals) =>
  new Promise((resolve) => {
    child.once('exit', resolve);
    child.kill(signal);
  });

const env = () => ({ ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', TAREBOOK_HOST: '127.0.0.1' });

/** Starts the server as it is started, and waits until it is ready. @returns its process and its address */
async function start(): Promise<{ child: ChildProcess; url: string }> {
  const child = spawn(process.execPath, [join(root, 'server/main.ts')], {
    env: env(),
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  running.push(child);
  let said = '';
  return new Promise((resolve, reject) => {
    child.once('exit', () => reject(new Error(said)));
    const read = (chunk: Buffer) => {
      said += chunk.toString();
      const [url] = /http:\/\/127\.0\.0\.1:\d+/.exec(said) ?? [];
      if (url !== undefined) resolve({ child, url });
    };
    child.stdout?.on('data', read);
    child.stderr?.on('data', read);
  });
}

/** A ledger with one weighing, plain and closed. */
function makeLedger(file: string, gross: string): void {
  const ledger = openLedger(openDb(file), clock);
  setUpWorkedExample(ledger);
  weighIn(ledger, 'CU2', gross);
  ledger.db.sqlite.pragma('journal_mode = DELETE');
  ledger.db.close();
}

const massOf = (file: string): number => {
  const ledger = openLedger(openDb(file), clock);
  const mass = massIn(ledger, 'CU2');
  ledger.db.close();
  return mass;
};

test('a second server on the same ledger is refused with one sentence, and may start once the first was killed', async () => {
  const { child } = await start();
  const second = spawnSync(process.execPath, [join(root, 'server/main.ts')], { env: env(), encoding: 'utf8' });
  expect([second.status, second.stdout]).toEqual([1, '']);
  expect(second.stderr).toMatch(/^Tarebook could not start: A Tarebook runs on this ledger already\. .+\n$/);
  await ended(child, 'SIGKILL');
  await start();
}, 60_000);

test('a prepared ledger takes the place of the one that is served, between two requests', async () => {
  makeLedger(join(folder, 'ledger.sqlite'), '10');
  makeLedger(join(folder, 'restoring-1.sqlite'), '3');
  const { child, url } = await start();
  const page = async () => (await fetch(`${url}/bins/CU2`)).text();
  expect(await page()).toContain('10.00 lb');
  const note = { fresh: 'restoring-1.sqlite', aside: 'ledger-before-restore-2025-03-20-1200.sqlite' };
  expect(await handOver(folder, note, 20_000)).toEqual({ isTaken: true });
  const after = await page();
  expect([after.includes('3.00 lb'), after.includes('10.00 lb')]).toEqual([true, false]);
  await ended(child, 'SIGTERM');
  expect(massOf(join(folder, note.aside))).toBeGreaterThan(massOf(join(folder, 'ledger.sqlite')));
  expect(readdirSync(folder).filter((name) => /restor.*(json|note|-wal|-shm)$/.test(name))).toEqual([]);
}, 60_000);

test('while another program has the ledger open, the server says so and goes on with the old one', async () => {
  makeLedger(join(folder, 'ledger.sqlite'), '10');
  makeLedger(join(folder, 'restoring-1.sqlite'), '3');
  const { url } = await start();
  const other = openDb(join(folder, 'ledger.sqlite'));
  const note = { fresh: 'restoring-1.sqlite', aside: 'ledger-before-restore-2025-03-20-1200.sqlite' };
  const refused = await handOver(folder, note, 20_000);
  expect(refused).toEqual({ isTaken: false, why: 'The ledger is busy. Try again in a moment.' });
  expect(await (await fetch(`${url}/bins/CU2`)).text()).toContain('10.00 lb');
  expect(existsSync(join(folder, note.fresh))).toBe(true);
  other.close();
  expect(await handOver(folder, note, 20_000)).toEqual({ isTaken: true });
  expect(await (await fetch(`${url}/bins/CU2`)).text()).toContain('3.00 lb');
}, 60_000);

test('a server that does not look for it changes nothing, and the note is gone afterwards', async () => {
  makeLedger(join(folder, 'ledger.sqlite'), '10');
  makeLedger(join(folder, 'restoring-1.sqlite'), '3');
  copyFileSync(join(folder, 'ledger.sqlite'), join(folder, 'before'));
  const lock = takeServingLock(folder);
  expect(takeServingLock(folder)).toBeNull();
  const note = { fresh: 'restoring-1.sqlite', aside: 'ledger-before-restore-2025-03-20-1200.sqlite' };
  const left = await handOver(folder, note, 300);
  expect(left).toMatchObject({ isTaken: false });
  expect(readFileSync(join(folder, 'ledger.sqlite'))).toEqual(readFileSync(join(folder, 'before')));
  expect(readdirSync(folder).filter((name) => name.endsWith('.json'))).toEqual([]);
  lock?.release();
}, 60_000);
