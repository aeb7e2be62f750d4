/** So many wrong passphrases a device may send before it has to wait. */
const FREE_TRIES = 5;
const FIRST_WAIT_MS = 5_000;
const LONGEST_WAIT_MS = 15 * 60_000;
/** Forgotten after this time without another wrong one. */
const REMEMBERED_MS = 60 * 60_000;
const MOST_ADDRESSES = 1_000;

interface Wrong {
  count: number;
  lastMs: number;
}

/** A clock that was set back would otherwise make a device wait until it is that late again. */
const isForgotten = ({ lastMs }: Wrong, nowMs: number): boolean => nowMs < lastMs || nowMs - lastMs > REMEMBERED_MS;

/**
 * Counts wrong passphrases by the address they came from. After five, each further one costs a wait that doubles, for
 * that address only: a guesser in the network slows nobody else down, and devices that are signed in not at all.
 */
export class Tries {
  readonly #wrong = new Map<string, Wrong>();

  /** How long this address must still wait, in milliseconds; 0 when it may try. */
  waitMs(address: string, nowMs: number): number {
    const wrong = this.#wrong.get(address);
    if (wrong === undefined || wrong.count < FREE_TRIES) return 0;
    if (isForgotten(wrong, nowMs)) return 0;
    const pause = Math.min(FIRST_WAIT_MS * 2 ** Math.min(wrong.count - FREE_TRIES, 20), LONGEST_WAIT_MS);
    return Math.max(0, wrong.lastMs + pause - nowMs);
  }

  /** Counts a try before it is looked at, so that many sent at once do not all pass for the first. */
  begin(address: string, nowMs: number): void {
    const earlier = this.#wrong.get(address);
    // Put back at the end: the map keeps the order, and the addresses that were quiet longest leave first.
    this.#wrong.delete(address);
    this.#wrong.set(address, {
      count: earlier === undefined || isForgotten(earlier, nowMs) ? 1 : earlier.count + 1,
      lastMs: nowMs,
    });
    if (this.#wrong.size > MOST_ADDRESSES) this.#wrong.delete(this.#wrong.keys().next().value as string);
  }

  /** The passphrase was right: nothing is held against this address. */
  forget(address: string): void {
    this.#wrong.delete(address);
  }
}
