import { setFirstPassphrase } from './access/acts.ts';
import { problemOfPassphrase } from './access/forms.ts';
import { hashPassphrase } from './access/passphrase.ts';
import { passphraseHash } from './access/queries.ts';
import { systemClock } from './clock.ts';
import { ConfigError } from './config.ts';
import { openLedger } from './context.ts';
import type { Db } from './db/database.ts';
import { whyUnusable } from './db/trouble.ts';

interface ListenError extends Error {
  code: string;
  port: number;
}

const isListenError = (error: unknown): error is ListenError =>
  error instanceof Error && 'syscall' in error && error.syscall === 'listen' && 'code' in error && 'port' in error;

/** Why a server did not start, in one plain sentence. */
export function whyNotStarted(error: unknown): string {
  if (error instanceof ConfigError) return error.message;
  if (isListenError(error) && error.code === 'EADDRINUSE') {
    return `Port ${error.port} is taken, perhaps by a Tarebook that runs already. TAREBOOK_PORT names another one.`;
  }
  if (isListenError(error) && error.code === 'EACCES') {
    return `Port ${error.port} may not be used by this account. TAREBOOK_PORT names another one, above 1023.`;
  }
  return whyUnusable(error) ?? (error instanceof Error ? error.message : String(error));
}

/** Sets the passphrase given from outside, unless the ledger has one already: the page may have changed it since. */
export async function setPassphraseOnce(db: Db, given: string | null): Promise<void> {
  if (given === null || passphraseHash(db) !== undefined) return;
  const passphrase = given.trim();
  const problem = problemOfPassphrase(passphrase);
  if (problem !== null) throw new ConfigError(`TAREBOOK_PASSPHRASE cannot be taken. ${problem}`);
  setFirstPassphrase(openLedger(db, systemClock, 'this computer'), await hashPassphrase(passphrase));
}
