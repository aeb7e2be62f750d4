import { checkLedger } from '../server/check/checks.ts';
import { fixedClock } from '../server/clock.ts';
import { openLedger } from '../server/context.ts';
import type { Db } from '../server/db/database.ts';
import { benchToday } from './fill.ts';

/** Throws unless a ledger passes its own checks: a figure measured on one that cannot be would say nothing. */
export function mustBeSound(db: Db): void {
  const wrong = checkLedger(openLedger(db, fixedClock(benchToday))).filter(({ found }) => found.length > 0);
  const first = wrong[0];
  if (first !== undefined) throw new Error(`the ledger of the bench is not sound: ${first.name}: ${first.found[0]}`);
}
