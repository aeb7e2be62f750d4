import { createInterface } from 'node:readline/promises';
import { changePassphrase } from '../access/acts.ts';
import { problemOfPassphrase } from '../access/forms.ts';
import { hashPassphrase } from '../access/passphrase.ts';
import { CommandError, runCommand, withLedger } from './command.ts';

/** The first line that is typed, or that comes through a pipe. */
async function askFor(question: string): Promise<string> {
  const lines = createInterface({ input: process.stdin, output: process.stdin.isTTY ? process.stdout : undefined });
  try {
    if (process.stdin.isTTY) return await lines.question(question);
    for await (const line of lines) return line;
    return '';
  } finally {
    lines.close();
  }
}

/** `npm run passphrase`: sets a new passphrase when the old one is forgotten. Every device is signed out. */
runCommand(async () => {
  const passphrase = (await askFor('New passphrase: ')).trim();
  const problem = problemOfPassphrase(passphrase);
  if (problem !== null) throw new CommandError(problem);
  const hash = await hashPassphrase(passphrase);
  withLedger(true, (ledger) => changePassphrase(ledger, hash));
  console.log('The passphrase is set. Every device asks for it once.');
  return 0;
});
