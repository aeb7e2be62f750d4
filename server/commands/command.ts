import { existsSync } from 'node:fs';
import { RestoreError } from '../backups/restore-error.ts';
import { systemClock } from '../clock.ts';
import { ConfigError, ledgerFile, readConfig } from '../config.ts';
import { type Ledger, openLedger } from '../context.ts';
import { openDb } from '../db/open.ts';
import { whyUnusable } from '../db/trouble.ts';
import { Unreadable } from '../reading.ts';
import { Refusal } from '../refusal.ts';
import { TooLarge } from '../units/too-large.ts';

/** How long a command waits while another program writes: as long as a post to the server does. */
const PATIENCE_MS = 15_000;

/** Why a command cannot go on, in one sentence for the person at the keyboard. */
export class CommandError extends Error {}

/** Says one thing on stderr, on one line whatever is in it. */
export const complain = (sentence: string): void => console.error(sentence.replace(/\s+/g, ' ').trim());

/** Where the ledger of this computer is. @throws CommandError when there is none */
export function existingLedger(): { file: string; dataFolder: string } {
  const config = readConfig(process.env);
  const file = ledgerFile(config);
  if (existsSync(file)) return { file, dataFolder: config.dataFolder };
  throw new CommandError(`There is no ledger in ${config.dataFolder} yet. TAREBOOK_DATA names another folder.`);
}

/**
 * Opens the ledger of this computer, does something with it, and closes it. Works while the server runs: both have the
 * same file open, and SQLite lets one write at a time.
 * @param mayBegin make an empty ledger when there is none
 */
export function withLedger<Result>(mayBegin: boolean, act: (ledger: Ledger) => Result): Result {
  const file = mayBegin ? ledgerFile(readConfig(process.env)) : existingLedger().file;
  const db = openDb(file);
  // Nobody waits behind a command, and another one may be bringing in a long file.
  db.sqlite.pragma(`busy_timeout = ${PATIENCE_MS}`);
  try {
    return act(openLedger(db, systemClock, 'the command line'));
  } finally {
    db.close();
  }
}

/** Runs a command: what goes wrong is one plain line on stderr each, and an exit code that is not zero. */
export async function runCommand(act: (args: string[]) => number | Promise<number>): Promise<void> {
  // Whoever reads the output may stop early, as `head` does.
  process.stdout.on('error', () => process.exit(0));
  try {
    process.exitCode = await act(process.argv.slice(2));
  } catch (error) {
    for (const sentence of sentencesOf(error)) complain(sentence);
    process.exitCode = 1;
  }
}

/** Errors whose message is a sentence for the person. */
const TOLD = [Refusal, TooLarge, ConfigError, CommandError, RestoreError];

function sentencesOf(error: unknown): string[] {
  if (error instanceof Unreadable) return Object.values(error.problems);
  if (TOLD.some((kind) => error instanceof kind)) return [(error as Error).message];
  const why = whyUnusable(error);
  if (why !== null) return [why];
  return [`Something went wrong: ${error instanceof Error ? error.message : String(error)}`];
}
