import type { FastifyInstance } from 'fastify';
import type { Db } from '../server/db/database.ts';

/** The same ledger, but every page of it is as if something had been written since the last one. */
export function alwaysChanged(db: Db): Db {
  let times = 0;
  db.version = () => String(++times);
  return db;
}

const WARM_UP = 40;
const TURNS = 200;

/** A page of both ledgers: its address may differ, where a document has another id. */
export interface MeasuredPage {
  name: string;
  small: string;
  big: string;
}

export interface PageTimes {
  name: string;
  smallMs: number;
  bigMs: number;
}

export const median = (figures: readonly number[]): number => {
  const sorted = [...figures].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? Number.NaN;
};

/** Milliseconds from the request to its whole answer, inside the server. Throws when the page is not there. */
async function timePage(app: FastifyInstance, url: string): Promise<number> {
  const begun = performance.now();
  const answer = await app.inject({ method: 'GET', url, headers: { host: '127.0.0.1' } });
  const took = performance.now() - begun;
  if (answer.statusCode !== 200) throw new Error(`${url} answers ${answer.statusCode}`);
  return took;
}

/** Medians of one page on both ledgers, in turn, so that whatever slows the machine hits both. */
export async function timeBoth(
  apps: { small: FastifyInstance; big: FastifyInstance },
  page: MeasuredPage,
): Promise<PageTimes> {
  const [small, big]: [number[], number[]] = [[], []];
  for (let turn = -WARM_UP; turn < TURNS; turn += 1) {
    const smallMs = await timePage(apps.small, page.small);
    const bigMs = await timePage(apps.big, page.big);
    if (turn < 0) continue;
    small.push(smallMs);
    big.push(bigMs);
  }
  return { name: page.name, smallMs: median(small), bigMs: median(big) };
}
