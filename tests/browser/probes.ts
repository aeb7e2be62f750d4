import type { Page } from 'playwright-core';

// What is asked of a page inside the browser. Written as text, because the types of the server know nothing of one.

/** What an element is, short enough for a list of faults. */
const NAME = `const nameOf = (el) => el.outerHTML.replace(/\\s+/g, ' ').slice(0, 110);`;

/**
 * What is pressed or typed into and smaller than a thumb: buttons, links that stand alone, fields; of a tick its label.
 * A link within a sentence is as high as its line, which WCAG 2.5.8 allows.
 * @param least in CSS pixels
 */
export const smallTargets = (page: Page, least: number, within = 'body'): Promise<string[]> =>
  page.evaluate<string[]>(`(() => {
    ${NAME}
    const ticks = '[type=checkbox], [type=radio]';
    const isAlone = (a) => a.textContent.trim() === a.parentElement.textContent.trim() || a.matches('.button, nav a');
    const all = [...document.querySelectorAll('${within} :is(button, summary, select, textarea, input:not([type=hidden]), a[href])')];
    return all
      .filter((el) => el.checkVisibility({ visibilityProperty: true }) && !el.disabled && !el.matches('.skip, .away'))
      .filter((el) => !el.matches('a') || isAlone(el))
      .map((el) => [el, (el.matches(ticks) ? el.closest('label') ?? el : el).getBoundingClientRect()])
      .filter(([, box]) => box.width > 0 && (box.height < ${least} - 0.5 || box.width < ${least} - 0.5))
      .map(([el, box]) => Math.round(box.width) + ' x ' + Math.round(box.height) + ': ' + nameOf(el));
  })()`);

/** What takes the focus of a keyboard without showing it. */
export async function unseenFocus(page: Page): Promise<string[]> {
  // Only after a key does a browser show where the focus is.
  await page.keyboard.press('Tab');
  return page.evaluate<string[]>(`(() => {
    ${NAME}
    const reached = 'a[href], button, summary, select, textarea, input:not([type=hidden]), [tabindex="0"]';
    return [...document.querySelectorAll(reached)]
      .filter((el) => el.checkVisibility({ visibilityProperty: true }) && !el.disabled)
      .filter((el) => {
        el.focus();
        const { outlineStyle, outlineWidth } = getComputedStyle(el);
        return document.activeElement !== el || outlineStyle === 'none' || parseFloat(outlineWidth) < 2;
      })
      .map(nameOf);
  })()`);
}

/** Drawings without a name, or without a sentence that says what they show. */
export const unnamedDrawings = (page: Page): Promise<string[]> =>
  page.evaluate<string[]>(`(() => {
    ${NAME}
    const text = (el, name) => (el.getAttribute(name) ?? '').split(' ').filter(Boolean)
      .map((id) => document.getElementById(id)?.textContent.trim() ?? '').join(' ').trim();
    return [...document.querySelectorAll('svg:not([aria-hidden=true])')]
      .filter((el) => el.getAttribute('role') !== 'img'
        || (text(el, 'aria-labelledby') || el.getAttribute('aria-label') || '').length < 20)
      .map(nameOf);
  })()`);

/** Buttons of one word that stands on several lines. */
export const brokenWords = (page: Page): Promise<string[]> =>
  page.evaluate<string[]>(`[...document.querySelectorAll('button, .button')].flatMap((each) => {
    const text = each.textContent.trim();
    if (text === '' || /\\s/.test(text) || !each.checkVisibility()) return [];
    const lines = document.createRange();
    lines.selectNodeContents(each);
    const tops = new Set([...lines.getClientRects()].filter(({ width }) => width > 0).map(({ top }) => Math.round(top)));
    return tops.size > 1 ? ['breaks the word ' + text] : [];
  })`);

/** How far a page reaches beyond its window, in CSS pixels. */
export const overflow = (page: Page): Promise<number> =>
  page.evaluate<number>('document.documentElement.scrollWidth - window.innerWidth');

/** Text twice as large, as a person sets it in the browser. */
export const doubleText = (page: Page): Promise<unknown> =>
  page.evaluate("document.documentElement.style.fontSize = '200%'");

/** The forms of a page that have something to type or choose and post it, by their place among all forms. */
export const formsToFillIn = (page: Page): Promise<number[]> =>
  page.evaluate<number[]>(`[...document.forms].flatMap((form, at) =>
    form.method === 'post' && [...form.elements].some((el) => el.matches('input:not([type=hidden]), select, textarea')) ? [at] : [])`);

/**
 * Posts a form with nothing in it, past what the browser itself would ask for. @returns whether it is there: a ticket
 * that was taken back by another empty form has fewer
 */
export const postEmpty = (page: Page, at: number): Promise<boolean> =>
  page.evaluate<boolean>(`(() => {
    const form = document.forms[${at}];
    if (!form) return false;
    for (const el of form.elements) {
      if (el.matches('[type=checkbox], [type=radio]')) el.checked = false;
      else if (el.matches('select')) {
        el.prepend(new Option('', ''));
        el.selectedIndex = 0;
      } else if (el.matches('input:not([type=hidden]), textarea')) el.value = '';
    }
    // Only once this has answered, or the page would be gone before.
    setTimeout(() => HTMLFormElement.prototype.submit.call(form), 0);
    return true;
  })()`);

/** What is wrong with the summary of a form that came back: the focus, and each of its links. */
export const summaryFaults = (page: Page): Promise<string[]> =>
  page.evaluate<string[]>(`(async () => {
    const faults = [];
    const summary = document.querySelector('.problems');
    if (!summary) return ['there is no summary'];
    // The browser gives the focus with its next frame, which may come after the page is there.
    for (let waits = 0; waits < 80 && document.activeElement !== summary; waits += 1) {
      await new Promise((done) => setTimeout(done, 25));
    }
    if (document.activeElement !== summary) faults.push('the summary has no focus');
    for (const link of summary.querySelectorAll('a')) {
      const target = document.getElementById(link.hash.slice(1));
      if (!target) { faults.push('no target for ' + link.hash); continue; }
      link.click();
      await new Promise((done) => setTimeout(done, 20));
      if (!document.activeElement || !target.contains(document.activeElement)) faults.push(link.hash + ' does not take the focus');
      else if (!target.checkVisibility()) faults.push(link.hash + ' is out of sight');
    }
    return faults;
  })()`);
