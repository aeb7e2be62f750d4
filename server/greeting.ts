import { terminalQr } from './access/terminal-qr.ts';

export interface Greeting {
  /** Address for this computer, without a slash at its end. */
  ownUrl: string;
  /** Address for phones at home, or null. */
  homeUrl: string | null;
  hasPassphrase: boolean;
  isTerminal: boolean;
}

/** What `npm start` says once it is ready: where to open it, here and on the phone. */
export function greeting({ ownUrl, homeUrl, hasPassphrase, isTerminal }: Greeting): string {
  const ready = `Tarebook is ready. Press Ctrl+C to stop.\n\n  On this computer:     ${ownUrl}/`;
  if (!hasPassphrase) {
    return `${ready}\n  From a phone at home: set a passphrase first, at ${ownUrl}/setup/devices\n`;
  }
  if (homeUrl === null) return `${ready}\n  From a phone at home: this computer is on no home network now\n`;
  return `${ready}\n  From a phone at home: ${homeUrl}/\n\n${terminalQr(`${homeUrl}/`, isTerminal)}\n`;
}
