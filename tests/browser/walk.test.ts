import type { Browser, BrowserContextOptions } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { newLedger } from '../helper.ts';
import { DESK, findChromium, launch, openPage, PHONE, serve } from './chromium.ts';
import { counted, withKeyboard, withMouse, withoutScripts, withThumb } from './hands.ts';
import {
  checkScale,
  EFFECTS,
  enterTicket,
  findAgain,
  keepPhoto,
  loadAll,
  printTags,
  setUp,
  VERDICTS,
  weighIn,
  writePrices,
} from './walk.ts';
import { countWire } from './wire.ts';

// A real browser on the real server. Where there is none and none can be installed the walk is left out, except in CI.
const executable = findChromium();
if (executable === null && process.env.CI) throw new Error('There is no Chromium for the browser tests.');

type Hand = typeof withMouse;

const SALE = { setUp, checkScale, writePrices, weighIn, loadAll, enterTicket };
const AFTERWARDS = { keepPhoto, findAgain, printTags };

/** Walks with fresh hands on a ledger of its own, up to the reconciled ticket, and hands over what is then there. */
async function walk(browser: Browser, name: string, hand: Hand, options: BrowserContextOptions) {
  const ledger = newLedger();
  const site = await serve(ledger.db);
  const faults: string[] = [];
  const context = await browser.newContext(options);
  await site.admit(context);
  const page = await openPage(context, faults);
  const wire = await countWire(page);
  const { hands, touches } = counted(hand(page));
  const lines: string[] = [];
  const go = async (parts: typeof SALE | typeof AFTERWARDS): Promise<void> => {
    for (const [part, act] of Object.entries(parts)) {
      const before = { touches: touches(), requests: wire.requests, bytes: wire.bytes };
      await act(hands, site.address);
      const kilobytes = ((wire.bytes - before.bytes) / 1000).toFixed(1).padStart(6);
      lines.push(
        `${part.padEnd(12)} ${String(touches() - before.touches).padStart(3)} touches ${String(wire.requests - before.requests).padStart(3)} requests ${kilobytes} kB`,
      );
    }
  };
  await go(SALE);
  const close = async () => {
    console.log([`walk ${name}`, ...lines].join('\n'));
    await context.close();
    await site.close();
    ledger.db.close();
  };
  return { page, context, ledger, address: site.address, faults, goOn: () => go(AFTERWARDS), close };
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
    ['by thumb on a phone', withThumb, { viewport: PHONE, hasTouch: true, isMobile: true }],
    ['on a phone without scripts', withoutScripts, { viewport: PHONE, javaScriptEnabled: false }],
  ] as const)('%s', { timeout: 120_000 }, async ([name, hand, options]) => {
    const walked = await walk(browser, name, hand, options);
    try {
      await expectReconciled(walked);
      await walked.goOn();
      expect(walked.faults).toEqual([]);
    } finally {
      await walked.close();
    }
  });

  describe('by mouse at a desk', () => {
    let walked: Walked;
    beforeAll(async () => {
      walked = await walk(browser, 'by mouse at a desk', withMouse, { viewport: DESK });
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

    test('the ticket’s photo, the search, the trail and the tags', async () => {
      await walked.page.goto(`${walked.address}/tickets/1`);
      await walked.goOn();
      expect(walked.faults).toEqual([]);
    });
  });
});
