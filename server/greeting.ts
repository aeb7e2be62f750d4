import { terminalQr } from './access/terminal-qr.ts';

export interface Greeting {
  /** Address for this computer, without a slash at its end. */
  ownUrl: string;
  /** Address for phones at home, or null. */
  homeUrl: string | null;
  hasPassphrase: boolean;
  /** Whether it was told to stay off the network, for example behind a proxy. */
  isKeptOff: boolean;
  isTerminal: boolean;
}

/** What `npm start` says once it is ready: where to open it, here and on the phone. */
export function greeting({ ownUrl, homeUrl, hasPassphrase, isKeptOff, isTerminal }: Greeting): string {
  const ready = `Tarebook is ready. Press Ctrl+C to stop.\n\n  On this computer:     ${ownUrl}/`;
  if (!hasPassphrase) {
    return `${ready}\n  From a phone at home: set a passphrase first, at ${ownUrl}/setup/devices\n`;
  }
  if (homeUrl === null) {
    const why = isKeptOff ? 'kept off the network by TAREBOOK_HOST' : 'this computer is on no home network now';
    return `${ready}\n  From a phone at home: ${why}\n`;
  }
  return `${ready}\n  From a phone at home: ${homeUrl}/\n\n${terminalQr(`${homeUrl}/`, isTerminal)}\n`;
}
