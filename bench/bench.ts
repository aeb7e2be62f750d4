import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { buildApp } from '../server/app.ts';
import { fixedClock } from '../server/clock.ts';
import type { Db } from '../server/db/database.ts';
import { openDb } from '../server/db/open.ts';
import { type DurableRates, timeDurable } from './durable.ts';
import { benchToday, fillYears, USUAL_YEARS } from './fill.ts';
import { multiplyYears } from './multiply.ts';
import { type MeasuredPage, type PageTimes, timeBoth } from './pages.ts';
import { mustBeSound } from './sound.ts';

/**
 * `npm run bench`: is the server as quick on a huge ledger as on a usual one, and does a weigh-in cost little more than
 * the disk asks for? Prints figures and ratios; the figures are this machine's, the ratios should be anybody's.
 */

const TIMES = 50;
/** Largest growth from the usual ledger to one with fifty times its rows. Growth of the first page is to be none. */
const MOST_GROWTH_HOME = 1.15;
const MOST_GROWTH = 1.5;
const LEAST_SHARE_OF_BARE = 0.5;

const say = (line: string): void => console.log(line);
const figure = (value: number, decimals = 2): string => value.toFixed(decimals);
const whole = new Intl.NumberFormat('en-US', { maximumFractionDigits: 0 });
const verdict = (isMet: boolean): string => (isMet ? 'met' : 'MISSED');

async function stopwatch<Result>(what: string, act: () => Result | Promise<Result>): Promise<Result> {
  const begun = performance.now();
  const result = await act();
  say(`${what}: ${figure((performance.now() - begun) / 1000, 1)} s`);
  return result;
}

const count = (db: Db, table: string): number =>
  db.sqlite.prepare(`SELECT count(*) FROM ${table}`).pluck().get() as number;

function sayRows(name: string, db: Db, file: string): void {
  const rows = ['in_weight', 'ticket', 'ticket_line', 'quote', 'transfer', 'bin', 'yard']
    .map((table) => `${whole.format(count(db, table))} ${table}`)
    .join(', ');
  say(`${name}: ${rows}; ${whole.format(statSync(file).size / 1_000_000)} MB`);
}

/** The newest ticket that has the usual number of lines. */
function usualTicket({ sqlite }: Db): string {
  const usual = Math.round(USUAL_YEARS.ticketLines / USUAL_YEARS.tickets);
  const id = sqlite
    .prepare('SELECT ticket_id FROM ticket_line GROUP BY ticket_id HAVING count(*) = ? ORDER BY ticket_id DESC')
    .pluck()
    .get(usual);
  return `/tickets/${id}`;
}

function sayPages(times: readonly PageTimes[]): boolean {
  say(`\n${'page, median ms'.padEnd(34)}${'usual'.padStart(9)}${`× ${TIMES}`.padStart(9)}${'growth'.padStart(9)}  aim`);
  const met = times.map(({ name, smallMs, bigMs }) => {
    const most = name === '/' ? MOST_GROWTH_HOME : MOST_GROWTH;
    const growth = bigMs / smallMs;
    const figures = [smallMs, bigMs, growth].map((value) => figure(value).padStart(9)).join('');
    say(`${name.padEnd(34)}${figures}  at most ${most}: ${verdict(growth <= most)}`);
    return growth <= most;
  });
  return met.every(Boolean);
}

function sayDurable({ weighInsPerSecond, bareCommitsPerSecond }: DurableRates): boolean {
  const share = weighInsPerSecond / bareCommitsPerSecond;
  const isMet = share >= LEAST_SHARE_OF_BARE;
  say('\ndurable, on disk before the answer');
  say(`weigh-ins per second                  ${whole.format(weighInsPerSecond)}`);
  say(`bare commits of one row per second    ${whole.format(bareCommitsPerSecond)}`);
  say(`share of the bare commits             ${figure(share)}  at least ${LEAST_SHARE_OF_BARE}: ${verdict(isMet)}`);
  return isMet;
}

async function measure(folder: string): Promise<boolean> {
  const files = { small: join(folder, 'usual.sqlite'), big: join(folder, 'fifty.sqlite') };
  const [small, big] = [openDb(files.small), openDb(files.big)];
  const filling = await stopwatch('ten years, act by act', () => fillYears(small));
  await stopwatch(`the same years ${TIMES} times over`, () => multiplyYears(big, files.small, TIMES));
  await stopwatch('both checked', () => [small, big].forEach(mustBeSound));
  for (const db of [small, big]) db.sqlite.pragma('wal_checkpoint(TRUNCATE)');
  sayRows('usual', small, files.small);
  sayRows(`× ${TIMES}`, big, files.big);

  const clock = fixedClock(benchToday);
  const apps = { small: await buildApp({ db: small, clock }), big: await buildApp({ db: big, clock }) };
  const same = (name: string): MeasuredPage => ({ name, small: name, big: name });
  const ticket = { name: '/tickets/ID, its usual lines', small: usualTicket(small), big: usualTicket(big) };
  const times: PageTimes[] = [];
  const found = ['/find?q=B7', '/trail', '/in-weights?bin=B7'].map(same);
  const reports = [same('/reports/realised-prices'), same('/reports/scales')];
  for (const page of [same('/'), same('/bins/B7'), ticket, ...reports, ...found])
    times.push(await timeBoth(apps, page));
  const pagesMet = sayPages(times);
  const durableMet = sayDurable(timeDurable(filling, folder));
  say(`\npeak memory of all of this            ${whole.format(process.resourceUsage().maxRSS / 1024)} MB`);
  await closeAll([apps.small, apps.big], [small, big]);
  return pagesMet && durableMet;
}

async function closeAll(apps: readonly FastifyInstance[], ledgers: readonly Db[]): Promise<void> {
  for (const app of apps) await app.close();
  for (const db of ledgers) db.close();
}

const folder = mkdtempSync(join(tmpdir(), 'tarebook-bench-'));
try {
  process.exitCode = (await measure(folder)) ? 0 : 1;
} finally {
  rmSync(folder, { recursive: true, force: true });
}
