import { randomUUID } from 'node:crypto';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { fixedClock } from '../server/clock.ts';
import { openLedger } from '../server/context.ts';
import { benchToday, enter, type Filling, nextWeighing } from './fill.ts';

const ROUNDS = 200;
const WARM_UP_ROUNDS = 40;
const IN_EACH = 25;

export interface DurableRates {
  weighInsPerSecond: number;
  bareCommitsPerSecond: number;
}

/** What SQLite alone can do on this disk: one row, one commit, as durable as the ledger's. */
function openBare(folder: string): { commit: (text: string) => void; close: () => void } {
  const sqlite = new SqliteDatabase(join(folder, 'bare.sqlite'));
  sqlite.pragma('journal_mode = WAL');
  sqlite.pragma('synchronous = FULL');
  sqlite.exec('CREATE TABLE row_of_text (id INTEGER PRIMARY KEY, text TEXT NOT NULL) STRICT');
  const insert = sqlite.prepare('INSERT INTO row_of_text (text) VALUES (?)');
  return { commit: (text) => void insert.run(text), close: () => void sqlite.close() };
}

function timed<Given>(given: readonly Given[], act: (each: Given) => unknown): number {
  const begun = performance.now();
  for (const each of given) act(each);
  return performance.now() - begun;
}

/**
 * Weigh-ins by the act of the bench form, each in its own transaction and on the disk before it returns, beside bare
 * commits on the same disk, in turn.
 * @param filling the ledger of ten years, on disk in the same folder
 */
export function timeDurable(filling: Filling, folder: string): DurableRates {
  const bare = openBare(folder);
  const ledger = openLedger(filling.db, fixedClock(benchToday));
  let [weighInsMs, bareMs] = [0, 0];
  for (let round = -WARM_UP_ROUNDS; round < ROUNDS; round += 1) {
    const weighings = Array.from({ length: IN_EACH }, () => nextWeighing(filling, benchToday));
    const texts = Array.from({ length: IN_EACH }, () => randomUUID());
    const weighed = timed(weighings, (weighing) => enter(ledger, weighing));
    const committed = timed(texts, bare.commit);
    if (round < 0) continue;
    weighInsMs += weighed;
    bareMs += committed;
  }
  bare.close();
  const perSecond = (ms: number) => (ROUNDS * IN_EACH * 1000) / ms;
  return { weighInsPerSecond: perSecond(weighInsMs), bareCommitsPerSecond: perSecond(bareMs) };
}
