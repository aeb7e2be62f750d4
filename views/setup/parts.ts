import { scaleClasses } from '../../server/setup/compute.ts';
import type { Grade } from '../../server/setup/queries.ts';
import { type Choice, requestKeyField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { trailLink } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';

/** What was just done, on the list that a form led back to. */
export const doneLine = (sentence: string | null, next: SafeHtml | null = null): SafeHtml | null =>
  sentence === null
    ? null
    : html`<p class="saved" role="status">${sentence}${next === null ? null : html` ${next}`}</p>`;

/** Links to the pages before and after this one, if there are any. */
export function pageLinks(path: string, { page, hasNext }: { page: number; hasNext: boolean }): SafeHtml | null {
  if (page === 1 && !hasNext) return null;
  return html`<p class="pages">
  ${page > 1 ? html`<a class="button" href="${path}?page=${page - 1}">Back</a>` : null}
  ${hasNext ? html`<a class="button" href="${path}?page=${page + 1}">More</a>` : null}
</p>`;
}

export const backToSetUp = html`<p class="way-back"><a href="/setup">Set-up</a></p>`;
export const backTo = (path: string, name: string): SafeHtml =>
  html`<p class="way-back"><a href="/setup">Set-up</a> / <a href="${path}">${name}</a></p>`;

/** A weight that describes a scale, with its unit, which the stored text has only when it is not the scale's own. */
export const withUnit = (show: Show, text: string, unit: string): string =>
  `${show.digits(text)}${/[a-z]/i.test(text) ? '' : ` ${unit}`}`;

/** Grades to choose from, under the names of their families. */
export const gradeChoices = (grades: readonly Grade[]): Choice[] =>
  grades.map(({ id, name, family }) => ({ value: String(id), label: name, group: family }));

export const scaleClassChoices: readonly Choice[] = scaleClasses.map((name) => ({
  value: name,
  label: name === 'unmarked' ? 'unmarked (no class on its plate)' : `Class ${name}`,
}));

/** The end of a set-up page: removing what was added by mistake, and its trail. @param path of the page */
export const removalSection = (kind: string, row: { id: number; name: string }, path: string): SafeHtml =>
  html`<section class="no-print"><h2>Added by mistake?</h2>
<p>It can be removed as long as nothing in the ledger uses it. The trail keeps it, so that it can be added again.</p>
<form method="post" action="${path}/removal">${requestKeyField({ typed: {}, problems: {} })}
  <button class="quiet">Remove ${row.name}</button></form>
${trailLink(kind, row.id, `What was done with ${row.name}, and when`)}</section>`;
