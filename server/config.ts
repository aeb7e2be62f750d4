import { isIPv4 } from 'node:net';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** What can be set from outside. Everything else is a setting of the ledger, on its own page. */
export interface Config {
  /** Folder of the ledger and its copies. */
  dataFolder: string;
  port: number;
  /** The one address to listen on besides this computer's own; null for those of the home network. */
  host: string | null;
  /** Further host names that the server answers to, besides this computer's own. */
  hosts: readonly string[];
  /** The first passphrase, for a set-up without the page; null to leave that to the page. */
  passphrase: string | null;
}

export class ConfigError extends Error {}

/** Reads the variables that begin with TAREBOOK_. Throws ConfigError with one sentence for the person. */
export function readConfig(environment: Readonly<Record<string, string | undefined>>): Config {
  const port = environment.TAREBOOK_PORT ?? '4870';
  if (!/^\d{1,5}$/.test(port) || Number.parseInt(port, 10) > 65_535) {
    throw new ConfigError(`TAREBOOK_PORT is “${port}”; it must be a number from 0 to 65535.`);
  }
  const host = environment.TAREBOOK_HOST || null;
  if (host !== null && host !== 'localhost' && !isIPv4(host)) {
    throw new ConfigError(`TAREBOOK_HOST is “${host}”; it must be an address of this computer such as 192.168.1.20.`);
  }
  return {
    dataFolder: environment.TAREBOOK_DATA || fileURLToPath(new URL('../data', import.meta.url)),
    port: Number.parseInt(port, 10),
    host,
    passphrase: environment.TAREBOOK_PASSPHRASE || null,
    hosts: (environment.TAREBOOK_HOSTS ?? '')
      .split(',')
      .map((host) => host.trim())
      .filter(Boolean),
  };
}

export const ledgerFile = (config: Config): string => `${config.dataFolder}/ledger.sqlite`;

/** Where it is noted which entry of a ledger was its newest: beside it. */
export const lastEntryFile = (ledger: string): string => join(dirname(ledger), 'last-entry.json');
