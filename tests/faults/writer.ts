import { systemClock } from '../../server/clock.ts';
import { ledgerFile, readConfig } from '../../server/config.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { later } from './server.ts';
import { weighInAs } from './writing.ts';

// A second program that writes to the ledger of TAREBOOK_DATA while the server does, until it is killed. It says what it
// begins and, once it is stored, what is done: one line each, written before it goes on.

const db = openDb(ledgerFile(readConfig(process.env)));
const ledger = openLedger(db, systemClock, 'the command line');
for (let count = 1; ; count += 1) {
  const note = `${process.argv[2]}-${count}`;
  process.stdout.write(`begin ${note}\n`);
  weighInAs(ledger, note);
  process.stdout.write(`done ${note}\n`);
  await later(1);
}
