import { AxeBuilder } from '@axe-core/playwright';
import type { Page } from 'playwright-core';
import { DESK, PHONE } from './chromium.ts';

/** WCAG 2.2 up to level AA, and what is good practice beyond it. */
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/**
 * What the checker has to say against a page as it stands in a tab, whose context lets its script in (bypassCSP).
 * @param rules only these; without them every rule of the tags above
 */
export async function faultsOf(page: Page, rules: readonly string[] | null = null): Promise<string[]> {
  const runOnly =
    rules === null ? { type: 'tag' as const, values: TAGS } : { type: 'rule' as const, values: [...rules] };
  // Its newer way opens a further tab for each look, to merge frames, of which there are none here.
  const checker = new AxeBuilder({ page }).setLegacyMode();
  const { violations } = await checker.options({ runOnly, rules: { 'target-size': { enabled: true } } }).analyze();
  return violations.flatMap(({ id, nodes }) => nodes.slice(0, 3).map((node) => `${id}: ${node.html.slice(0, 160)}`));
}

/** The same on a phone and at a desk, in the light and in the dark; only colours depend on the light. */
export async function faultsEverywhere(page: Page): Promise<string[]> {
  const found: string[] = [];
  for (const [name, size] of [
    ['desk', DESK],
    ['phone', PHONE],
  ] as const) {
    await page.setViewportSize(size);
    await page.emulateMedia({ colorScheme: 'dark' });
    found.push(...(await faultsOf(page, ['color-contrast'])).map((fault) => `${name}, dark: ${fault}`));
    await page.emulateMedia({ colorScheme: 'light' });
    found.push(...(await faultsOf(page)).map((fault) => `${name}, light: ${fault}`));
  }
  return found;
}
