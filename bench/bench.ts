import { mkdirSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { buildApp } from '../server/app.ts';
import { fixedClock } from '../server/clock.ts';
import type { Db } from '../server/db/database.ts';
import { openDb } from '../server/db/open.ts';
import { timeDurable } from './durable.ts';
import { benchToday, type Filling, fillYears, USUAL_YEARS } from './fill.ts';
import { timeImports } from './imports.ts';
import { timeLayers } from './layers.ts';
import { multiplyYears } from './multiply.ts';
import { timeOverSockets } from './over-sockets.ts';
import { alwaysChanged, type MeasuredPage, type PageTimes, timeBoth } from './pages.ts';
import { figuresOf } from './processes.ts';
import {
  say,
  sayDurable,
  sayImports,
  sayLayers,
  sayPages,
  saySockets,
  sayStart,
  sayWhole,
  stopwatch,
  type WholeFigures,
  whole,
} from './say.ts';
import { mustBeSound } from './sound.ts';
import { timeStart } from './start.ts';

/**
 * `npm run bench`: is the server as quick on a huge ledger as on a usual one, and how near does it come to what the
 * machine can do at most? Prints figures and ratios; the figures are this machine's, the ratios should be anybody's.
 */

const TIMES = 50;
/** The newest weighing's bin, and one that is not on the first page of every list. */
const ASKED_MOST = ['/', '/weigh-in?bin=B7'];
const PAGES = [
  ...ASKED_MOST,
  '/in-weights',
  '/in-weights?bin=B7&from=2025-01-01',
  '/bins/B7',
  '/prices',
  '/prices/grades/1',
  '/manifests',
  '/tickets',
  '/reports',
  '/reports/realised-prices',
  '/reports/shrinkage',
  '/reports/scales',
  '/find?q=B7',
  '/find?q=copper',
  '/find?q=weighing',
  '/trail',
  '/setup',
];
const EXPORTS = ['in-weights', 'quotes', 'loads', 'ticket-lines', 'reconciliation'];

const count = (db: Db, table: string): number =>
  db.sqlite.prepare(`SELECT count(*) FROM ${table}`).pluck().get() as number;

function sayRows(name: string, db: Db, file: string): void {
  const rows = ['in_weight', 'ticket', 'ticket_line', 'quote', 'transfer', 'bin', 'yard']
    .map((table) => `${whole(count(db, table))} ${table}`)
    .join(', ');
  say(`${name}: ${rows}; ${whole(statSync(file).size / 1_000_000)} MB`);
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

interface Ledgers {
  small: Db;
  big: Db;
}

/** Every page made anew, within the process. */
async function timePages({ small, big }: Ledgers): Promise<PageTimes[]> {
  const clock = fixedClock(benchToday);
  const apps = {
    small: await buildApp({ db: alwaysChanged(small), clock }),
    big: await buildApp({ db: alwaysChanged(big), clock }),
  };
  const same = (name: string): MeasuredPage => ({ name, small: name, big: name });
  const ticket = { name: '/tickets/ID, its usual lines', small: usualTicket(small), big: usualTicket(big) };
  const times: PageTimes[] = [];
  for (const page of [...PAGES.map(same), ticket]) times.push(await timeBoth(apps, page));
  await apps.small.close();
  await apps.big.close();
  return times;
}

const WHOLE = new URL('./whole.ts', import.meta.url);

/** What reads all of a ledger: each in a process of its own. */
const timeWhole = (file: string): WholeFigures[] =>
  ['reconciliations', 'balances', ...EXPORTS].map((name) => {
    const [rows = 0, ms = 0, megabytes = 0] = figuresOf(WHOLE, [file, name]);
    return { name: EXPORTS.includes(name) ? `export of ${name}` : `${name}, anew`, rows, ms, megabytes };
  });

async function fill(files: Record<keyof Ledgers, string>): Promise<{ ledgers: Ledgers; filling: Filling }> {
  const ledgers = { small: openDb(files.small), big: openDb(files.big) };
  const filling = await stopwatch('ten years, act by act', () => fillYears(ledgers.small));
  await stopwatch(`the same years ${TIMES} times over`, () => multiplyYears(ledgers.big, files.small, TIMES));
  await stopwatch('both checked', () => [ledgers.small, ledgers.big].forEach(mustBeSound));
  for (const db of [ledgers.small, ledgers.big]) db.sqlite.pragma('wal_checkpoint(TRUNCATE)');
  sayRows('usual', ledgers.small, files.small);
  sayRows(`× ${TIMES}`, ledgers.big, files.big);
  return { ledgers, filling };
}

async function measure(folder: string): Promise<boolean> {
  const fileIn = (name: string): string => {
    mkdirSync(join(folder, name));
    return join(folder, name, 'ledger.sqlite');
  };
  const files = { small: fileIn('usual'), big: fileIn('large') };
  const { ledgers, filling } = await fill(files);
  const met = [saySockets(await timeOverSockets(files.small, ASKED_MOST))];
  met.push(sayPages(await timePages(ledgers), TIMES));
  met.push(sayImports(timeImports(folder, ledgers.small)));
  met.push(sayDurable(timeDurable(filling, folder)));
  met.push(sayLayers(timeLayers(filling, ledgers.big), TIMES));
  for (const db of [ledgers.small, ledgers.big]) db.close();
  sayWhole('usual', timeWhole(files.small));
  sayWhole(`× ${TIMES}`, timeWhole(files.big));
  met.push(sayStart(await timeStart(files.big, PAGES)));
  return met.every(Boolean);
}

const folder = mkdtempSync(join(tmpdir(), 'tarebook-bench-'));
try {
  const isMet = await stopwatch('\nall of it', () => measure(folder));
  process.exitCode = isMet ? 0 : 1;
} finally {
  rmSync(folder, { recursive: true, force: true });
}
