import { AxeBuilder } from '@axe-core/playwright';
import type { Browser, BrowserContext, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { saveContainer, saveScale } from '../../server/setup/acts.ts';
import { binId, gradeId, lb, massIn, newBin, newLedger, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';
import { DESK, findChromium, launch, openPage, PHONE, type Site, serve } from './chromium.ts';
import { withKeyboard, withMouse } from './hands.ts';

// The bench in a real browser: by thumb, with a network that drops, with two phones, by keyboard alone.

const executable = findChromium();
if (executable === null && process.env.CI) throw new Error('There is no Chromium for the browser tests.');

const THUMB: BrowserContextOptions = { viewport: PHONE, hasTouch: true, isMobile: true };
/** A phone's keypad takes about this much of the screen. */
const KEYPAD = 340;

let browser: Browser;
let ledger: Ledger;
let site: Site;
const contexts: BrowserContext[] = [];

async function open(options: BrowserContextOptions, faults: string[] = [], name = 'Phone'): Promise<Page> {
  const context = await browser.newContext(options);
  contexts.push(context);
  await site.admit(context, name);
  return openPage(context, faults);
}

const at = (path: string): string => site.address + path;
const count = (table: string) => ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get();

async function begin(setUp: () => void): Promise<void> {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  saveContainer(ledger, null, { name: 'blue tub', tare_typed: '2.00', tare_ug: lb('2') });
  saveScale(ledger, null, { name: 'bench scale', unit: 'lb', division: '', class: '', tolerance: '', capacity: '' });
  setUp();
  site = await serve(ledger.db);
}

async function end(): Promise<void> {
  for (const context of contexts.splice(0)) await context.close();
  await site.close();
  ledger.db.close();
}

/** Loads a manifest of two bins, so that there is a ticket to enter. @returns the manifest's id */
function loadTwo(): number {
  for (const code of ['CU2', 'WLO']) weighIn(ledger, code, '60');
  const id = draftTwo();
  loadManifest(ledger, id, TODAY, false);
  return id;
}

const draftTwo = (): number =>
  draftManifest(ledger, { yardId: 1, binIds: [binId(ledger, 'CU2'), binId(ledger, 'WLO')], note: '' });

/** Where the focus is: the name or id of a field, or the text of a button; "body" when it is lost. */
const focused = (page: Page): Promise<string> =>
  page.evaluate<string>(
    "(() => { const at = document.activeElement; return at.name || at.id || (at === document.body ? 'body' : at.textContent.trim()); })()",
  );

interface Target {
  what: string;
  top: number;
  bottom: number;
  left: number;
  right: number;
}

/** What a thumb can hit at the bench: a box or a round button is hit through its label. */
const TARGETS = `[...document.querySelectorAll(['.bench', '.recent', '.just-done'].flatMap((part) =>
  ['button', 'a', 'input', 'select', 'textarea', 'summary'].map((kind) => part + ' ' + kind)).join())]
  .filter((each) => each.type !== 'hidden' && !each.matches('.away[tabindex]'))
  .map((each) => (/^(checkbox|radio)$/.test(each.type) ? each.closest('label') : each))
  .filter((each) => each.checkVisibility())
  .map((each) => { const { top, bottom, left, right } = each.getBoundingClientRect();
    return { what: each.outerHTML.slice(0, 60), top, bottom, left, right }; })`;

async function expectThumbSized(page: Page): Promise<void> {
  const targets = await page.evaluate<Target[]>(TARGETS);
  expect(targets.length).toBeGreaterThan(3);
  expect(targets.filter(({ top, bottom }) => bottom - top < 56)).toEqual([]);
  const gap = (a: Target, b: Target) =>
    Math.max(b.top - a.bottom, a.top - b.bottom, b.left - a.right, a.left - b.right);
  const near = targets.flatMap((a, index) =>
    targets.slice(index + 1).flatMap((b) => (gap(a, b) < 7.99 ? [[a.what, b.what, gap(a, b)]] : [])),
  );
  expect(near).toEqual([]);
}

/** Whether the whole of an element is on the screen as it stands. */
async function isOnScreen(page: Page, selector: string): Promise<boolean> {
  const box = await page.locator(selector).first().boundingBox();
  const height = await page.evaluate<number>('window.innerHeight');
  return box !== null && box.y >= 0 && box.y + box.height <= height;
}

/** htmx says when it has put the new part in. */
async function swapped(page: Page, act: () => Promise<unknown>): Promise<void> {
  const done = page.evaluate(
    "new Promise((done) => document.addEventListener('htmx:after:swap', () => setTimeout(done), { once: true }))",
  );
  await act();
  await done;
}

beforeAll(async () => {
  if (executable !== null) browser = await launch(executable);
});
afterAll(() => browser?.close());

describe.skipIf(executable === null)('weighing in by thumb', () => {
  beforeEach(async () => {
    await begin(() => {
      weighIn(ledger, 'CU2', '10');
      weighIn(ledger, 'WLO', '5');
    });
    return end;
  });

  test('takes a tap on the bin, the figures, and a tap on the button, and is ready for the next', async () => {
    const page = await open(THUMB);
    await page.goto(at('/weigh-in'));
    const began = Date.now();
    await page.locator('.pick-tag', { hasText: 'YB1' }).tap();
    expect(await focused(page)).toBe('gross');
    expect(await page.locator('.pick-tag', { hasText: 'CU2' }).isVisible()).toBe(false);
    await swapped(page, () => page.keyboard.type('34,5'));
    await page.getByText('34,5 = 34.5 lb').waitFor();
    expect(await page.textContent('.net')).toBe('34.50');
    await page.locator('.bench button.primary').tap();
    await page.getByText('34.50 lb added. YB1 now holds 34.50 lb.').waitFor();
    expect(Date.now() - began).toBeLessThan(10_000);
    expect(await focused(page)).toBe('gross');
    await page.keyboard.type('12');
    await page.locator('.bench button.primary').tap();
    await page.getByText('12.00 lb added. YB1 now holds 46.50 lb.').waitFor();
    await page.locator('.just-done button').tap();
    await page.getByText('12.00 lb taken back. YB1 now holds 34.50 lb.').waitFor();
    expect(massIn(ledger, 'YB1')).toBe(lb('34.5'));
  });

  test('has the reading and the button on the first screen, and the net above the keypad', async () => {
    const page = await open(THUMB);
    await page.goto(at('/weigh-in?bin=CU2'));
    for (const part of ['[name=gross]', '.bench button.primary'])
      expect([part, await isOnScreen(page, part)]).toEqual([part, true]);
    await page.locator('[name=gross]').fill('12');
    await page.locator('.bench button.primary').tap();
    await page.waitForURL(/done=/);
    await page.setViewportSize({ ...PHONE, height: PHONE.height - KEYPAD });
    await page.locator('[name=gross]').blur();
    await page.evaluate('window.scrollTo(0, 0)');
    await page.locator('[name=gross]').focus();
    await page.keyboard.type('3 lb 7 oz');
    await page.locator('.net').waitFor();
    for (const part of ['[name=gross]', '.net']) expect([part, await isOnScreen(page, part)]).toEqual([part, true]);
  });

  test('every target is at least 56 px high and 8 px from the next one', async () => {
    const page = await open(THUMB);
    for (const path of ['/weigh-in', '/weigh-in?bin=CU2', '/weigh-in?bin=CU2&done=1']) {
      await page.goto(at(path));
      await expectThumbSized(page);
      await page.evaluate("document.querySelector('details.more').open = true");
      await page.evaluate("document.querySelector('.other-bins input').checked = true");
      await expectThumbSized(page);
    }
    await page.evaluate("document.querySelector('[name=gross]').value = '1,2,3'");
    await page.locator('.bench button.primary').tap();
    await page.locator('.bench .problems').waitFor();
    await expectThumbSized(page);
    await page.setViewportSize({ width: 320, height: 640 });
    await expectThumbSized(page);
  });

  test('every text stands out by 7 to 1, in the light and in the dark', async () => {
    const page = await open(THUMB);
    for (const path of ['/weigh-in', '/weigh-in?bin=CU2&done=1']) {
      await page.goto(at(path));
      await page.evaluate("document.querySelector('details.more').open = true");
      for (const colorScheme of ['light', 'dark'] as const) {
        await page.emulateMedia({ colorScheme });
        const { violations } = await new AxeBuilder({ page })
          .include('main')
          .withRules(['color-contrast-enhanced'])
          .analyze();
        const found = violations.flatMap(({ nodes }) => nodes.map(({ html }) => html.slice(0, 80)));
        expect([path, colorScheme, found]).toEqual([path, colorScheme, []]);
      }
    }
  });

  test('with sixty bins and long names of grades it fits from 320 px on, and by keyboard alone it is as quick', async () => {
    ledger.db.sqlite.exec(
      "update grade set name = 'Insulated wire of very low recovery from light strings and Litzendrahtgeflecht' where id = 3",
    );
    for (let index = 1; index <= 55; index += 1)
      newBin(ledger, `BIN${index}`, index % 2 ? 'Yellow brass' : 'Shreddable steel');
    const faults: string[] = [];
    const page = await open({ viewport: DESK }, faults);
    const hands = withKeyboard(page);
    await page.goto(at('/weigh-in?bin=WLO'));
    for (const width of [320, PHONE.width, DESK.width]) {
      await page.setViewportSize({ width, height: 800 });
      for (const checked of [true, false]) {
        await page.locator('.other-bins input').setChecked(checked, { force: true });
        expect(await page.evaluate<number>('document.documentElement.scrollWidth - window.innerWidth')).toBe(0);
      }
    }
    await page.goto(at('/weigh-in?bin=CU2'));
    await hands.tick('.other-bins input');
    await page.keyboard.press('Tab');
    for (const _ of [1, 2]) await page.keyboard.press('ArrowDown');
    expect(await page.evaluate('document.activeElement.value')).toBe('YB1');
    await page.keyboard.press('Enter');
    expect(await focused(page)).toBe('gross');
    await page.keyboard.type('7');
    await hands.press('.bench button.primary');
    expect(massIn(ledger, 'YB1')).toBe(lb('7'));
    expect(faults).toEqual([]);
  });

  test('works without scripts', async () => {
    const page = await open({ ...THUMB, javaScriptEnabled: false });
    await page.goto(at('/weigh-in?bin=CU2'));
    await page.locator('.other-bins').tap();
    await page.locator('.pick-tag', { hasText: 'YB2' }).tap();
    await page.locator('[name=gross]').fill('3.25');
    await page.locator('.bench button.primary').tap();
    await page.getByText('3.25 lb added. YB2 now holds 3.25 lb.').waitFor();
    expect(massIn(ledger, 'YB2')).toBe(lb('3.25'));
  });
});

describe.skipIf(executable === null)('a network that drops', () => {
  beforeEach(async () => {
    await begin(() => {
      weighIn(ledger, 'YB2', '10');
      loadTwo();
    });
    return end;
  });

  const NOTHING_SAVED =
    'No connection to Tarebook. Nothing was saved yet; what you typed is still here. Tap again when this device is back on the home network.';

  test('before the form is sent: it stays with all that was typed, and the next try posts once', async () => {
    const page = await open(THUMB);
    await page.goto(at('/weigh-in?bin=CU2'));
    await page.locator('[name=gross]').fill('34.5');
    await page.context().setOffline(true);
    const before = count('in_weight');
    for (const _ of [1, 2]) {
      await page.evaluate("document.querySelector('.no-connection')?.setAttribute('data-earlier', '')");
      await page.locator('.bench button.primary').tap();
      await page.locator('[role=alert]:not([data-earlier])', { hasText: NOTHING_SAVED }).waitFor();
      expect(await page.locator('.no-connection').count()).toBe(1);
    }
    expect([await page.inputValue('[name=gross]'), page.url()]).toEqual(['34.5', at('/weigh-in?bin=CU2')]);
    expect(await focused(page)).not.toBe('body');
    expect(count('in_weight')).toBe(before);
    await page.context().setOffline(false);
    await page.locator('.bench button.primary').tap();
    await page.getByText('34.50 lb added.').waitFor();
    expect(count('in_weight')).toBe(Number(before) + 1);
  });

  test('Tarebook that does not answer in time is said too, and Enter says it as a tap does', async () => {
    const page = await open({ viewport: DESK });
    await page.goto(at('/weigh-in?bin=CU2'));
    await page.route('**/health', (route) => route.abort('timedout'));
    await page.locator('[name=gross]').fill('34.5');
    await page.keyboard.press('Enter');
    await page.getByText(NOTHING_SAVED).waitFor();
    expect(await focused(page)).toBe('gross');
  });

  test.each([
    ['as it is served', ''],
    ['from pages that no browser keeps', 'no-store'],
  ])(
    'after the form was sent: Back brings it up as it was, and sent again it is saved once, %s',
    async (_, control) => {
      const page = await open(THUMB);
      if (control !== '') {
        await page.route(/weigh-in$/, async (route) => {
          const response = await route.fetch();
          await route.fulfill({ response, headers: { ...response.headers(), 'cache-control': control } });
        });
      }
      await page.goto(at('/weigh-in'));
      await page.locator('.pick-tag', { hasText: 'YB1' }).tap();
      await page.locator('[name=gross]').fill('34.5');
      const lost = page.waitForEvent('requestfailed', (request) => request.method() === 'POST');
      await page.route('**/in-weights', async (route) => {
        await route.fetch({ maxRedirects: 0 });
        await route.abort('connectionreset');
      });
      await page.locator('.bench button.primary').tap();
      await lost;
      expect(massIn(ledger, 'YB1')).toBe(lb('34.5'));
      await page.unroute('**/in-weights');
      await page.waitForURL(/chrome-error|in-weights/);
      await page.goBack();
      await page.getByText('No answer came. What you typed is still here').waitFor();
      expect(await page.inputValue('[name=gross]')).toBe('34.5');
      expect(await page.locator('[name=bin][value=YB1]').isChecked()).toBe(true);
      await page.locator('.bench button.primary').tap();
      await page.getByText('34.50 lb added. YB1 now holds 34.50 lb.').waitFor();
      expect(massIn(ledger, 'YB1')).toBe(lb('34.5'));
    },
  );

  test('two quick taps post once', async () => {
    const page = await open(THUMB);
    await page.goto(at('/weigh-in?bin=CU2'));
    await page.locator('[name=gross]').fill('34.5');
    const before = Number(count('in_weight'));
    let posts = 0;
    page.on('request', (request) => {
      posts += request.method() === 'POST' ? 1 : 0;
    });
    await page.evaluate(
      "document.querySelector('.bench button.primary').click(); document.querySelector('.bench button.primary').click()",
    );
    await page.getByText('34.50 lb added.').waitFor();
    expect([posts, count('in_weight')]).toEqual([1, before + 1]);
  });

  test('a button that changes the lines of a ticket says it too, and works when the network is back', async () => {
    const page = await open({ viewport: DESK });
    await page.goto(at('/tickets/new?manifest=1'));
    await page.context().setOffline(true);
    await page.locator('button[value="split:1"]').click();
    await page.getByText(NOTHING_SAVED).waitFor();
    await page.context().setOffline(false);
    await swapped(page, () => page.locator('button[value="split:1"]').click());
    expect(await page.locator('.no-connection').count()).toBe(0);
    expect(await page.locator('.ticket-line').count()).toBe(3);
  });

  test('the button that was tapped is the one that counts, also after a wait', async () => {
    const page = await open(THUMB);
    await page.goto(at('/in-weights/1/correction'));
    await page.getByText('Take it back entirely').tap();
    await page.getByText('10.00 lb taken back.').waitFor();
  });

  test('a file goes up as before', async () => {
    const page = await open({ viewport: DESK });
    await page.goto(at('/import'));
    await page.locator('select[name=kind]').selectOption('grades');
    const csv = 'name,family,quoted_per,code\nClean zinc,lead and zinc,lb,\n';
    await page
      .locator('input[type=file]')
      .setInputFiles({ name: 'grades.csv', mimeType: 'text/csv', buffer: Buffer.from(csv) });
    await page.locator('main form button').first().click();
    await page.waitForLoadState('load');
    await page.getByText('1 grade').first().waitFor();
  });
});

describe.skipIf(executable === null)('a ticket half typed', () => {
  beforeEach(async () => {
    await begin(loadTwo);
    return end;
  });

  const STILL_HERE = /What you typed on \d+ \w{3}, \d\d:\d\d is still on this device\./;
  const kept = (page: Page) =>
    page.evaluate<string[]>(
      "Object.keys(localStorage).filter((name) => name.startsWith('tarebook-draft')).map((name) => localStorage.getItem(name))",
    );

  async function typeHalf(page: Page): Promise<void> {
    const hands = withMouse(page);
    await page.goto(at('/tickets/new?manifest=1'));
    await hands.type('[name=number]', '70011');
    await hands.swap('button[value="split:1"]');
    await hands.type('[name=gross-2]', '10.5');
    await page.locator('[name=loads-3]:checked').setChecked(false);
    await expect.poll(() => kept(page).then((drafts) => drafts[0]?.includes('10.5'))).toBe(true);
    await page.waitForTimeout(400);
  }

  test('is offered when the form is opened again, lines and all, and never put in by itself', async () => {
    const page = await open(THUMB);
    await typeHalf(page);
    expect((await kept(page))[0]).not.toMatch(/requestKey|formToken/);
    await page.close();

    const later = await openPage(contexts.at(-1) as BrowserContext, []);
    await later.goto(at('/tickets/new?manifest=1'));
    await later.getByText(STILL_HERE).waitFor();
    expect([await later.inputValue('[name=number]'), await later.locator('.ticket-line').count()]).toEqual(['', 2]);
    await later.context().setOffline(true);
    await later.getByText('Go on with it').tap();
    await later.getByText('No connection to Tarebook. What you typed is still on this device.').waitFor();
    await later.context().setOffline(false);
    await later.getByText('Go on with it').tap();
    await expect.poll(() => later.locator('.ticket-line').count()).toBe(3);
    expect([await later.inputValue('[name=number]'), await later.inputValue('[name=gross-2]')]).toEqual([
      '70011',
      '10.5',
    ]);
    expect(await later.locator('[name=loads-3]:checked').count()).toBe(0);
    expect(await later.locator('[name=loads-1]:checked').count()).toBe(1);
    expect(await focused(later)).toBe('number');
    expect(await later.locator('.draft-offer').count()).toBe(0);
    expect(later.url()).toBe(at('/tickets/new?manifest=1'));
  });

  test('is gone once the person leaves it', async () => {
    const page = await open(THUMB);
    await typeHalf(page);
    await page.goto(at('/tickets/new?manifest=1'));
    await page.getByText('Start afresh').tap();
    expect([await kept(page), await focused(page)]).toEqual([[], 'number']);
    await page.reload();
    expect(await page.locator('.draft-offer').count()).toBe(0);
  });

  test('is not run over by a second one, and the older is offered after the newer', async () => {
    const page = await open(THUMB);
    await typeHalf(page);
    await page.goto(at('/tickets/new?manifest=1'));
    await page.locator('[name=number]').fill('second');
    await expect.poll(() => kept(page).then((drafts) => drafts.length)).toBe(2);
    await page.goto(at('/tickets/new?manifest=1'));
    await page.getByText('Start afresh').tap();
    await page.getByText(STILL_HERE).waitFor();
    await page.getByText('Go on with it').tap();
    await expect.poll(() => page.inputValue('[name=number]')).toBe('70011');
  });

  test('is taken away once the ticket is saved, by way of the check page', async () => {
    const page = await open({ viewport: DESK });
    const hands = withMouse(page);
    await page.goto(at('/tickets/new?manifest=1'));
    await hands.type('[name=number]', '70011');
    for (const line of [1, 2]) {
      await hands.type(`[name=gross-${line}]`, '60');
      await hands.type(`[name=price-${line}]`, '1');
    }
    await hands.type('[name=total]', '120');
    await hands.press('main form .acts button.primary');
    expect(await kept(page)).toHaveLength(1);
    await hands.press('button[value=back]');
    expect(await page.locator('.draft-offer').count()).toBe(0);
    await hands.press('main form .acts button.primary');
    await await hands.press('#save-ticket button.primary');
    expect(new URL(page.url()).pathname).toBe('/tickets/1');
    expect(await kept(page)).toEqual([]);
    await page.goto(at('/tickets/1/replacement'));
    await page.locator('[name=reason]').fill('misread');
    await expect.poll(() => kept(page).then((drafts) => drafts.length)).toBe(1);
    await page.goto(at('/tickets/1/replacement'));
    await page.getByText(STILL_HERE).waitFor();
  });

  test('that is sixty days old is cleared away, wherever the person goes', async () => {
    const page = await open(THUMB);
    await page.goto(at('/'));
    const old = Date.now() - 61 * 24 * 3600 * 1000;
    await page.evaluate(
      `localStorage.setItem('tarebook-draft:ticket-of-manifest-1:x', JSON.stringify({ at: ${old}, fields: [['number', '1']] }))`,
    );
    await page.evaluate("localStorage.setItem('tarebook-draft:ticket-of-manifest-1:y', 'no draft at all')");
    await page.goto(at('/weigh-in'));
    expect(await kept(page)).toEqual([]);
  });

  test('on a device that keeps nothing is simply not kept, and nothing breaks', async () => {
    const faults: string[] = [];
    const page = await open({ viewport: DESK }, faults);
    await page.addInitScript(`for (const name of ['localStorage', 'sessionStorage'])
      Object.defineProperty(window, name, { get() { throw new DOMException('blocked', 'SecurityError'); } })`);
    const hands = withMouse(page);
    await page.goto(at('/tickets/new?manifest=1'));
    await hands.type('[name=number]', '70011');
    await hands.swap('button[value="split:1"]');
    await page.waitForTimeout(400);
    expect([await page.inputValue('[name=number]'), faults]).toEqual(['70011', []]);
    await page.goto(at('/weigh-in?bin=CU2'));
    await hands.type('[name=gross]', '3');
    await hands.press('.bench button.primary');
    expect([massIn(ledger, 'CU2'), faults]).toEqual([lb('3'), []]);
  });
});

describe.skipIf(executable === null)('two phones with one draft', () => {
  beforeEach(async () => {
    await begin(() => {
      for (const code of ['CU2', 'WLO']) weighIn(ledger, code, '60');
      draftTwo();
    });
    return end;
  });

  test('the second sees both versions, keeps its own by sending again, and other loads are merged', async () => {
    const [first, second] = [await open(THUMB, [], 'Kitchen phone'), await open(THUMB, [], 'Garage phone')];
    for (const page of [first, second]) await page.goto(at('/manifests/1'));
    await first.locator('[name=gross-1]').fill('35.0');
    await first.locator('[name=gross-2]').fill('20');
    await first.getByRole('button', { name: 'Save weights' }).last().tap();
    await first.getByText('The weights are saved.').waitFor();

    await second.locator('[name=gross-1]').fill('41.5');
    await second.getByRole('button', { name: 'Save weights' }).last().tap();
    await second.getByText('Meanwhile on Kitchen phone: 35.0 lb.').waitFor();
    expect([await second.inputValue('[name=gross-1]'), await second.inputValue('[name=gross-2]')]).toEqual([
      '41.5',
      '20',
    ]);
    await second.getByRole('button', { name: 'Save weights' }).last().tap();
    await second.getByText('The weights are saved.').waitFor();
    expect(loadsOf(ledger.db, 1).map(({ gross_typed }) => gross_typed)).toEqual(['41.5', '20']);
  });
});

describe.skipIf(executable === null)('a part of the page put in anew', () => {
  beforeEach(async () => {
    await begin(() => {
      loadTwo();
      weighIn(ledger, 'YB1', '12');
      weighIn(ledger, 'CU2', '12');
      draftManifest(ledger, { yardId: 1, binIds: [binId(ledger, 'CU2')], note: '' });
    });
    return end;
  });

  /** Does something that swaps a part, by keyboard, and says where the focus is then; the address never changes. */
  async function after(page: Page, act: () => Promise<unknown>): Promise<string> {
    const before = [page.url(), await page.evaluate('history.length')];
    await swapped(page, act);
    expect([page.url(), await page.evaluate('history.length')]).toEqual(before);
    return focused(page);
  }

  const choose = (page: Page, selector: string, value: string) => async () => {
    await page.locator(selector).focus();
    await page.locator(selector).selectOption(value);
  };
  const press =
    (page: Page, selector: string, key = 'Enter') =>
    async () => {
      await page.locator(selector).focus();
      await page.keyboard.press(key);
    };

  test('the lines of a ticket: the focus goes to the line in question, and Back leaves the form', async () => {
    const page = await open({ viewport: DESK });
    await page.goto(at('/manifests/1'));
    await page.goto(at('/tickets/new?manifest=1'));
    const change = (value: string) => after(page, press(page, `button[name=change][value="${value}"]`));
    expect(await change('split:1')).toBe('gross-2');
    expect(await change('join:2')).toBe('gross-1');
    expect(await change('add')).toBe('paidAs-3');
    expect(await change('remove:1')).toBe('change');
    expect(await change('remove:2')).toBe('Line 2 is taken off.');
    expect(
      await after(page, async () => {
        await page.locator('[name=gross-1]').fill('12');
        await page.keyboard.press('Tab');
      }),
    ).toBe('tare-1');
    await page.goBack();
    expect(page.url()).toBe(at('/manifests/1'));
    await page.goForward();
    expect(await page.locator('#ticket-form').count()).toBe(1);
  });

  test('the bins of a new manifest: the focus stays at the yard and at the tick', async () => {
    const page = await open({ viewport: DESK });
    await page.goto(at('/manifests'));
    await page.goto(at('/manifests/new'));
    expect(await after(page, press(page, '[name=bins] >> nth=0', 'Space'))).toBe('bins');
    await page.goto(at('/manifests/new'));
    await after(page, choose(page, '[name=yard]', ''));
    expect(await after(page, choose(page, '[name=yard]', '1'))).toBe('yard');
    await page.goBack();
    expect(page.url()).toBe(at('/manifests'));
  });

  test('what was understood at the bench and on a draft: the focus stays in the field', async () => {
    const page = await open({ viewport: DESK });
    const asked: string[] = [];
    page.on('request', (request) => asked.push(request.url()));
    for (const [path, name] of [
      ['/weigh-in?bin=CU2', 'gross'],
      ['/in-weights/1/correction', 'gross'],
      ['/manifests/2', 'gross-3'],
    ] as const) {
      await page.goto(at(path));
      await page.waitForLoadState('networkidle');
      const typing = async () => {
        await page.locator(`[name=${name}]`).focus();
        await page.keyboard.type('7');
      };
      expect([path, await after(page, typing)]).toEqual([path, name]);
    }
    expect(asked.some((url) => url.includes('/understood?'))).toBe(true);
    expect(asked.filter((url) => /requestKey|formToken/.test(url))).toEqual([]);
  });

  test('the price board and the filters of reports keep no part of their own, and Back leads where one was', async () => {
    const page = await open({ viewport: DESK });
    const hands = withKeyboard(page);
    const grade = gradeId(ledger, 'No. 2 copper');
    await page.goto(at('/prices/board?yard=1'));
    await hands.type(`[name=price-${grade}]`, '3,60');
    await hands.press('form[action="/prices/boards"] button.primary');
    expect(await page.textContent('main')).toContain('3.60');
    await page.goto(at('/reports/shrinkage'));
    expect(await page.locator('[hx-get], [hx-post]').count()).toBe(0);
    await page.goBack();
    expect(await page.textContent('main')).toContain('3.60');
  });
});
