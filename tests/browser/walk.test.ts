import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { newLedger } from '../helper.ts';
import { DESK, findChromium, launch, openPage, PHONE, serve } from './chromium.ts';
import { withKeyboard, withMouse, withoutScripts } from './hands.ts';
import { checkScale, EFFECTS, enterTicket, loadAll, setUp, VERDICTS, weighIn, writePrices } from './walk.ts';

// A real browser on the real server. Where there is none and none can be installed the walk is left out, except in CI.
const executable = findChromium();
if (executable === null && process.env.CI) throw new Error('There is no Chromium for the browser tests.');

type Hand = typeof withMouse;

/** Walks with fresh hands on a ledger of its own, up to the reconciled ticket, and hands over what is then there. */
async function walk(browser: Browser, hand: Hand, options: { viewport: typeof DESK; javaScriptEnabled?: boolean }) {
  const ledger = newLedger();
  const site = await serve(ledger.db);
  const faults: string[] = [];
  const context = await browser.newContext(options);
  await site.admit(context);
  const page = await openPage(context, faults);
  const hands = hand(page);
  for (const part of [setUp, checkScale, writePrices, weighIn, loadAll, enterTicket]) await part(hands, site.address);
  const close = async () => {
    await context.close();
    await site.close();
    ledger.db.close();
  };
  return { page, context, ledger, site, address: site.address, faults, close };
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

    test('the sheet of five loads prints on one page of Letter and of A4', async () => {
      const { page, address } = walked;
      await page.goto(`${address}/manifests/1/sheet`);
      for (const format of ['Letter', 'A4']) {
        const pdf = (await page.pdf({ format })).toString('latin1');
        expect([format, pdf.match(/\/Type\s*\/Page\b(?!s)/g)?.length]).toEqual([format, 1]);
      }
    });
  });
});
