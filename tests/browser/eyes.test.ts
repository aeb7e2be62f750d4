import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { faultsEverywhere, faultsOf } from './checker.ts';
import { findChromium, launch, manyAtOnce, PHONE, serve } from './chromium.ts';
import { fillCrowded, longCode } from './crowded.ts';
import { type ServedDemo, serveDemo } from './demo.ts';
import { ADDRESSES, getRoutes, isOf, LOOKED_AT, NO_PAGES, REFUSED } from './pages.ts';
import {
  brokenWords,
  doubleText,
  overflow,
  smallTargets,
  summaryFaults,
  unnamedDrawings,
  unseenFocus,
} from './probes.ts';

const executable = findChromium();
const SMALL = { width: 320, height: 640 };
const WIDE = { width: 1280, height: 800 };

/** Everything that is asked of one page, in one visit: opening it costs more than asking. */
interface Look {
  address: string;
  title: string;
  /** What the checker says. */
  checked: string[];
  /** Targets, focus and drawings. */
  worked: string[];
  /** Where it is wider than its window. */
  wide: string[];
}

async function tooWide(page: Page): Promise<string[]> {
  const wide: string[] = [];
  for (const size of [WIDE, PHONE, SMALL]) {
    await page.setViewportSize(size);
    if ((await overflow(page)) > 0) wide.push(`at ${size.width} px`);
    wide.push(...(await brokenWords(page)).map((fault) => `${fault} at ${size.width} px`));
  }
  return wide;
}

async function lookAt(page: Page, address: string): Promise<Look> {
  const checked = await faultsEverywhere(page);
  const small = await smallTargets(page, 44);
  const forGloves = isOf('/weigh-in', address) ? await smallTargets(page, 56, 'main') : [];
  const worked = [...small, ...forGloves, ...(await unnamedDrawings(page)), ...(await unseenFocus(page))];
  const wide = await tooWide(page);
  await doubleText(page);
  if ((await overflow(page)) > 0) wide.push('at 320 px with double text');
  return { address, title: await page.title(), checked, worked, wide };
}

test('every route that answers with a page is looked at, and every address is one of its route', async () => {
  const site = await serveDemo();
  const routes = getRoutes(site.routes());
  await site.close();
  expect(routes.filter((route) => !(route in LOOKED_AT) && !NO_PAGES.includes(route))).toEqual([]);
  expect([...Object.keys(LOOKED_AT), ...NO_PAGES].filter((route) => !routes.includes(route))).toEqual([]);
  const strays = Object.entries(LOOKED_AT).flatMap(([route, looks]) => looks.filter((look) => !isOf(route, look)));
  expect(strays).toEqual([]);
});

describe.skipIf(executable === null)('every page', () => {
  let browser: Browser;
  let site: ServedDemo;
  /** The checker puts its script into the page, which the content policy would block. */
  let context: BrowserContext;
  let looks: Look[];
  beforeAll(async () => {
    [browser, site] = await Promise.all([launch(executable as string), serveDemo()]);
    context = await browser.newContext({ viewport: PHONE, bypassCSP: true });
    await site.admit(context);
    looks = await manyAtOnce(ADDRESSES, (address) => visit(address, (page) => lookAt(page, address)));
  }, 600_000);
  afterAll(async () => {
    await browser?.close();
    await site?.close();
  });

  async function visit<Result>(address: string, look: (page: Page) => Promise<Result>): Promise<Result> {
    const page = await context.newPage();
    const answer = await page.goto(site.address + address);
    expect([address, answer?.status()]).toEqual([address, REFUSED[address] ?? 200]);
    const seen = await look(page);
    await page.close();
    return seen;
  }

  const all = (faultsIn: (look: Look) => readonly string[]): string[] =>
    looks.flatMap((look) => faultsIn(look).map((fault) => `${look.address} ${fault}`));

  test('can be read and worked by everyone, as far as a checker can tell', () => {
    expect(looks).toHaveLength(ADDRESSES.length);
    expect(all(({ checked }) => checked)).toEqual([]);
  });

  test('that says why it is not there can be read by everyone too', async () => {
    const found = await manyAtOnce(Object.keys(REFUSED), (address) => visit(address, faultsEverywhere));
    expect(found.flat()).toEqual([]);
  }, 60_000);

  test('is narrow enough for 320 px, a phone and a desk, also with text twice as large', () => {
    expect(all(({ wide }) => wide)).toEqual([]);
  });

  test('has targets for thumbs, shows where the focus is, and names its drawings', () => {
    expect(all(({ worked }) => worked)).toEqual([]);
  });

  test('has a title that no other page has', () => {
    const alone = looks.filter(({ address }) => !address.includes('?'));
    const titles = alone.map(({ title }) => title);
    expect(titles.filter((title, at) => titles.indexOf(title) !== at)).toEqual([]);
  });

  test('holds names and notes as long as they may be on a small phone, a phone and a desk', async () => {
    const { ledger, manifestId, ticketId } = fillCrowded();
    const crowded = await serve(ledger.db);
    const code = longCode(0);
    const addresses = [
      ...['/', '/prices', '/manifests', '/tickets', '/reports', '/setup/grades', '/setup/bins', '/setup/containers'],
      ...[`/weigh-in?bin=${code}`, `/bins/${code}`, '/prices/board?yard=1', '/prices/grades/1', '/setup/yards/1'],
      ...[`/manifests/${manifestId}`, `/manifests/${manifestId}/sheet`, '/manifests/new?yard=1', '/setup/tags'],
      ...[`/tickets/${ticketId}`, `/tickets/${ticketId}/replacement`, '/reports/realised-prices', '/reports/scales'],
    ];
    const found = await manyAtOnce(addresses, async (address) => {
      const page = await context.newPage();
      await page.goto(crowded.address + address);
      const wide = await tooWide(page);
      await page.close();
      return wide.map((fault) => `${address} ${fault}`);
    });
    await crowded.close();
    ledger.db.close();
    expect(found.flat()).toEqual([]);
  }, 60_000);

  test('has figures to read at arm’s length where material is weighed in: 7 to 1', async () => {
    const found = await manyAtOnce(
      ADDRESSES.filter((address) => isOf('/weigh-in', address)),
      (address) =>
        visit(address, async (page) => {
          const light = await faultsOf(page, ['color-contrast-enhanced']);
          await page.emulateMedia({ colorScheme: 'dark' });
          return [...light, ...(await faultsOf(page, ['color-contrast-enhanced']))];
        }),
    );
    expect(found.length).toBeGreaterThan(0);
    expect(found.flat()).toEqual([]);
  }, 60_000);

  test('has drawings and patterns in the colours that a person has set', async () => {
    const shown = await visit('/tickets/6', async (page) => {
      await page.emulateMedia({ forcedColors: 'active', colorScheme: 'dark' });
      return page.evaluate<string[]>(`(() => {
        const probe = document.querySelector('main').appendChild(document.createElement('p'));
        probe.style.cssText = 'background: Canvas; color: CanvasText; forced-color-adjust: none';
        const { backgroundColor, color } = getComputedStyle(probe);
        const bar = getComputedStyle(document.querySelector('.chart-total')).fill;
        return [backgroundColor, color, bar];
      })()`);
    });
    expect(shown[2]).toBe(shown[1]);
    expect(shown[0]).not.toBe(shown[1]);
    const swatches = await visit('/', async (page) => {
      await page.emulateMedia({ forcedColors: 'active', colorScheme: 'dark' });
      return page.evaluate<string[]>(
        `[...document.querySelectorAll('.swatch-copper, .swatch-ferrous')].map((el) => getComputedStyle(el)).map((seen) => seen.backgroundColor + seen.backgroundImage)`,
      );
    });
    expect(swatches.length).toBeGreaterThan(1);
    expect(swatches.filter((seen) => !seen.includes(shown[1] ?? ''))).toEqual([]);
  });

  test('that was not shown as asked leads from its summary to the choice', async () => {
    const asked = Object.keys(REFUSED).filter((address) => REFUSED[address] === 422);
    const found = await manyAtOnce(asked, (address) => visit(address, summaryFaults));
    expect(found).toEqual(asked.map(() => []));
  });

  test('the checker and the probes find what is planted', async () => {
    const found = await visit('/setup', async (page) => {
      await page.evaluate(
        `document.querySelector('main').insertAdjacentHTML('beforeend', '<input style="width:20px;outline:none"><svg role="img"></svg><div style="color:#ccc;background:#fff;width:4000px">pale</div>')`,
      );
      const [checked, small, unnamed] = [
        await faultsOf(page),
        await smallTargets(page, 44),
        await unnamedDrawings(page),
      ];
      return { checked, small, unnamed, over: await overflow(page), unseen: await unseenFocus(page) };
    });
    expect(found.checked.join()).toMatch(/color-contrast.*label|label.*color-contrast/s);
    expect([found.small.length, found.unnamed.length, found.unseen.length]).toEqual([1, 1, 1]);
    expect(found.over).toBeGreaterThan(3000);
  });
});
