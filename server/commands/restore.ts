import { join, resolve } from 'node:path';
import { writeHoldings } from '../backups/compute.ts';
import type { EntriesBeyond } from '../backups/queries.ts';
import { type Prepared, prepareRestore, putInPlace, type RestorePlan, tryRestore } from '../backups/restoring.ts';
import { localTime } from '../clock.ts';
import { ledgerFile, readConfig } from '../config.ts';
import { makeFolder } from '../db/open.ts';
import { writeDay } from '../units/day.ts';
import { CommandError, runCommand } from './command.ts';

const USAGE = 'Say what to restore: npm run restore -- FILE, a backup or an archive. With --try nothing is changed.';

/** `npm run restore -- FILE [--try]`: a backup or archive takes the ledger's place, which is kept beside it. */
runCommand(async (args) => {
  const isTrial = args.includes('--try');
  const [file, ...rest] = args.filter((arg) => arg !== '--try');
  if (file === undefined || rest.length > 0 || file.startsWith('--')) throw new CommandError(USAGE);
  const config = readConfig(process.env);
  makeFolder(config.dataFolder);
  const plan = { source: resolve(file), ledger: ledgerFile(config), dataFolder: config.dataFolder };
  if (isTrial) {
    tell(file, await tryRestore(plan));
    console.log('This was a trial: nothing was changed.');
    return 0;
  }
  const prepared = await prepareRestore(plan);
  tell(file, prepared);
  await place(prepared, plan);
  return 0;
});

/** What is in it, and what the ledger until now has beyond it. */
function tell(file: string, { verdict, beyond, isOther }: Prepared): void {
  const { holdings, lastAt } = verdict;
  if (holdings !== null) console.log(`${file} is whole: ${writeHoldings(holdings)}.`);
  if (lastAt !== null) {
    const { day, time } = localTime(lastAt);
    console.log(`Its last entry is of ${writeDay(day)}, ${time}.`);
  }
  if (isOther) console.log('It is of another ledger than the one that is here.');
  if (beyond !== null) tellBeyond(beyond);
}

function tellBeyond({ count, since }: EntriesBeyond): void {
  if (since === null) {
    console.log('Everything that is in the ledger here is in it as well.');
    return;
  }
  const { day, time } = localTime(since);
  const lines = count === 1 ? 'one line' : `${count} lines`;
  console.log(`It lacks what was entered here from ${writeDay(day)}, ${time} on: ${lines} of the trail.`);
}

async function place(prepared: Prepared, plan: RestorePlan): Promise<void> {
  const aside = await putInPlace(prepared, plan);
  console.log('It is in the ledger’s place now.');
  if (aside === null) return;
  const kept = join(plan.dataFolder, aside);
  console.log(`The ledger until now is kept as ${kept}. To have it back: npm run restore -- "${kept}"`);
}
