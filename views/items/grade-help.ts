import type { GradeHelp } from '../../server/items/teardown-queries.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';

/** How a grade is told from others and what spoils it, folded away beside its name; null where nothing is known of it. */
export function gradeHelp({ name, family, recognise, spoiled_by: spoiledBy }: GradeHelp): SafeHtml | null {
  if (recognise === '' && spoiledBy === '') return null;
  return html`<details class="grade-help"><summary>${swatch(family)} ${name}</summary>
  ${recognise === '' ? null : html`<p><b>Told by:</b> ${recognise}</p>`}
  ${spoiledBy === '' ? null : html`<p><b>Spoiled by:</b> ${spoiledBy}</p>`}
</details>`;
}

/** The help for every grade that there is a bin for. */
export function gradeHelps(grades: readonly GradeHelp[]): SafeHtml | null {
  const helps = grades.map(gradeHelp).filter((help) => help !== null);
  if (helps.length === 0) return null;
  return html`<details class="more"><summary>Which grade is it? (${String(helps.length)})</summary>${helps}</details>`;
}
