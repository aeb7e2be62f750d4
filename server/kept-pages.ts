import { randomUUID } from 'node:crypto';

/** How many addresses are kept at a time: the first page, and the bench with each of a household's bins. */
const MOST_PAGES = 64;

/** Stand in a kept page for what every sending has of its own. Drawn anew at each start, so nothing typed is one of them. */
export const KEY_AT_SENDING = `key-${randomUUID()}`;
export const TOKEN_AT_SENDING = `token-${randomUUID()}`;

/**
 * Pages that depend on nothing but the ledger, the day and their address, as long as none of these is another. Anything
 * at all that is written, here or by a command beside the server, forgets every one of them.
 */
export class KeptPages {
  readonly #pages = new Map<string, string>();
  #version = '';

  /** @param version of the ledger and the day; @param make writes the page when it is not there */
  page(version: string, address: string, make: () => string): string {
    if (version !== this.#version || this.#pages.size >= MOST_PAGES) {
      this.#pages.clear();
      this.#version = version;
    }
    let page = this.#pages.get(address);
    if (page === undefined) {
      page = make();
      this.#pages.set(address, page);
    }
    return page;
  }
}
