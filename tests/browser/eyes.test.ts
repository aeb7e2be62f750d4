import { AxeBuilder } from '@axe-core/playwright';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { findChromium, launch, manyAtOnce, openPage, PHONE, serve } from './chromium.ts';
import { fillCrowded, longCode } from './crowded.ts';
import { type ServedDemo, serveDemo } from './demo.ts';
import { ADDRESSES, getRoutes, isOf, LOOKED_AT, NO_PAGES, REFUSED } from './pages.ts';
import {
  doubleText,
  formsToFillIn,
  overflow,
  postEmpty,
  smallTargets,
  summaryFaults,
  unnamedDrawings,
  unseenFocus,
} from './probes.ts';

const executable = findChromium();
const SMALL = { width: 320, height: 640 };
const WIDE = { width: 1280, height: 800 };
const _SMALL = { width: 320, height: 640 };
/** WCAG 2.2 up to level AA, and what is good practice beyond it. */
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/** What the checker has to say against a page as it stands in a tab. */
async function faultsOf(page: Page, rules: readonly string[] | null = null): Promise<string[]> {
  const runOnly =
    rules === null ? { type: 'tag' as const, values: TAGS } : { type: 'rule' as const, values: [...rules] };
  // Its newer way opens a further tab for each look, to merge frames, of which there are none here.
  const checker = new AxeBuilder({ page }).setLegacyMode();
  const { violations } = await checker.options({ runOnly, rules: { 'target-size': { enabled: true } } }).analyze();
  return violations.flatMap(({ id, nodes }) => nodes.slice(0, 3).map((node) => `${id}: ${node.html.slice(0, 160)}`));
}

const _overflow = (page: Page): Promise<number> =>
  page.evaluate<number>('document.documentElement.scrollWidth - window.innerWidth');

/** Looks at a page on a phone and at a desk, in the light and in the dark; only colours depend on the light. */
async function lookAt(page: Page): Promise<string[]> {
  const found: string[] = [];
  for (const [name, size] of [
    ['phone', PHONE],
    ['desk', WIDE],
  ] as const) {
    await page.setViewportSize(size);
    await page.emulateMedia({ colorScheme: 'light' });
    found.push(...(await faultsOf(page)).map((fault) => `${name}, light: ${fault}`));
    await page.emulateMedia({ colorScheme: 'dark' });
    found.push(...(await faultsOf(page, ['color-contrast'])).map((fault) => `${name}, dark: ${fault}`));
  }
  return found;
}

test('every route that answers with a page is looked at, and every address is one of its route', async () => {
  const site = await serveDemo();
  const routes = getRoutes(site.app);
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
  beforeAll(async () => {
    [browser, site] = await Promise.all([launch(executable as string), serveDemo()]);
    context = await browser.newContext({ viewport: PHONE, bypassCSP: true });
  });
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

  test('can be read and worked by everyone, as far as a checker can tell', async () => {
    const found = await manyAtOnce([...ADDRESSES, ...Object.keys(REFUSED)], async (address) =>
      (await visit(address, lookAt)).map((fault) => `${address} ${fault}`),
    );
    expect(found.flat()).toEqual([]);
  }, 240_000);

  test('is narrow enough for 320 px, a phone and a desk, also with text twice as large', async () => {
    const found = await manyAtOnce(ADDRESSES, (address) =>
      visit(address, async (page) => {
        const wide: string[] = [];
        for (const size of [WIDE, PHONE, SMALL]) {
          await page.setViewportSize(size);
          if ((await overflow(page)) > 0) wide.push(`${address} at ${size.width}`);
        }
        await doubleText(page);
        const over = await overflow(page);
        return over > 0 ? [...wide, `${address} at ${SMALL.width} with double text: ${over}`] : wide;
      }),
    );
    expect(found.flat()).toEqual([]);
  }, 120_000);

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
      const wide: string[] = [];
      for (const size of [WIDE, PHONE, SMALL]) {
        await page.setViewportSize(size);
        if ((await overflow(page)) > 0) wide.push(`${address} at ${size.width}`);
      }
      await page.close();
      return wide;
    });
    await crowded.app.close();
    ledger.db.close();
    expect(found.flat()).toEqual([]);
  }, 60_000);

  test('has targets for thumbs, shows where the focus is, and names its drawings', async () => {
    const found = await manyAtOnce(ADDRESSES, (address) =>
      visit(address, async (page) => {
        const small = await smallTargets(page, 44);
        const small56 = address.startsWith('/weigh-in') ? await smallTargets(page, 56, 'main') : [];
        const faults = [...small, ...small56, ...(await unnamedDrawings(page)), ...(await unseenFocus(page))];
        return faults.map((fault) => `${address} ${fault}`);
      }),
    );
    expect(found.flat()).toEqual([]);
  }, 120_000);

  test('has a title that no other page has', async () => {
    const alone = ADDRESSES.filter((address) => !address.includes('?'));
    const titles = await manyAtOnce(alone, (address) => visit(address, (page) => page.title()));
    const twice = titles.flatMap((title, at) => (titles.indexOf(title) === at ? [] : [`${alone[at]}: ${title}`]));
    expect(twice).toEqual([]);
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

describe.skipIf(executable === null)('every form that comes back with problems', () => {
  let browser: Browser;
  let site: ServedDemo;
  let context: BrowserContext;
  beforeAll(async () => {
    [browser, site] = await Promise.all([launch(executable as string), serveDemo()]);
    context = await browser.newContext({ viewport: PHONE, bypassCSP: true });
  });
  afterAll(async () => {
    await browser?.close();
    await site?.close();
  });

  /** Posts one form of a page empty. Null where that is accepted: a form whose every field may stay empty. */
  async function comesBack(address: string, at: number): Promise<string[] | null> {
    const page = await openPage(context, []);
    await page.goto(site.address + address);
    const [answer] = await Promise.all([
      page.waitForResponse((response) => response.request().method() === 'POST'),
      page.waitForEvent('load'),
      postEmpty(page, at),
    ]);
    const faults = answer.status() === 422 ? [...(await faultsOf(page)), ...(await summaryFaults(page))] : null;
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
  }, 180_000);
});
