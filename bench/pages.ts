import type { FastifyInstance } from 'fastify';
import type { Db } from '../server/db/database.ts';

/** The same ledger, but every page of it is as if something had been written since the last one. */
export function alwaysChanged(db: Db): Db {
  let times = 0;
  db.version = () => String(++times);
  return db;
}

const WARM_UP = 20;
const MOST_TURNS = 120;
const LEAST_TURNS = 25;
/** Slow pages are asked for less often: so long for one page of both ledgers. */
const LONGEST_MS = 4000;

/** A page of both ledgers: its address may differ, where a document has another id. */
export interface MeasuredPage {
  name: string;
  small: string;
  big: string;
}

/** Milliseconds of one page on one ledger. */
export interface PageTime {
  median: number;
  p95: number;
}

export interface PageTimes {
  name: string;
  small: PageTime;
  big: PageTime;
}

/** The figure below which a share of all lie. */
function quantile(figures: readonly number[], share: number): number {
  const sorted = [...figures].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))] ?? Number.NaN;
}

export const median = (figures: readonly number[]): number => quantile(figures, 0.5);

const timeOf = (figures: readonly number[]): PageTime => ({ median: median(figures), p95: quantile(figures, 0.95) });

/** Milliseconds from the request to its whole answer, inside the server. Throws when the page is not there. */
async function timePage(app: FastifyInstance, url: string): Promise<number> {
  const begun = performance.now();
  const answer = await app.inject({ method: 'GET', url, headers: { host: '127.0.0.1' } });
  const took = performance.now() - begun;
  if (answer.statusCode !== 200) throw new Error(`${url} answers ${answer.statusCode}`);
  return took;
}

/** Times of one page on both ledgers, in turn, so that whatever slows the machine hits both. */
export async function timeBoth(
  apps: { small: FastifyInstance; big: FastifyInstance },
  page: MeasuredPage,
): Promise<PageTimes> {
  const [small, big]: [number[], number[]] = [[], []];
  let begun = performance.now();
  for (let turn = -WARM_UP; turn < MOST_TURNS; turn += 1) {
    if (turn === 0) begun = performance.now();
    if (turn >= LEAST_TURNS && performance.now() - begun > LONGEST_MS) break;
    const smallMs = await timePage(apps.small, page.small);
    const bigMs = await timePage(apps.big, page.big);
    if (turn < 0) continue;
    small.push(smallMs);
    big.push(bigMs);
  }
  return { name: page.name, small: timeOf(small), big: timeOf(big) };
}
