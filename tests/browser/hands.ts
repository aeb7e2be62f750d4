import type { Page } from 'playwright-core';

/**
 * A person's hands on a page: with a mouse, or on the keyboard alone. Fields and buttons are named by selectors; both
 * do the same things in the same order, so one walk serves for both.
 */
export interface Hands {
  page: Page;
  type(selector: string, text: string): Promise<void>;
  /** Chooses an option by the text that it shows. */
  choose(selector: string, label: string): Promise<void>;
  tick(selector: string): Promise<void>;
  /** Presses a button or follows a link, and waits for the page it leads to. */
  press(selector: string): Promise<void>;
  /** Presses a button that changes a part of the page, and waits for that. */
  swap(selector: string): Promise<void>;
}

/** htmx says when it has put the new part in. */
async function swapped(page: Page, act: () => Promise<void>): Promise<void> {
  const done = page.evaluate(
    "new Promise((done) => document.addEventListener('htmx:after:swap', () => done(null), { once: true }))",
  );
  await act();
  await done;
}

async function settled(page: Page, act: () => Promise<void>): Promise<void> {
  await Promise.all([page.waitForEvent('domcontentloaded'), act()]);
  await page.waitForLoadState('load');
}

export const withMouse = (page: Page): Hands => ({
  page,
  async type(selector, text) {
    await page.click(selector);
    await page.fill(selector, text);
  },
  async choose(selector, label) {
    await page.selectOption(selector, { label });
  },
  async tick(selector) {
    await page.click(selector);
  },
  press: (selector) => settled(page, () => page.click(selector)),
  swap: (selector) => swapped(page, () => page.click(selector)),
});

/** With a thumb on a screen. */
export const withThumb = (page: Page): Hands => ({
  page,
  async type(selector, text) {
    await page.tap(selector);
    await page.fill(selector, text);
  },
  async choose(selector, label) {
    await page.tap(selector);
    await page.selectOption(selector, { label });
  },
  tick: (selector) => page.tap(selector),
  press: (selector) => settled(page, () => page.tap(selector)),
  swap: (selector) => swapped(page, () => page.tap(selector)),
});

/** The same hands, and how often they touched something: a field, a tick, a button. */
export function counted(hands: Hands): { hands: Hands; touches: () => number } {
  let touches = 0;
  const counting =
    <Rest extends string[]>(act: (...rest: Rest) => Promise<void>) =>
    (...rest: Rest): Promise<void> => {
      touches += 1;
      return act(...rest);
    };
  const { page, type, choose, tick, press, swap } = hands;
  return {
    hands: {
      page,
      type: counting(type),
      choose: counting(choose),
      tick: counting(tick),
      press: counting(press),
      swap: counting(swap),
    },
    touches: () => touches,
  };
}

/** With a mouse in a browser that runs no scripts: what would swap a part leads to a page instead. */
export const withoutScripts = (page: Page): Hands => ({
  ...withMouse(page),
  swap: (selector) => settled(page, () => page.click(selector)),
});

// What the browser's elements have, as far as it is asked for: the server's types know nothing of a browser.
interface Focusable {
  ownerDocument: { activeElement: unknown };
}
interface Choosable {
  selectedOptions: { label: string }[];
}

const MOST_STOPS = 400;

/** Goes on with Tab until the focus is where it should be. */
async function tabTo(page: Page, selector: string): Promise<void> {
  const isThere = () =>
    page
      .locator(selector)
      .first()
      .evaluate((element: Focusable) => element === element.ownerDocument.activeElement);
  for (let stops = 0; stops < MOST_STOPS; stops += 1) {
    if (await isThere()) return;
    await page.keyboard.press('Tab');
  }
  throw new Error(`the keyboard does not reach ${selector}`);
}

export const withKeyboard = (page: Page): Hands => ({
  page,
  async type(selector, text) {
    await tabTo(page, selector);
    await page.keyboard.press('ControlOrMeta+a');
    await page.keyboard.type(text);
  },
  async choose(selector, label) {
    await tabTo(page, selector);
    const chosen = () => page.locator(selector).evaluate((select: Choosable) => select.selectedOptions[0]?.label);
    await page.keyboard.press('Home');
    for (let stops = 0; stops < MOST_STOPS; stops += 1) {
      if ((await chosen()) === label) return;
      await page.keyboard.press('ArrowDown');
    }
    throw new Error(`${selector} has no option ${label}`);
  },
  async tick(selector) {
    await tabTo(page, selector);
    await page.keyboard.press('Space');
  },
  async press(selector) {
    await tabTo(page, selector);
    await settled(page, () => page.keyboard.press('Enter'));
  },
  async swap(selector) {
    await tabTo(page, selector);
    await swapped(page, () => page.keyboard.press('Enter'));
  },
});
