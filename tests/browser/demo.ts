import { demoToday, fillDemo } from '../../seed/demo.ts';
import { keepFiles } from '../../server/attachments/acts.ts';
import { Aside } from '../../server/attachments/aside.ts';
import { readSentFile } from '../../server/attachments/forms.ts';
import { fixedClock } from '../../server/clock.ts';
import { openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { phonePhoto } from '../pictures.ts';
import { type Site, serve } from './chromium.ts';

export interface ServedDemo extends Site {
  db: Db;
  close(): Promise<void>;
}

const CLOCK = fixedClock(demoToday);

/** What the codes on the demo's tags lead to. */
export const HOME = 'http://192.168.7.20:4870';

/** A photo of ticket 6, as a phone takes it. */
async function keepPhoto(db: Db): Promise<void> {
  const aside = new Aside();
  const file = await readSentFile({ name: 'IMG_1.jpg', bytes: await phonePhoto() }, aside);
  keepFiles(openLedger(db, CLOCK), { kind: 'ticket', ids: [6] }, [file], 'The yard’s ticket');
  aside.close();
}

/** The demo's fourteen months in a ledger of its own, served as `serve` serves every ledger. */
export async function serveDemo(change: (db: Db) => void = () => undefined): Promise<ServedDemo> {
  const db = openDb(':memory:');
  fillDemo(db);
  await keepPhoto(db);
  change(db);
  const site = await serve(db, { clock: CLOCK, homeUrls: () => [HOME] });
  const close = async () => {
    await site.close();
    db.close();
  };
  return { ...site, db, close };
}
