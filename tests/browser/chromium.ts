import { execFileSync, spawnSync } from 'node:child_process';
import type { FastifyInstance } from 'fastify';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { type AppParts, buildApp } from '../../server/app.ts';
import type { Db } from '../../server/db/database.ts';
import { clock } from '../helper.ts';

const NAMES = ['chromium', 'chromium-browser', 'google-chrome', 'chrome'];
const ON_MAC = '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome';

const which = (name: string): string | null => {
  const found = spawnSync(process.platform === 'win32' ? 'where' : 'which', [name], { encoding: 'utf8' });
  return found.status === 0 ? (found.stdout.split('\n')[0]?.trim() ?? null) : null;
};

/** Where a Chromium is; on a Debian machine without one, as root, it is installed first. Null where there is none. */
export function findChromium(): string | null {
  const found = NAMES.map(which).find((path) => path !== null);
  if (found) return found;
  if (process.platform === 'darwin' && spawnSync('test', ['-x', ON_MAC]).status === 0) return ON_MAC;
  if (which('apt-get') === null || process.getuid?.() !== 0) return null;
  execFileSync('apt-get', ['update', '-qq'], { stdio: 'ignore' });
  execFileSync('apt-get', ['install', '-y', '-qq', 'chromium'], { stdio: 'ignore' });
  return which('chromium');
}

/** A real browser, without what it would otherwise look up elsewhere. */
export const launch = (executablePath: string): Promise<Browser> =>
  chromium.launch({
    executablePath,
    args: ['--no-sandbox', '--disable-dev-shm-usage', '--disable-background-networking', '--disable-component-update'],
  });

export interface Site {
  app: FastifyInstance;
  address: string;
}

/** The real server on a free port of this computer. */
export async function serve(db: Db, parts: Partial<AppParts> = {}): Promise<Site> {
  const app = await buildApp({ db, clock, ...parts });
  return { app, address: await app.listen({ host: '127.0.0.1', port: 0 }) };
}

/** A page of a phone or a desk, which fails the test on a script error or on anything the content policy blocks. */
export async function openPage(context: BrowserContext, faults: string[]): Promise<Page> {
  const page = await context.newPage();
  page.on('pageerror', (error) => faults.push(String(error)));
  page.on('console', (message) => {
    // A form that comes back answers 422, which the browser notes as an error of loading; that is as it should be.
    if (message.type() === 'error' && !message.text().includes('422')) faults.push(message.text());
  });
  return page;
}

export const PHONE = { width: 390, height: 844 };
export const DESK = { width: 1280, height: 900 };

const AT_ONCE = 6;

/** Does the same for every one of a list, several at once, and gives what came of each, in the order of the list. */
export async function manyAtOnce<Item, Result>(
  items: readonly Item[],
  act: (item: Item) => Promise<Result>,
): Promise<Result[]> {
  const results: Result[] = [];
  const queue = [...items.entries()];
  const work = async (): Promise<void> => {
    for (let next = queue.shift(); next !== undefined; next = queue.shift()) results[next[0]] = await act(next[1]);
  };
  await Promise.all(Array.from({ length: AT_ONCE }, work));
  return results;
}
