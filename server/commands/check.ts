import { checkLedger } from '../check/checks.ts';
import { localTime } from '../clock.ts';
import { lastEntryFile } from '../config.ts';
import type { Ledger } from '../context.ts';
import { LastEntry, type MissingEntries } from '../last-entry.ts';
import { CommandError, complain, existingLedger, runCommand, withLedger } from './command.ts';

const MOST_SHOWN = 20;

/** `npm run check`: one line for each invariant; what breaks one goes to stderr. */
runCommand((args) => {
  if (args.length > 0) throw new CommandError('check takes nothing more: npm run check');
  const results = withLedger(false, (ledger) => [...checkLedger(ledger), checkEnd(ledger)]);
  for (const { name, found } of results) {
    console.log(`${found.length === 0 ? 'holds  ' : 'BROKEN '} ${name}`);
    for (const sentence of found.slice(0, MOST_SHOWN)) complain(`${name}: ${sentence}`);
    if (found.length > MOST_SHOWN) complain(`${name}: and ${found.length - MOST_SHOWN} more`);
  }
  const broken = results.filter(({ found }) => found.length > 0).length;
  console.log(broken === 0 ? `All ${results.length} hold.` : `${broken} of ${results.length} are broken.`);
  return broken === 0 ? 0 : 1;
});

/** What the ledger's own rows cannot tell: whether the newest of them are there. */
function checkEnd({ db }: Ledger): { name: string; found: string[] } {
  const { missing } = new LastEntry(db, lastEntryFile(existingLedger().file));
  const sentence = ({ expected }: MissingEntries) => {
    const { day, time } = localTime(expected.recordedAt);
    return `the entry of ${day}, ${time} is not in it`;
  };
  const found = missing === null ? [] : [sentence(missing)];
  return { name: 'the ledger ends with what was written into it last, or later', found };
}
