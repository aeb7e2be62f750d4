import type { Hit } from '../../server/find/hit.ts';
import type { Found, FoundGroup } from '../../server/find/pages.ts';
import { markWords } from '../../server/find/words.ts';
import type { ListAddresses } from '../../server/web.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

export interface FindPageParts {
  found: Found;
  /** The pages beside this one when one kind stands alone; else null. */
  addresses: ListAddresses | null;
}

/** What was found, in groups, with the words that matched marked. */
export function findPage(show: Show, { found, addresses }: FindPageParts): SafeHtml {
  const { asked, groups } = found;
  const isAlone = addresses !== null;
  return page({
    title: asked === '' ? 'Find' : `Find ${asked.slice(0, 60)}`,
    show,
    body: html`<h1>Find</h1>
<form method="get" action="/find" class="find" role="search" aria-label="Everything">
  <label for="find-q">A code, number, name, day, amount or word of a note</label>
  <div class="find-line"><input id="find-q" name="q" value="${asked}" type="search" maxlength="200" autocomplete="off"
    ${asked === '' ? html`autofocus` : null}><button class="primary">Find</button></div>
</form>
${asked === '' ? examples(show) : null}
${asked !== '' && groups.length === 0 ? nothing(asked) : null}
${groups.map((group) => groupSection(found, group, isAlone))}
${addresses === null ? null : newerAndOlder(addresses, 'finds')}
${isAlone ? html`<p><a href="/find?${new URLSearchParams({ q: asked }).toString()}">Everything with ${asked}</a></p>` : null}`,
  });
}

const examples = (
  show: Show,
): SafeHtml => html`<p class="hint">For example a bin’s code, a ticket’s number, a yard, a day such as
  ${show.day(show.today)}, the total of a ticket, or a word that you wrote into a note.</p>`;

const nothing = (asked: string): SafeHtml => html`<p>Nothing was found for <q>${asked}</q>.</p>
<p class="hint">Looked through: the codes and names of bins, grades, yards, containers, scales and kinds of items; the numbers, lines and notes of
  tickets and manifests; what was said of items; the notes of weighings, recounts, moves and checks; days and totals. Fewer or shorter words find more.</p>`;

function groupSection({ words, asked }: Found, { key, title, hits, more }: FoundGroup, isAlone: boolean): SafeHtml {
  // What is found as a number or a day is that as a whole; there is nothing to mark in it.
  const marked = ['day', 'total'].includes(key) ? [] : words;
  return html`<section class="found" aria-labelledby="found-${key}"><h2 id="found-${key}">${title}</h2>
<ul class="rows">${hits.map((hit) => hitRow(hit, marked))}</ul>
${more === null || isAlone ? null : html`<p><a class="button" href="${more}">All ${title.toLowerCase()} with ${asked.slice(0, 40)}</a></p>`}</section>`;
}

const hitRow = (
  { href, name, facts, text }: Hit,
  words: readonly string[],
): SafeHtml => html`<li><span class="row-main">
  <a class="row-link" href="${href}"><span>${withMarks(name, words)}</span></a>
  ${facts === '' ? null : html`<small>${withMarks(facts, words)}</small>`}
  ${text === '' ? null : html`<small class="below">${withMarks(text, words)}</small>`}</span></li>`;

/** A text with the words that were searched for marked. */
const withMarks = (text: string, words: readonly string[]): SafeHtml =>
  html`${markWords(text, words).map((piece) => (piece.isMatch ? html`<mark>${piece.text}</mark>` : html`${piece.text}`))}`;
