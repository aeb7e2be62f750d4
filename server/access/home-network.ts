import type { Server } from 'node:http';
import { createServer, type Server as Listener } from 'node:net';
import { networkInterfaces } from 'node:os';
import { troubleOf } from '../db/trouble.ts';
import { homeAddresses } from './network.ts';

export interface HomeNetworkParts {
  /** The server that answers; it listens on loopback already. */
  server: Server;
  port: number;
  /** The one address to listen on, 0.0.0.0 for every one there is; null for those of the home network. */
  host: string | null;
  /** Whether the home network is answered at all. */
  isOpen: () => boolean;
  /** Told when an address cannot be listened on. */
  onTrouble: (sentence: string) => void;
  /** Told the likeliest address after each look; it may be the same as before. */
  onAddress: (url: string) => void;
}

const LOOK_EVERY_MS = 5_000;

/** Whether this is an address that no other computer reaches. */
export const isKeptOff = (host: string | null): boolean => host === '127.0.0.1' || host === 'localhost';

/**
 * Listens on this computer's addresses in the home network, one by one, for as long as it is open to it; a router may
 * give it another address at any time, so it looks again every few seconds. Loopback is not its matter. Connections
 * are handed to the one HTTP server, so that all of its limits hold for them.
 */
export class HomeNetwork {
  readonly #parts: HomeNetworkParts;
  readonly #listeners = new Map<string, Listener>();
  readonly #refused = new Set<string>();
  readonly #timer: NodeJS.Timeout;
  #looking: Promise<void> | null = null;

  constructor(parts: HomeNetworkParts) {
    this.#parts = parts;
    this.#timer = setInterval(() => void this.refresh(), LOOK_EVERY_MS).unref();
  }

  /** Where phones reach this server now, the likeliest first: "http://192.168.1.20:4870". */
  readonly urls = (): string[] => [...this.#listeners.keys()].map((address) => `http://${address}:${this.#parts.port}`);

  /** Looks which addresses there are, and listens on just these. One look at a time. */
  readonly refresh = (): Promise<void> => {
    this.#looking ??= this.#look()
      .catch((error) => this.#tellOnce(error))
      .finally(() => {
        this.#looking = null;
      });
    return this.#looking;
  };

  /** Whether it is open, and the address it had, stand in the ledger. When that fails, what listens goes on. */
  #tellOnce(error: unknown): void {
    const sentence = troubleOf(error);
    if (sentence === null) throw error;
    if (!this.#refused.has(sentence)) this.#parts.onTrouble(sentence);
    this.#refused.add(sentence);
  }

  async #look(): Promise<void> {
    const wanted = this.#parts.isOpen() ? this.#wanted() : [];
    for (const [address, listener] of this.#listeners) {
      if (wanted.includes(address)) continue;
      listener.close();
      this.#listeners.delete(address);
    }
    for (const address of wanted) if (!this.#listeners.has(address)) await this.#listen(address);
    this.#sort(wanted);
    const [url] = this.urls();
    if (url !== undefined) this.#parts.onAddress(url);
  }

  #wanted(): string[] {
    const { host } = this.#parts;
    if (host === null) return homeAddresses();
    if (isKeptOff(host)) return [];
    if (host !== '0.0.0.0') return [host];
    const infos = Object.values(networkInterfaces()).flatMap((each) => each ?? []);
    return infos.filter(({ family, internal }) => family === 'IPv4' && !internal).map(({ address }) => address);
  }

  async #listen(address: string): Promise<void> {
    const { server, port, onTrouble } = this.#parts;
    const listener = createServer({ allowHalfOpen: true, noDelay: true }, (socket) =>
      server.emit('connection', socket),
    );
    try {
      await new Promise<void>((resolve, reject) => {
        listener.once('error', reject);
        listener.listen({ host: address, port, exclusive: true }, resolve);
      });
      this.#listeners.set(address, listener);
      this.#refused.delete(address);
    } catch {
      // Said once, not at each look.
      if (!this.#refused.has(address)) onTrouble(`Tarebook cannot listen at ${address}, port ${port}.`);
      this.#refused.add(address);
    }
  }

  /** Keeps the likeliest first, also when it came later. */
  #sort(wanted: readonly string[]): void {
    const listening = wanted.flatMap((address) => {
      const listener = this.#listeners.get(address);
      return listener === undefined ? [] : [[address, listener] as const];
    });
    this.#listeners.clear();
    for (const [address, listener] of listening) this.#listeners.set(address, listener);
  }

  /** Stops listening; connections that are open end with the server. */
  async close(): Promise<void> {
    clearInterval(this.#timer);
    await this.#looking;
    for (const listener of this.#listeners.values()) listener.close();
    this.#listeners.clear();
  }
}
