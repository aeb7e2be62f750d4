import type { FamilyGroup } from '../../server/ledger/families.ts';
import type { ListPage } from '../../server/setup/pages.ts';
import type { Grade, Yard } from '../../server/setup/queries.ts';
import {
  choiceField,
  type FormState,
  hiddenField,
  massUnitChoices,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backTo, backToSetUp, doneLine, pageLinks, removalSection, scaleClassChoices } from './parts.ts';
import { type YardScalesParts, yardScaleDone, yardScalesSection } from './yard-scales.ts';

export interface YardsParts {
  list: ListPage<Yard>;
  done: string | null;
  /** Id of the yard that was just added. */
  added: string | null;
}

/** What one yard calls the grades. */
export interface YardNames {
  families: FamilyGroup<Grade>[];
  page: number;
  hasNext: boolean;
  state: FormState;
  isSaved: boolean;
}

export function yardsPage(show: Show, { list, done, added }: YardsParts, state: FormState): SafeHtml {
  const next =
    added === null
      ? null
      : html`Next: <a href="/prices/board?yard=${added}">type its price board</a>, or add another yard.`;
  return page({
    title: 'Yards',
    show,
    body: html`${backToSetUp}<h1>Yards</h1>
<p>Who buys your material.</p>
${doneLine(done, next)}
${list.rows.length === 0 ? null : html`<ul class="rows">${list.rows.map((yard) => yardRow(show, yard))}</ul>`}
${pageLinks('/setup/yards', list)}
<section class="way"><h2>Add a yard</h2>${yardForm('/setup/yards', 'Add the yard', state)}</section>`,
  });
}

const yardRow = (show: Show, yard: Yard) => html`<li><span class="row-main">
  <a class="row-link" href="/setup/yards/${yard.id}">${yard.name}</a>
  <small>tickets in ${yard.unit} · cash to ${show.money(yard.cash_step_minor)}</small></span>
  <a class="button" href="/prices/board?yard=${yard.id}">Price board</a></li>`;

export interface YardParts {
  yard: Yard;
  change: FormState;
  names: YardNames;
  scales: YardScalesParts;
}

export function yardPage(show: Show, { yard, change, names, scales }: YardParts): SafeHtml {
  return page({
    title: yard.name,
    show,
    body: html`${backTo('/setup/yards', 'Yards')}<h1>${yard.name}</h1>
${doneLine(names.isSaved ? 'Its names for the grades are saved.' : null)}${yardScaleDone(scales)}
<p class="acts"><a class="button" href="/prices/board?yard=${yard.id}">Type its price board</a></p>
<div class="ways">
<div class="column"><section class="way"><h2>The yard</h2>${yardForm(`/setup/yards/${yard.id}`, 'Save', change)}</section>
${yardScalesSection(show, scales)}</div>
${namesForm(yard, names)}
</div>
${removalSection('yard', yard, `/setup/yards/${yard.id}`)}`,
  });
}

const yardForm = (
  action: string,
  button: string,
  state: FormState,
) => html`<form method="post" action="${action}" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField({ name: 'name', label: 'Name' }, state)}
  <div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit of its tickets', choices: massUnitChoices }, state)}
    ${numberField({ name: 'cashStep', label: 'Cash rounded to', hint: 'The smallest coin it pays: 0.05 in Canada.' }, state)}
  </div>
  <div class="pair">
    ${numberField({ name: 'scaleDivision', label: 'Its scale: step', hint: 'In the unit of its tickets; may stay empty.' }, state)}
    ${choiceField({ name: 'scaleClass', label: 'Its scale: class', choices: scaleClassChoices, none: 'Not known' }, state)}
  </div>
  <p class="hint">Step and class decide what a difference of the two scales can mean. Without them it stays unsaid.</p>
  ${noteField({ name: 'notes', label: 'Notes', hint: 'Opening hours, how it pays, what to bring.' }, state)}
  <button class="primary">${button}</button>
</form>`;

function namesForm(yard: Yard, { families, page: at, hasNext, state }: YardNames): SafeHtml {
  return html`<section class="way" id="names"><h2>Its own names for grades</h2>
<p>As its price board and tickets print them; the printed sheet shows them beside yours. Leave empty where it says the
  same.</p>
${families.length === 0 ? html`<p>There is no grade yet. <a href="/setup/grades">Begin with the grades</a>.</p>` : null}
<form method="post" action="/setup/yards/${yard.id}/grade-names" data-till>
  ${problemSummary(state)}${requestKeyField(state)}${hiddenField('page', String(at))}
  ${families.map((family) => familyNames(family, state))}
  ${families.length === 0 ? null : html`<button>Save the names</button>`}
</form>
${pageLinks(`/setup/yards/${yard.id}`, { page: at, hasNext })}</section>`;
}

function familyNames({ family, rows }: FamilyGroup<Grade>, state: FormState): SafeHtml {
  const named = rows.filter(({ id }) => (state.typed[`name-${id}`] ?? '') !== '').length;
  const isOpen = rows.some(({ id }) => state.problems[`name-${id}`] !== undefined);
  return html`<details ${isOpen ? html`open` : null}><summary>${swatch(family)}&nbsp;${family}${named === 0 ? '' : ` (${named} named)`}</summary>
  ${rows.map(({ id, name }) => textField({ name: `name-${id}`, label: name }, state))}
</details>`;
}
