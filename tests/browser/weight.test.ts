import type { Browser, BrowserContext } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { findChromium, launch, manyAtOnce, openPage, PHONE } from './chromium.ts';
import { type ServedDemo, serveDemo } from './demo.ts';
import { ADDRESSES } from './pages.ts';
import { countWire, type Wire } from './wire.ts';

const executable = findChromium();

const FIRST = { requests: 5, bytes: 50_000 };
const LATER = { requests: 2, bytes: 15_000 };

const SETTLED_MS = 150;

/** Opens an address and adds up what came over the wire for it; what the browser had kept costs nothing. */
async function weigh(context: BrowserContext, url: string, faults: string[]): Promise<Wire> {
  const page = await openPage(context, faults);
  const weight = await countWire(page);
  await page.goto(url);
  // What the page itself asks for once it is there comes within this time.
  await page.waitForTimeout(SETTLED_MS);
  await page.close();
  return weight;
}

interface Weighed {
  address: string;
  first: Wire;
  later: Wire;
}

async function weighBoth(browser: Browser, site: ServedDemo, address: string, faults: string[]): Promise<Weighed> {
  const context = await browser.newContext({ viewport: PHONE });
  await site.admit(context);
  const first = await weigh(context, site.address + address, faults);
  const later = await weigh(context, site.address + address, faults);
  await context.close();
  return { address, first, later };
}

const line = ({ address, first, later }: Weighed): string =>
  `${address.padEnd(48)} ${first.requests} ${(first.bytes / 1000).toFixed(1).padStart(6)} kB   ${later.requests} ${(later.bytes / 1000).toFixed(1).padStart(6)} kB`;

const within = (weight: Wire, most: typeof FIRST): boolean =>
  weight.requests <= most.requests && weight.bytes <= most.bytes;

describe.skipIf(executable === null)('what a page weighs on its way to a phone', () => {
  let browser: Browser;
  let site: ServedDemo;
  let weighed: Weighed[];
  const faults: string[] = [];
  beforeAll(async () => {
    [browser, site] = await Promise.all([launch(executable as string), serveDemo()]);
    weighed = await manyAtOnce(ADDRESSES, (address) => weighBoth(browser, site, address, faults));
  }, 600_000);
  afterAll(async () => {
    await browser?.close();
    await site?.close();
  });

  test('a first view is at most 50 kB in 5 requests, a later one 15 kB in 2, on every page', () => {
    console.log(['first view, later view', ...weighed.map(line)].join('\n'));
    const tooHeavy = weighed.filter(({ first, later }) => !within(first, FIRST) || !within(later, LATER));
    expect(weighed).toHaveLength(ADDRESSES.length);
    expect(tooHeavy.map(line)).toEqual([]);
    expect(faults).toEqual([]);
  });

  test('nothing comes from anywhere else, and no font is fetched', () => {
    const asked = weighed.flatMap(({ first }) => first.asked);
    expect(asked.length).toBeGreaterThan(ADDRESSES.length * 2);
    expect(asked.filter((each) => !each.includes(` ${site.address}/`) || each.startsWith('Font'))).toEqual([]);
  });
});
