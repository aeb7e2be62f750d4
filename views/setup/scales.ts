import type { Typed } from '../../server/reading.ts';
import { isCheckDue, type LastCheck, type NewestCheck, unsettledCheck } from '../../server/scales/due.ts';
import type { ScaleChecks } from '../../server/scales/pages.ts';
import { traitsOf } from '../../server/scales/tolerance.ts';
import type { ListPage } from '../../server/setup/pages.ts';
import type { Scale } from '../../server/setup/queries.ts';
import {
  choiceField,
  type FormState,
  massUnitChoices,
  noProblems,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { failedTexts } from './check-words.ts';
import { backTo, backToSetUp, doneLine, pageLinks, removalSection, scaleClassChoices, withUnit } from './parts.ts';
import { addedLine, checkForm, checksFound } from './scale-checks.ts';

export interface ScalesParts {
  list: ListPage<Scale>;
  /** When each was last checked, by its id. */
  lastChecks: ReadonlyMap<number, LastCheck & NewestCheck>;
  done: string | null;
  isAdding: boolean;
}

export function scalesPage(show: Show, parts: ScalesParts, state: FormState): SafeHtml {
  const { list, done, isAdding } = parts;
  return page({
    title: 'Scales',
    show,
    body: html`${backToSetUp}<h1>Scales</h1>
<p>Your own scales, as their plates and papers say. What you do not know may stay empty.</p>
${doneLine(done, isAdding ? html`<a href="/setup/yards">Next: yards</a>, or add another scale.` : null)}
<section class="way"><h2>Add a scale</h2>${scaleForm('/setup/scales', 'Add the scale', state, isAdding)}</section>
${list.rows.length === 0 ? null : html`<h2>Scales in this ledger</h2>`}
<ul class="rows">${list.rows.map((scale) => scaleRow(show, scale, parts.lastChecks.get(scale.id)))}</ul>
${pageLinks('/setup/scales', list)}`,
  });
}

/** What its plate and papers say, as far as it is known. */
function factsOf(show: Show, scale: Scale): string {
  const facts = [
    scale.division === '' ? null : `shows ${withUnit(show, scale.division, scale.unit)} steps`,
    scale.capacity === '' ? null : `up to ${withUnit(show, scale.capacity, scale.unit)}`,
    scale.class === '' ? null : scale.class === 'unmarked' ? 'no class marked' : `class ${scale.class}`,
    scale.tolerance === '' ? null : `stated ± ${withUnit(show, scale.tolerance, scale.unit)}`,
  ].filter((fact) => fact !== null);
  return facts.length === 0 ? `in ${scale.unit}` : facts.join(' · ');
}

/** "last checked 8 Mar 2025, 12 days ago", and whether it is time to check it again. */
function lastCheckText(show: Show, scale: Scale, last: LastCheck & NewestCheck): SafeHtml {
  const { last_checked_on: day } = last;
  const text = day === null ? 'not checked yet' : `last checked ${show.day(day)}, ${show.age(day)}`;
  const failed = unsettledCheck(traitsOf(scale), last);
  if (failed !== null) {
    return html`${text}: <span class="stale">${failedTexts(show, scale, failed).found}, more than its tolerance</span>`;
  }
  return isCheckDue(last, show.today, show.settings.scaleCheckDays)
    ? html`${text} · <span class="stale">a check is due</span>`
    : html`${text}`;
}

const scaleRow = (
  show: Show,
  scale: Scale,
  last: (LastCheck & NewestCheck) | undefined,
): SafeHtml => html`<li><span class="row-main">
  <a class="row-link" href="/setup/scales/${scale.id}">${scale.name}</a>
  <small>${factsOf(show, scale)}</small>
  ${last === undefined ? null : html`<small>${lastCheckText(show, scale, last)}</small>`}</span>
  <a class="button" href="/setup/scales/${scale.id}#check" aria-label="Check ${scale.name}">Check</a></li>`;

export interface ScaleParts {
  scale: Scale;
  checks: ScaleChecks;
  /** The scale as its form would have been typed. */
  change: Typed;
}

/** A form of the page that came back with problems. */
export interface ScalePageForms {
  change?: FormState;
  check?: FormState;
  undo?: FormState;
}

/** One scale: what is known of it, and its checks with a known weight. */
export function scalePage(show: Show, { scale, checks, change }: ScaleParts, forms: ScalePageForms = {}): SafeHtml {
  const last = { added_on: scale.added_on, ...checks.newest };
  return page({
    title: scale.name,
    show,
    body: html`${backTo('/setup/scales', 'Scales')}<div class="head"><h1>${scale.name}</h1>
<p class="hint">${factsOf(show, scale)}<br>${lastCheckText(show, scale, last)}</p></div>
${addedLine(show, scale, checks)}
${forms.undo === undefined ? null : problemSummary(forms.undo)}
<div class="ways">
<section class="way no-print" id="check"><h2>Check it with a known weight</h2>
${checkForm(show, scale, { ...(forms.check ?? noProblems(checks.starting)), idPrefix: 'check-' })}</section>
<section class="way no-print" id="scale"><h2>The scale</h2>
${scaleForm(`/setup/scales/${scale.id}`, 'Save', forms.change ?? noProblems(change))}</section>
</div>
${checksFound(show, scale, checks)}
${removalSection('scale', scale, `/setup/scales/${scale.id}`)}`,
  });
}

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
