import type { WireKind, WireSample } from '../../server/bench/queries.ts';
import type { SamplesSaid } from '../../server/bench/recovery.ts';
import type { ListPage } from '../../server/setup/pages.ts';
import type { Grade } from '../../server/setup/queries.ts';
import { Decimal } from '../../server/units/decimal.ts';
import {
  choiceField,
  dayField,
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
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { doneLine, gradeChoices, pageLinks, removalSection } from '../setup/parts.ts';
import { backToWire, percentOf, STRIP_WITH_CARE, weightAnHour } from './parts.ts';

export interface WireKindsParts {
  list: ListPage<WireKind>;
  grades: readonly Grade[];
  done: string | null;
}

/** The kinds of wire that are told apart, with the way to add one. */
export const wireKindsPage = (show: Show, { list, grades, done }: WireKindsParts, state: FormState): SafeHtml =>
  page({
    title: 'Kinds of wire',
    show,
    body: html`${backToWire}<h1>Kinds of wire</h1>
<p>Each kind has the grade it is sold as, the grade of its bare metal, and samples that were stripped and weighed.</p>
${doneLine(done)}
<ul class="rows">${list.rows.map(
      ({
        id,
        name,
        grade_name,
        bare_grade_name,
      }) => html`<li><span class="row-main"><a class="row-link" href="/bench/wire/kinds/${id}">${name}</a>
  <small>${grade_name} · bare: ${bare_grade_name}</small></span></li>`,
    )}</ul>
${pageLinks('/bench/wire/kinds', list)}
<section class="way"><h2>Add a kind of wire</h2>${
      grades.length === 0
        ? html`<p>There are no grades yet. Add <a href="/setup/grades">grades</a> first.</p>`
        : kindForm('/bench/wire/kinds', 'Add the kind', grades, state)
    }</section>`,
  });

function kindForm(action: string, button: string, grades: readonly Grade[], state: FormState): SafeHtml {
  const choices = gradeChoices(grades);
  return html`<form method="post" action="${action}" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField({ name: 'name', label: 'Name', hint: 'As you tell it, for example: flat appliance cord, 2 × 18.' }, state)}
  ${choiceField({ name: 'grade', label: 'Sold as it is as', choices, none: 'Choose a grade' }, state)}
  ${choiceField({ name: 'bareGrade', label: 'Its bare metal sold as', choices, none: 'Choose a grade' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}
  <button class="primary">${button}</button>
</form>`;
}

export interface WireKindParts {
  kind: WireKind;
  grades: readonly Grade[];
  /** Newest first. */
  list: ListPage<WireSample>;
  said: SamplesSaid;
  done: string | null;
  change: FormState;
  sample: FormState;
  undo?: FormState;
}

/** One kind of wire: what its samples say, the samples, one more of them, and its own figures. */
export function wireKindPage(show: Show, parts: WireKindParts): SafeHtml {
  const { kind, grades, done, change, undo } = parts;
  const path = `/bench/wire/kinds/${kind.id}`;
  return page({
    title: kind.name,
    show,
    body: html`<p class="way-back"><a href="/bench">Bench</a> / <a href="/bench/wire/kinds">Kinds of wire</a></p>
<h1>${kind.name}</h1>
<p>Sold as ${kind.grade_name}, its bare metal as ${kind.bare_grade_name}. <a class="alone" href="/bench/wire?kind=${kind.id}">Strip or sell?</a></p>
${doneLine(done)}${undo === undefined ? null : problemSummary(undo)}
<section><h2>Samples</h2>${saidText(show, parts)}${samplesTable(show, parts)}
${pageLinks(path, parts.list)}</section>
${sampleForm(parts)}
<section class="way"><h2>Change this kind</h2>${kindForm(path, 'Save', grades, { ...change, idPrefix: 'kind-' })}</section>
${removalSection('wire_kind', kind, path)}`,
  });
}

function saidText(show: Show, { said }: WireKindParts): SafeHtml {
  if (said.recovery === null) return html`<p>There is no sample of it yet.</p>`;
  const { ratio, interval, noInterval } = said.recovery;
  const count = said.count === 1 ? 'One sample' : `${said.count} samples together`;
  const span =
    interval === null
      ? noInterval === 'few'
        ? 'From three samples on there is an interval.'
        : 'They are all alike, so there is no interval.'
      : `In the long run it likely lies between ${percentOf(show, within(interval.low))} and ${percentOf(show, within(interval.high))} (95 % interval).`;
  const rate =
    said.ugPerHour === null
      ? ''
      : ` ${weightAnHour(show, said.ugPerHour)} of wire an hour, by ${said.timed === 1 ? 'one of them' : `${said.timed} of them`}.`;
  return html`<p>${count}: <b>${percentOf(show, new Decimal(ratio))}</b> metal. ${span}${rate}</p>`;
}

const within = (share: number): Decimal => new Decimal(Math.min(1, Math.max(0, share)));

const minutesOf = (show: Show, seconds: number | null): string =>
  seconds === null ? '–' : show.figure(new Decimal(seconds).div(60), 1);

function samplesTable(show: Show, { list }: WireKindParts): SafeHtml | null {
  if (list.rows.length === 0) return null;
  return html`<div class="scroll"><table class="stack"><caption>Newest first</caption>
<thead><tr><th scope="col">Day</th><th scope="col" class="figure">Before</th><th scope="col" class="figure">Metal</th>
  <th scope="col" class="figure">Share</th><th scope="col" class="figure">Minutes</th><th scope="col">Note</th><th scope="col">Put right</th></tr></thead>
<tbody>${list.rows.map((sample) => sampleRow(show, sample))}</tbody></table></div>`;
}

function sampleRow(show: Show, sample: WireSample): SafeHtml {
  const { id, unit, is_undone } = sample;
  const note = [sample.note, sample.stripping_id === null ? '' : 'a stripped lot']
    .filter((each) => each !== '')
    .join(' · ');
  return html`<tr>
  <td class="day" data-label="Day">${show.day(sample.sampled_on)}</td>
  <td class="figure" data-label="Before">${show.typedWeight(sample.before_typed, unit, sample.before_ug)}</td>
  <td class="figure" data-label="Metal">${show.typedWeight(sample.after_typed, unit, sample.after_ug)}</td>
  <td class="figure" data-label="Share">${percentOf(show, new Decimal(sample.after_ug).div(sample.before_ug))}</td>
  <td class="figure" data-label="Minutes">${minutesOf(show, sample.seconds)}</td>
  <td class="wordy" data-label="Note"><span>${note === '' ? '–' : note}</span></td>
  <td data-label="Put right">${
    is_undone === 1
      ? 'taken back'
      : html`<form method="post" action="/wire-samples/${id}/undo">${hiddenField('requestKey', `undo-wire-sample-${id}`)}<button class="quiet">Undo</button></form>`
  }</td>
</tr>`;
}

function sampleForm({ kind, sample }: WireKindParts): SafeHtml {
  const state = { ...sample, idPrefix: 'sample-' };
  return html`<section class="way" id="sample"><h2>Add a sample</h2>
<p>Weigh a piece, strip it, weigh its metal. A few pieces from different cords say more than one long one.</p>
${STRIP_WITH_CARE}
<form method="post" action="/bench/wire/kinds/${kind.id}/samples" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  <div class="pair">
    ${numberField({ name: 'before', label: 'With insulation', letters: true }, state)}
    ${numberField({ name: 'after', label: 'Metal alone', letters: true }, state)}
  </div>
  <div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
    ${numberField({ name: 'minutes', label: 'Minutes', hint: 'May stay empty.' }, state)}
  </div>
  ${dayField({ name: 'sampledOn', label: 'Day' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}
  <button class="primary">Save the sample</button>
</form></section>`;
}
