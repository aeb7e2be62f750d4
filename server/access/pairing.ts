import { isSameSecret, newToken } from './token.ts';

/** How long a pairing code is good for. */
export const PAIRING_MINUTES = 5;
const PAIRING_MS = PAIRING_MINUTES * 60_000;

interface Offered {
  code: string;
  untilMs: number;
}

/**
 * The one-time code by which a phone is let in without the passphrase. There is one at a time, kept in memory only:
 * a new one takes the place of the last, and it ends with its first use, after five minutes, or with the server.
 */
export class Pairing {
  #offered: Offered | null = null;
  /** Name of the device that the last code let in, until another code is made. */
  #letIn: string | null = null;

  /** @returns a new code */
  offer(nowMs: number): string {
    this.#offered = { code: newToken(), untilMs: nowMs + PAIRING_MS };
    this.#letIn = null;
    return this.#offered.code;
  }

  /** The code that is good now, with the time it is good for, or null. */
  current(nowMs: number): { code: string; leftMs: number } | null {
    if (this.#offered === null) return null;
    const leftMs = this.#offered.untilMs - nowMs;
    // More than it was given: the clock was set back, and the code would be good until it is that late again.
    return leftMs <= 0 || leftMs > PAIRING_MS ? null : { code: this.#offered.code, leftMs };
  }

  isGood(code: string, nowMs: number): boolean {
    const current = this.current(nowMs);
    return current !== null && isSameSecret(code, current.code);
  }

  /** Takes the code: it is good for nobody else from now on. */
  use(deviceName: string): void {
    this.#offered = null;
    this.#letIn = deviceName;
  }

  get letIn(): string | null {
    return this.#letIn;
  }
}
