import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { AxeBuilder } from '@axe-core/playwright';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { newLedger, setUpWorkedExample, weighIn } from '../helper.ts';
import { heic, phonePhoto, somePdf } from '../pictures.ts';
import { sell } from '../sales.ts';
import { findChromium, launch, openPage, PHONE, type Site, serve } from './chromium.ts';

// A phone with its photos, on the real server.
const executable = findChromium();
if (executable === null && process.env.CI) throw new Error('There is no Chromium for the browser tests.');

const TOUCH: BrowserContextOptions = { viewport: PHONE, hasTouch: true, isMobile: true };

/** Width of a picture as the browser has it, 0 while it has none. */
const widthOf = (page: Page, selector: string): Promise<number> =>
  page.locator(selector).evaluate((image: { naturalWidth: number }) => image.naturalWidth);

describe.skipIf(executable === null)('a phone at the yard', () => {
  let browser: Browser;
  let folder: string;
  let ledger: Ledger;
  let site: Site;
  let sold: { manifestId: number; ticketId: number };
  const file = (name: string) => join(folder, name);

  beforeAll(async () => {
    browser = await launch(executable as string);
    folder = mkdtempSync(join(tmpdir(), 'tarebook-phone-'));
    writeFileSync(file('IMG_1.jpg'), await phonePhoto(4000, 3000));
    writeFileSync(file('IMG_2.jpg'), await phonePhoto(900, 700));
    writeFileSync(file('IMG_3.heic'), heic());
    writeFileSync(file('proof.pdf'), somePdf());
    for (let index = 0; index < 7; index += 1) writeFileSync(file(`${index}.pdf`), somePdf(`${index}`, 11_000_000));
    ledger = newLedger();
    const { yardId } = setUpWorkedExample(ledger);
    weighIn(ledger, 'CU2', '80');
    const line = { loads: [0], paidAs: 'No. 2 copper', gross: '50', deduction: '0', net: '50', price: '3.40' };
    sold = sell(ledger, {
      yardId,
      number: '70011',
      on: '2025-03-08',
      loads: [{ code: 'CU2', net: '50', price: '3.40' }],
      lines: [{ ...line, amount: '170.00' }],
    });
    site = await serve(ledger.db);
  });
  afterAll(async () => {
    await browser?.close();
    await site?.close();
    ledger?.db.close();
    rmSync(folder, { recursive: true, force: true });
  });

  /** Chooses files and sends the form, as a thumb does, and waits for the page it leads to. */
  async function keep(page: Page, caption: string, ...names: string[]): Promise<void> {
    if (!(await page.isVisible('#f-photo-photos'))) await page.tap('#photos summary');
    await page.fill('#f-photo-caption', caption);
    await page.setInputFiles('#f-photo-photos', names.map(file));
    await Promise.all([page.waitForEvent('domcontentloaded'), page.tap('text=Keep them here')]);
    await page.waitForLoadState('load');
  }

  test.each([true, false])(
    'keeps the ticket’s photo and sees it, with scripts: %s',
    async (javaScriptEnabled) => {
      const context = await browser.newContext({ ...TOUCH, javaScriptEnabled });
      await site.admit(context);
      const faults: string[] = [];
      const page = await openPage(context, faults);
      const name = javaScriptEnabled ? 'IMG_1.jpg' : 'IMG_2.jpg';
      await page.goto(`${site.address}/tickets/${sold.ticketId}`);
      await keep(page, `Paper ${name}`, name);
      expect(await page.textContent('#photos .saved')).toBe('1 kept.');
      const image = `#photos a:has-text("Paper ${name}") img`;
      await page.locator(image).scrollIntoViewIfNeeded();
      // The photo lay on its side: upright its preview is higher than wide.
      await expect.poll(() => widthOf(page, image)).toBe(javaScriptEnabled ? 240 : 249);
      await Promise.all([page.waitForEvent('domcontentloaded'), page.tap(image)]);
      expect(await page.textContent('h1')).toBe(`Paper ${name}`);
      await expect.poll(() => widthOf(page, '.photo-whole img')).toBe(javaScriptEnabled ? 1800 : 700);
      expect(faults).toEqual([]);
      await context.close();
    },
    120_000,
  );

  test('is told in a sentence about a HEIC photo, and about too much at once, and what was typed stays', async () => {
    const context = await browser.newContext(TOUCH);
    await site.admit(context);
    const page = await openPage(context, []);
    await page.goto(`${site.address}/bins/CU2`);
    await keep(page, 'As typed', 'proof.pdf', 'IMG_3.heic');
    expect(await page.textContent('#f-photo-photos-problem')).toContain('“IMG_3.heic” is a HEIC photo');
    const papers = Array.from({ length: 7 }, (_, index) => `${index}.pdf`);
    // The browser reads the answer although the server stopped listening half-way.
    await keep(page, 'As typed', ...papers);
    expect(await page.textContent('#f-photo-photos-problem')).toContain('60 MB together');
    expect(await page.inputValue('#f-photo-caption')).toBe('As typed');
    await page.goto(`${site.address}/bins/CU2`);
    expect(await page.locator('#photos li').count()).toBe(0);
    await context.close();
  }, 120_000);

  test('takes a photo off and puts it back', async () => {
    const context = await browser.newContext(TOUCH);
    await site.admit(context);
    const faults: string[] = [];
    const page = await openPage(context, faults);
    await page.goto(`${site.address}/manifests/${sold.manifestId}`);
    await keep(page, 'Proof', 'proof.pdf');
    await page.tap('#photos a:has-text("Proof")');
    await page.tap('button:has-text("Take it off")');
    await page.waitForSelector('#photos .saved');
    expect(await page.locator('#photos > .photos li').count()).toBe(0);
    await page.tap('#photos summary:has-text("Taken off (1)")');
    await page.tap('#photos button:has-text("Put back")');
    await page.waitForSelector('#photos .saved:has-text("1 put back.")');
    expect(await page.locator('#photos > .photos li').count()).toBe(1);
    expect(faults).toEqual([]);
    await context.close();
  }, 120_000);

  test('finds every part large enough to touch, readable and within its width, in the light and in the dark', async () => {
    const context = await browser.newContext({ viewport: { width: 320, height: 700 } });
    await site.admit(context);
    const page = await context.newPage();
    const paths = [`/tickets/${sold.ticketId}`, `/manifests/${sold.manifestId}`, '/bins/CU2', '/photos/1', '/photos/3'];
    for (const path of [...paths, `/tickets/${sold.ticketId}/replacement`]) {
      await page.goto(site.address + path);
      for (const summary of await page.locator('#photos summary').all()) await summary.click();
      const over = await page.evaluate<number>('document.documentElement.scrollWidth - window.innerWidth');
      expect([path, over <= 0]).toEqual([path, true]);
      for (const colorScheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme });
        const { violations } = await new AxeBuilder({ page }).analyze();
        const found = violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html.slice(0, 120)}`);
        expect([path, colorScheme, found]).toEqual([path, colorScheme, []]);
      }
      for (const part of await page.locator('#photos :is(a, button, summary, input:not([type=hidden]))').all()) {
        const height = (await part.boundingBox())?.height ?? 44;
        expect([path, await part.textContent(), height >= 44]).toEqual([path, expect.anything(), true]);
      }
    }
    await context.close();
  }, 120_000);
});
