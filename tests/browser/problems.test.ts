import type { Browser, BrowserContext } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { faultsEverywhere } from './checker.ts';
import { findChromium, launch, manyAtOnce, openPage, PHONE } from './chromium.ts';
import { type ServedDemo, serveDemo } from './demo.ts';
import { ADDRESSES } from './pages.ts';
import { formsToFillIn, overflow, postEmpty, summaryFaults } from './probes.ts';

const executable = findChromium();

describe.skipIf(executable === null)('every form that comes back with problems', () => {
  let browser: Browser;
  let site: ServedDemo;
  let context: BrowserContext;
  beforeAll(async () => {
    [browser, site] = await Promise.all([launch(executable as string), serveDemo()]);
    context = await browser.newContext({ viewport: PHONE, bypassCSP: true });
    await site.admit(context);
  });
  afterAll(async () => {
    await browser?.close();
    await site?.close();
  });

  /** Posts one form of a page empty. Null where that is accepted: a form whose every field may stay empty. */
  async function comesBack(address: string, at: number): Promise<string[] | null> {
    const page = await openPage(context, []);
    await page.goto(site.address + address);
    const posted = page.waitForResponse((response) => response.request().method() === 'POST');
    const loaded = page.waitForEvent('load');
    if (!(await postEmpty(page, at))) {
      await Promise.allSettled([page.close(), posted, loaded]);
      return null;
    }
    const [answer] = await Promise.all([posted, loaded]);
    // The summary first: looking at a page from every side moves its focus.
    const faults = answer.status() === 422 ? [...(await summaryFaults(page)), ...(await faultsEverywhere(page))] : null;
    if (faults !== null && (await overflow(page)) > 0) faults.push('is wider than a phone');
    await page.close();
    return faults;
  }

  test('leads from its summary to each field, and can be read and worked by everyone', async () => {
    const page = await openPage(context, []);
    const forms: [address: string, at: number][] = [];
    for (const address of ADDRESSES) {
      await page.goto(site.address + address);
      for (const at of await formsToFillIn(page)) forms.push([address, at]);
    }
    const outcomes = await manyAtOnce(forms, async ([address, at]) => ({
      address,
      at,
      faults: await comesBack(address, at),
    }));
    const cameBack = outcomes.filter(({ faults }) => faults !== null);
    expect(cameBack.length).toBeGreaterThan(20);
    const found = cameBack.flatMap(({ address, at, faults }) =>
      (faults ?? []).map((fault) => `${address} form ${at}: ${fault}`),
    );
    expect(found).toEqual([]);
  }, 400_000);
});
