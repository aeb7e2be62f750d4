import { demoToday, fillDemo } from '../../seed/demo.ts';
import { fixedClock } from '../../server/clock.ts';
import type { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { type Site, serve } from './chromium.ts';

export interface ServedDemo extends Site {
  db: Db;
  close(): Promise<void>;
}

/** What the codes on the demo's tags lead to. */
export const HOME = 'http://192.168.7.20:4870';

/** The demo's fourteen months in a ledger of its own, served as `serve` serves every ledger. */
export async function serveDemo(change: (db: Db) => void = () => undefined): Promise<ServedDemo> {
  const db = openDb(':memory:');
  fillDemo(db);
  change(db);
  const site = await serve(db, { clock: fixedClock(demoToday), homeUrls: () => [HOME] });
  const close = async () => {
    await site.app.close();
    db.close();
  };
  return { ...site, db, close };
}
