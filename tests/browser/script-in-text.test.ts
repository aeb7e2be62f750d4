import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { HARMLESS, MARK, POISONS, poison, RAN } from '../poison.ts';
import { DESK, findChromium, launch, manyAtOnce } from './chromium.ts';
import { type ServedDemo, serveDemo } from './demo.ts';
import { LOOKED_AT } from './pages.ts';

// What tests/routes/script-in-text.test.ts says of the tree, seen in a browser: nothing of what was typed ever runs,
// asks or makes an element, on any page and on paper. All of the texts stand in the ledger at once.

const CHROMIUM = findChromium();
const TEXT = POISONS.join(' ');
/** A code is a part of an address, which takes 200 characters. */
const CODE = POISONS[0] ?? '';

describe.skipIf(CHROMIUM === null)('in a browser', () => {
  let browser: Browser;
  let context: BrowserContext;
  let site: ServedDemo;
  const faults: string[] = [];

  beforeAll(async () => {
    browser = await launch(CHROMIUM ?? '');
    site = await serveDemo((db) => {
      poison(db, TEXT);
      db.sqlite.prepare('update bin set code = ? || substr(code, ?)').run(CODE, TEXT.length + 1);
    });
    context = await browser.newContext({ viewport: DESK });
    await site.admit(context);
    // Before any script of a page: whatever the policy stops is noted, also where it is only reported.
    await context.addInitScript(`
      const noted = (globalThis.noted = []);
      addEventListener('securitypolicyviolation', (e) => noted.push(e.violatedDirective + ' ' + e.blockedURI));
    `);
    context.on('dialog', (dialog) => {
      faults.push(`dialog: ${dialog.message()}`);
      void dialog.dismiss();
    });
    context.on('request', (request) => {
      const { hostname, protocol } = new URL(request.url());
      if (protocol !== 'data:' && hostname !== new URL(site.address).hostname) faults.push(`asked ${request.url()}`);
    });
    context.on('weberror', (error) => faults.push(String(error.error())));
  });
  afterAll(async () => {
    await browser?.close();
    await site?.close();
  });

  const addressIn = (address: string) =>
    address.replace(/\b(CU2|CW2|PCB)\b/g, (code) => encodeURIComponent(CODE + code));

  /** What a page has that it should not have. */
  const look = (page: Page): Promise<string[]> =>
    page.evaluate(`(() => {
      const found = [...(globalThis.noted ?? [])];
      if (globalThis.${RAN} !== undefined) found.push('ran');
      const made = '${MARK}, [${MARK}], [onerror], [onload], [onmouseover], [onfocus]';
      if (document.querySelector(made) !== null) found.push('made');
      return found;
    })()`);
  const isShownOn = (page: Page): Promise<boolean> => page.evaluate(`document.body.textContent.includes('${RAN}')`);

  test('no page runs it, screen or paper', async () => {
    const addresses = Object.values(LOOKED_AT).flat();
    const found = await manyAtOnce(addresses, async (address) => {
      const page = await context.newPage();
      const answer = await page.goto(site.address + addressIn(address));
      await page.emulateMedia({ media: 'print' });
      const [wrong, isShown] = [await look(page), await isShownOn(page)];
      await page.close();
      return { address, status: answer?.status(), wrong, isShown };
    });
    expect(found.filter(({ status, wrong }) => status !== 200 || wrong.length > 0)).toEqual([]);
    expect(found.filter(({ isShown }) => isShown).length).toBeGreaterThan(addresses.length * 0.6);
    expect(faults).toEqual([]);
  }, 180_000);

  test('neither does a form that comes back with it, nor what a device keeps of a form', async () => {
    const page = await context.newPage();
    await page.goto(`${site.address}/setup/yards`);
    const text = `${POISONS[1]}${POISONS[8]}`;
    const form = page.locator('form[action="/setup/yards"]');
    for (const field of await form.locator('input:not([type=hidden]), textarea').all()) await field.fill(text);
    await Promise.all([page.waitForEvent('domcontentloaded'), form.locator('button').last().click()]);
    expect(await form.locator('[name=name]').inputValue()).toBe(text);
    expect(await look(page)).toEqual([]);
    await page.goto(`${site.address}/tickets/new?manifest=24`);
    await page.fill('[name=number]', text);
    await page.waitForTimeout(1500);
    await page.goto(`${site.address}/tickets/new?manifest=24`);
    expect(await look(page)).toEqual([]);
    expect(faults).toEqual([]);
    await page.close();
  }, 60_000);

  test('this test would see it', async () => {
    const page = await context.newPage();
    await page.setContent(`<p>${RAN} ${HARMLESS}<${MARK}></p>`);
    expect([await look(page), await isShownOn(page)]).toEqual([['made'], true]);
    await page.close();
  });
});
