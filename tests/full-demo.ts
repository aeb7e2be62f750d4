import { demoToday, fillDemo } from '../seed/demo.ts';
import { keepFiles } from '../server/attachments/acts.ts';
import { Aside } from '../server/attachments/aside.ts';
import { readSentFile } from '../server/attachments/forms.ts';
import { fixedClock } from '../server/clock.ts';
import { type Ledger, openLedger } from '../server/context.ts';
import { openDb } from '../server/db/open.ts';
import { phonePhoto } from './pictures.ts';

/** The last day of the demo, again and again. */
export const DEMO_CLOCK = fixedClock(demoToday);

/** The demo with a photo at its ticket 6: a ledger that has something of every kind. */
export async function fullDemo(): Promise<Ledger> {
  const ledger = openLedger(openDb(':memory:'), DEMO_CLOCK);
  fillDemo(ledger.db);
  const aside = new Aside();
  const file = await readSentFile({ name: 'IMG_1.jpg', bytes: await phonePhoto() }, aside);
  keepFiles(ledger, { kind: 'ticket', ids: [6] }, [file], 'The yard’s ticket');
  aside.close();
  return ledger;
}
