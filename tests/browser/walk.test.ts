import { AxeBuilder } from '@axe-core/playwright';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Demo, startDemo } from '../../server/demo.ts';
import { newLedger } from '../helper.ts';
import { DESK, findChromium, launch, openPage, PHONE, serve } from './chromium.ts';
import { withKeyboard, withMouse, withoutScripts } from './hands.ts';
import { checkScale, EFFECTS, enterTicket, loadAll, setUp, VERDICTS, weighIn, writePrices } from './walk.ts';

// A real browser on the real server. Where there is none and none can be installed the walk is left out, except in CI.
const executable = findChromium();
if (executable === null && process.env.CI) throw new Error('There is no Chromium for the browser tests.');

/** Every page that a person comes across on the walk. */
const PAGES = [
  '/',
  '/weigh-in?bin=CU2',
  '/bins/CU2',
  '/in-weights/3/correction',
  '/prices',
  '/prices/board?yard=1',
  '/prices/grades/8',
  '/manifests',
  '/manifests/new?yard=1',
  '/manifests/1',
  '/manifests/1/sheet',
  '/tickets',
  '/tickets/1',
  '/tickets/1/replacement',
  '/tickets/new',
  '/reports',
  '/reports/realised-prices',
  '/reports/shrinkage',
  '/reports/scales',
  '/setup',
  '/setup/ledger',
  '/setup/grades',
  '/setup/grades/1',
  '/setup/bins',
  '/setup/bins/1',
  '/setup/containers',
  '/setup/scales',
  '/setup/scales/1',
  '/setup/yards',
  '/setup/yards/1',
  '/setup/files',
  '/import',
] as const;

type Hand = typeof withMouse;

/** Walks with fresh hands on a ledger of its own, up to the reconciled ticket, and hands over what is then there. */
async function walk(browser: Browser, hand: Hand, options: { viewport: typeof DESK; javaScriptEnabled?: boolean }) {
  const ledger = newLedger();
  const site = await serve(ledger.db);
  const faults: string[] = [];
  const context = await browser.newContext(options);
  const page = await openPage(context, faults);
  const hands = hand(page);
  for (const part of [setUp, checkScale, writePrices, weighIn, loadAll, enterTicket]) await part(hands, site.address);
  const close = async () => {
    await context.close();
    await site.app.close();
    ledger.db.close();
  };
  return { page, context, ledger, address: site.address, faults, close };
}

/** No page is wider than the window, from a small phone to a desk. */
async function expectToFit(page: Page, address: string, paths: readonly string[]): Promise<void> {
  for (const path of paths) {
    const answer = await page.goto(address + path);
    expect([path, answer?.status()]).toEqual([path, 200]);
    for (const width of [320, PHONE.width, DESK.width]) {
      await page.setViewportSize({ width, height: 800 });
      const over = await page.evaluate<number>('document.documentElement.scrollWidth - window.innerWidth');
      expect([path, width, over <= 0]).toEqual([path, width, true]);
    }
  }
}

/** The checker finds nothing to say against a page, in the light and in the dark. */
async function expectReachable(context: BrowserContext, address: string, paths: readonly string[]): Promise<void> {
  // The checker puts styles of its own into the page, which the content policy blocks: it gets a tab for itself.
  const page = await context.newPage();
  for (const path of paths) {
    await page.goto(address + path);
    for (const colorScheme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme });
      const { violations } = await new AxeBuilder({ page }).analyze();
      const found = violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html.slice(0, 120)}`);
      expect([path, colorScheme, found]).toEqual([path, colorScheme, []]);
    }
  }
  await page.close();
}

type Walked = Awaited<ReturnType<typeof walk>>;

describe.skipIf(executable === null)('a new user, from the empty ledger to the reconciled ticket', () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch(executable as string);
  });
  afterAll(() => browser?.close());

  async function expectReconciled({ page, faults, ledger }: Walked): Promise<void> {
    const text = await page.textContent('main');
    for (const said of [...EFFECTS, ...VERDICTS]) expect(text).toContain(said);
    const left =
      "select sum(mass_ug) from balance join account on account.id = account_id where kind in ('bin', 'load')";
    expect(ledger.db.sqlite.prepare(left).pluck().get()).toBe(0);
    expect(faults).toEqual([]);
  }

  test.for([
    ['by keyboard alone', withKeyboard, { viewport: DESK }],
    ['on a phone without scripts', withoutScripts, { viewport: PHONE, javaScriptEnabled: false }],
  ] as const)('%s', { timeout: 120_000 }, async ([, hand, options]) => {
    const walked = await walk(browser, hand, options);
    await expectReconciled(walked).finally(walked.close);
  });

  describe('by mouse at a desk', () => {
    let walked: Walked;
    beforeAll(async () => {
      walked = await walk(browser, withMouse, { viewport: DESK });
    });
    afterAll(() => walked?.close());

    test('every cent is there, and no page threw an error or was blocked', () => expectReconciled(walked));

    test('every page fits from 320 px on', async () => {
      await expectToFit(walked.page, walked.address, PAGES);
      expect(walked.faults).toEqual([]);
    }, 60_000);

    test('every page is readable and reachable, in the light and in the dark', async () => {
      await expectReachable(walked.context, walked.address, PAGES);
    }, 180_000);

    test('the sheet of five loads prints on one page of Letter and of A4', async () => {
      const { page, address } = walked;
      await page.goto(`${address}/manifests/1/sheet`);
      for (const format of ['Letter', 'A4']) {
        const pdf = (await page.pdf({ format })).toString('latin1');
        expect([format, pdf.match(/\/Type\s*\/Page\b(?!s)/g)?.length]).toEqual([format, 1]);
      }
    });

    test('the first view is at most 50 kB in at most 5 requests', async () => {
      const fresh = await browser.newContext({ viewport: PHONE });
      const page = await fresh.newPage();
      const sizes: Promise<number>[] = [];
      page.on('requestfinished', (request) => {
        sizes.push(request.sizes().then((size) => size.responseBodySize + size.responseHeadersSize));
      });
      await page.goto(walked.address, { waitUntil: 'networkidle' });
      const bytes = (await Promise.all(sizes)).reduce((a, b) => a + b, 0);
      await fresh.close();
      console.log(`first view: ${sizes.length} requests, ${(bytes / 1000).toFixed(1)} kB`);
      expect(sizes.length).toBeLessThanOrEqual(5);
      expect(bytes).toBeLessThanOrEqual(50_000);
    });
  });
});

/** The pages that need some history to have something to draw. */
const PAGES_WITH_HISTORY = [
  '/',
  '/manifests/22',
  '/manifests/25',
  '/tickets/6',
  '/reports/scales',
  '/reports/shrinkage',
  '/reports/shrinkage?grade=14&split=yard',
  '/reports/realised-prices?grade=14',
  '/setup/scales/1',
  '/setup/yards/1',
  '/find?q=copper',
  '/trail?document=yard-1',
  '/in-weights?bin=CU2&from=2026-02-01',
  '/prices/grades/5',
] as const;

describe.skipIf(executable === null)('the demo, with fourteen months of history', () => {
  let browser: Browser;
  let demo: Demo;
  beforeAll(async () => {
    browser = await launch(executable as string);
    demo = await startDemo();
  });
  afterAll(async () => {
    await browser?.close();
    await demo?.close();
  });

  test('its pages fit, are readable and reachable, and no script throws', async () => {
    const context = await browser.newContext({ viewport: PHONE });
    const faults: string[] = [];
    const address = demo.url.replace(/\/$/, '');
    await expectToFit(await openPage(context, faults), address, PAGES_WITH_HISTORY);
    expect(faults).toEqual([]);
    await expectReachable(context, address, PAGES_WITH_HISTORY);
    await context.close();
  }, 240_000);
});
