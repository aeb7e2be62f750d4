import type { ListPage } from '../../server/setup/pages.ts';
import type { Scale } from '../../server/setup/queries.ts';
import {
  choiceField,
  type FormState,
  massUnitChoices,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backTo, backToSetUp, doneLine, pageLinks, scaleClassChoices } from './parts.ts';

export interface ScalesParts {
  list: ListPage<Scale>;
  done: string | null;
  isAdding: boolean;
}

export function scalesPage(show: Show, { list, done, isAdding }: ScalesParts, state: FormState): SafeHtml {
  return page({
    title: 'Scales',
    show,
    body: html`${backToSetUp}<h1>Scales</h1>
<p>Your own scales, as their plates and papers say. What you do not know may stay empty.</p>
${doneLine(done, isAdding ? html`<a href="/setup/yards">Next: yards</a>, or add another scale.` : null)}
<section class="way"><h2>Add a scale</h2>${scaleForm('/setup/scales', 'Add the scale', state, isAdding)}</section>
${list.rows.length === 0 ? null : html`<h2>Scales in this ledger</h2>`}
<ul class="rows">${list.rows.map((scale) => scaleRow(show, scale))}</ul>
${pageLinks('/setup/scales', list)}`,
  });
}

/** A weight of the scale with its unit, which the stored text has only when it is not the scale's own. */
const withUnit = (show: Show, text: string, unit: string) =>
  `${show.digits(text)}${/[a-z]/i.test(text) ? '' : ` ${unit}`}`;

function scaleRow(show: Show, scale: Scale): SafeHtml {
  const facts = [
    scale.division === '' ? null : `shows ${withUnit(show, scale.division, scale.unit)} steps`,
    scale.capacity === '' ? null : `up to ${withUnit(show, scale.capacity, scale.unit)}`,
    scale.class === '' ? null : scale.class === 'unmarked' ? 'no class marked' : `class ${scale.class}`,
    scale.tolerance === '' ? null : `stated ± ${withUnit(show, scale.tolerance, scale.unit)}`,
  ].filter((fact) => fact !== null);
  return html`<li><span class="row-main"><a class="row-link" href="/setup/scales/${scale.id}">${scale.name}</a>
  <small>${facts.length === 0 ? `in ${scale.unit}` : facts.join(' · ')}</small></span></li>`;
}

export const scalePage = (show: Show, scale: Scale, state: FormState): SafeHtml =>
  page({
    title: scale.name,
    show,
    body: html`${backTo('/setup/scales', 'Scales')}<h1>${scale.name}</h1>
${scaleForm(`/setup/scales/${scale.id}`, 'Save', state)}`,
  });

const scaleForm = (action: string, button: string, state: FormState, isFocused = false) =>
  html`<form method="post" action="${action}" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField({ name: 'name', label: 'Name', hint: 'For example: bench scale.', attributes: isFocused ? html`autofocus` : html`` }, state)}
  <div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit it shows', choices: massUnitChoices }, state)}
    ${numberField({ name: 'division', label: 'Smallest step', hint: 'Its division, d or e on its plate; may stay empty.' }, state)}
  </div>
  <div class="pair">
    ${numberField({ name: 'capacity', label: 'Capacity (max)', hint: 'May stay empty.' }, state)}
    ${choiceField({ name: 'class', label: 'Accuracy class', choices: scaleClassChoices, none: 'Not known' }, state)}
  </div>
  ${numberField({ name: 'tolerance', label: 'Stated tolerance, plus or minus', hint: 'What its papers say it may be off by; may stay empty.' }, state)}
  <button class="primary">${button}</button>
</form>`;
