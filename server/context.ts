import type { Clock } from './clock.ts';
import type { Db } from './db/database.ts';
import { settleLayers } from './layers/settle.ts';
import { readSettings } from './setup/queries.ts';
import type { Settings } from './setup/settings.ts';

/** What every act works on: the open ledger, its settings, the clock, and who acts (a device's name). */
export interface Ledger {
  readonly db: Db;
  readonly clock: Clock;
  readonly settings: Settings;
  readonly who: string;
  /** True inside an act that writes one line of the trail for everything that it does. */
  readonly isPart?: boolean;
}

/** The ledger at hand. From then on every transaction on it brings the layers of its bins along. */
export function openLedger(db: Db, clock: Clock, who = 'this computer'): Ledger {
  db.followUpBy(settleLayers);
  return { db, clock, who, settings: readSettings(db) };
}
