import { terminalQr } from './access/terminal-qr.ts';
import { localTime } from './clock.ts';
import type { MissingEntries } from './last-entry.ts';

export interface Greeting {
  /** Address for this computer, without a slash at its end. */
  ownUrl: string;
  /** Address for phones at home, or null. */
  homeUrl: string | null;
  hasPassphrase: boolean;
  /** Whether it was told to stay off the network, for example behind a proxy. */
  isKeptOff: boolean;
  isTerminal: boolean;
  /** What the ledger lacks at its end; null when it is as it was left. */
  missing: MissingEntries | null;
}

/** What `npm start` says once it is ready: where to open it, here and on the phone. */
export function greeting({ ownUrl, homeUrl, hasPassphrase, isKeptOff, isTerminal, missing }: Greeting): string {
  const lack = missing === null ? '' : `${lackOf(missing)}\n\n`;
  const ready = `${lack}Tarebook is ready. Press Ctrl+C to stop.\n\n  On this computer:     ${ownUrl}/`;
  if (!hasPassphrase) {
    return `${ready}\n  From a phone at home: set a passphrase first, at ${ownUrl}/setup/devices\n`;
  }
  if (homeUrl === null) {
    const why = isKeptOff ? 'kept off the network by TAREBOOK_HOST' : 'this computer is on no home network now';
    return `${ready}\n  From a phone at home: ${why}\n`;
  }
  return `${ready}\n  From a phone at home: ${homeUrl}/\n\n${terminalQr(`${homeUrl}/`, isTerminal)}\n`;
}

function lackOf({ expected }: MissingEntries): string {
  const { day, time } = localTime(expected.recordedAt);
  return (
    `ATTENTION: this ledger lacks its newest entries. The last one written down here was of ${day}, ${time}, and is not\n` +
    'in it. The first page says what to do. Nothing was changed.'
  );
}
