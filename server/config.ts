import { fileURLToPath } from 'node:url';

/** What can be set from outside. Everything else is a setting of the ledger, on its own page. */
export interface Config {
  /** Folder of the ledger and its copies. */
  dataFolder: string;
  port: number;
  /** Further host names that the server answers to, besides this computer's own. */
  hosts: readonly string[];
}

export class ConfigError extends Error {}

/** Reads TAREBOOK_DATA, TAREBOOK_PORT and TAREBOOK_HOSTS. Throws ConfigError with one sentence for the person. */
export function readConfig(environment: Readonly<Record<string, string | undefined>>): Config {
  const port = environment.TAREBOOK_PORT ?? '4870';
  if (!/^\d{1,5}$/.test(port) || Number.parseInt(port, 10) > 65_535) {
    throw new ConfigError(`TAREBOOK_PORT is “${port}”; it must be a number from 0 to 65535.`);
  }
  if (environment.TAREBOOK_HOST && !['127.0.0.1', 'localhost'].includes(environment.TAREBOOK_HOST)) {
    throw new ConfigError('Tarebook answers only this computer for now; leave TAREBOOK_HOST out.');
  }
  return {
    dataFolder: environment.TAREBOOK_DATA || fileURLToPath(new URL('../data', import.meta.url)),
    port: Number.parseInt(port, 10),
    hosts: (environment.TAREBOOK_HOSTS ?? '')
      .split(',')
      .map((host) => host.trim())
      .filter(Boolean),
  };
}

export const ledgerFile = (config: Config): string => `${config.dataFolder}/ledger.sqlite`;
