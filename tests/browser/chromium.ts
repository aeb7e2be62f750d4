import { execFileSync, spawnSync } from 'node:child_process';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { letIn, setFirstPassphrase } from '../../server/access/acts.ts';
import { HomeNetwork } from '../../server/access/home-network.ts';
import { homeAddresses } from '../../server/access/network.ts';
import { insertDevice, passphraseHash } from '../../server/access/queries.ts';
import { hashToken } from '../../server/access/token.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { type AppParts, buildApp } from '../../server/app.ts';
import { openLedger } from '../../server/context.ts';
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
  /** Where a phone finds it: this machine's own address on its network, as soon as that is answered. */
  readonly address: string;
  /** Where this computer itself finds it. */
  ownAddress: string;
  /**
   * Signs a browser in, as a device that gave the passphrase before. With a name it is a device of its own; without, it
   * is let in by every site of the tests alike: a browser keeps one cookie for this machine, whatever the port.
   */
  admit(context: BrowserContext, name?: string): Promise<void>;
  /** Every address that answers GET, as the server itself lists them. */
  routes(): string;
  close(): Promise<void>;
}

/** Any passphrase: these browsers bring their token along, and the tests of the sign-in set their own. */
const NO_HASH = 'scrypt$AAAA$AAAA';
/** The token of the device that every site lets in. */
const EVERYWHERE = 'browser-'.padEnd(43, '0');

/**
 * The real server on a free port, open to the home network as it is once there is a passphrase.
 * @param passphraseHash as it is kept; null to begin as a new ledger does, answering this computer only
 */
export async function serve(
  db: Db,
  { passphraseHash: hash = NO_HASH, ...parts }: Partial<AppParts> & { passphraseHash?: string | null } = {},
): Promise<Site> {
  let network: HomeNetwork | null = null;
  const app = await buildApp({
    db,
    clock,
    ...parts,
    homeUrls: () => [...(parts.homeUrls?.() ?? []), ...(network?.urls() ?? [])],
    refreshNetwork: async () => network?.refresh(),
  });
  const ledger = openLedger(db, parts.clock ?? clock);
  if (hash !== null) {
    setFirstPassphrase(ledger, hash);
    const device = { name: 'Phone', tokenHash: hashToken(EVERYWHERE), letInBy: 'pairing' } as const;
    insertDevice(db, { ...device, at: ledger.clock.now(), on: ledger.clock.today() });
  }
  const ownAddress = await app.listen({ host: '127.0.0.1', port: 0 });
  network = new HomeNetwork({
    server: app.server,
    port: Number(new URL(ownAddress).port),
    host: homeAddresses()[0] ?? '127.0.0.2',
    isOpen: () => passphraseHash(db) !== undefined,
    onTrouble: (sentence) => console.error(sentence),
    onAddress: () => undefined,
  });
  await network.refresh();
  const address = () => network?.urls()[0] ?? ownAddress;
  return {
    get address() {
      return address();
    },
    ownAddress,
    async admit(context, name) {
      const token = name === undefined ? EVERYWHERE : letIn(ledger, name, 'pairing').token;
      await context.addCookies([address(), ownAddress].map((url) => ({ name: COOKIE, value: token, url })));
    },
    routes: () => app.printRoutes({ commonPrefix: false }),
    async close() {
      await network?.close();
      await app.close();
    },
  };
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
export const DESK = { width: 1280, height: 800 };

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
