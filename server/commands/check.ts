import { checkLedger } from '../check/checks.ts';
import { CommandError, complain, runCommand, withLedger } from './command.ts';

const MOST_SHOWN = 20;

/** `npm run check`: one line for each invariant; what breaks one goes to stderr. */
runCommand((args) => {
  if (args.length > 0) throw new CommandError('check takes nothing more: npm run check');
  const results = withLedger(false, checkLedger);
  for (const { name, found } of results) {
    console.log(`${found.length === 0 ? 'holds  ' : 'BROKEN '} ${name}`);
    for (const sentence of found.slice(0, MOST_SHOWN)) complain(`${name}: ${sentence}`);
    if (found.length > MOST_SHOWN) complain(`${name}: and ${found.length - MOST_SHOWN} more`);
  }
  const broken = results.filter(({ found }) => found.length > 0).length;
  console.log(broken === 0 ? `All ${results.length} hold.` : `${broken} of ${results.length} are broken.`);
  return broken === 0 ? 0 : 1;
});
