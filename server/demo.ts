import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { demoToday, fillDemo } from '../seed/demo.ts';
import { buildApp } from './app.ts';
import { fixedClock } from './clock.ts';
import { openDb } from './db/open.ts';

/** Only this computer: the demo asks nobody who they are. */
const HOST = '127.0.0.1';

export interface Demo {
  /** Address of its first page. */
  url: string;
  close(): Promise<void>;
}

/**
 * Makes a throw-away ledger filled with the demo and serves it at an address of its own, on a day that never changes.
 * It lies in a temporary folder that is removed on close.
 * @param port 0 for any free one
 */
export async function startDemo(port = 0): Promise<Demo> {
  const folder = mkdtempSync(join(tmpdir(), 'tarebook-demo-'));
  const removeFolder = () => rmSync(folder, { recursive: true, force: true });
  try {
    const db = openDb(join(folder, 'ledger.sqlite'));
    fillDemo(db);
    const app = await buildApp({ db, clock: fixedClock(demoToday), isDemo: true });
    const close = async () => {
      await app.close();
      db.close();
      removeFolder();
    };
    const url = `${await app.listen({ host: HOST, port })}/`;
    return { url, close };
  } catch (error) {
    removeFolder();
    throw error;
  }
}

/** The demo of one server: made at the first call, the same one at every later call, closed with the server. */
export class DemoBeside {
  #demo: Promise<Demo> | null = null;

  /** Starts the demo unless it runs. @returns its address */
  readonly open = async (): Promise<string> => {
    this.#demo ??= startDemo();
    try {
      return (await this.#demo).url;
    } catch (error) {
      // A demo that could not start, for want of room for example, may be tried again.
      this.#demo = null;
      throw error;
    }
  };

  async close(): Promise<void> {
    await this.#demo?.then(
      (demo) => demo.close(),
      () => undefined,
    );
  }
}
