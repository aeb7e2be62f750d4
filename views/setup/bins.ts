import type { BinOnHand } from '../../server/ledger/queries.ts';
import type { ListPage } from '../../server/setup/pages.ts';
import type { Container, Grade } from '../../server/setup/queries.ts';
import { containerChoices } from '../common/containers.ts';
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
import { swatch } from '../common/tag.ts';
import { trailLink } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backTo, backToSetUp, doneLine, gradeChoices, pageLinks } from './parts.ts';

export interface BinsParts {
  grades: Grade[];
  containers: Container[];
  list: ListPage<BinOnHand>;
  done: string | null;
  /** A bin was just added, so the next one probably follows. */
  isAdding: boolean;
}

export function binsPage(show: Show, parts: BinsParts, state: FormState): SafeHtml {
  return page({
    title: 'Bins, set-up',
    show,
    body: html`${backToSetUp}<h1>Bins</h1>
<p>A bin is one place for one grade: a bucket, tub, drum or corner. Its code is what you write on its tag.</p>
${doneLine(parts.done, parts.isAdding ? html`<a href="/setup/scales">Next: scales</a>, or add another bin.` : null)}
${parts.grades.length === 0 ? html`<p>There is no grade yet. <a href="/setup/grades">Begin with the grades</a>.</p>` : addForm(show, parts, state)}
${
  parts.list.rows.length === 0
    ? null
    : html`<h2>Bins in this ledger</h2>
<p class="acts"><a class="button" href="/setup/tags">Print tags to hang on them</a></p>
<ul class="rows">${parts.list.rows.map((bin) => binRow(show, bin))}</ul>`
}
${pageLinks('/setup/bins', parts.list)}`,
  });
}

function addForm(show: Show, parts: BinsParts, state: FormState): SafeHtml {
  const hasMore = ['place', 'container', 'fullMark', 'fullMarkUnit'].some(
    (name) => state.problems[name] || (state.typed[name] && name !== 'fullMarkUnit'),
  );
  return html`<form method="post" action="/setup/bins" data-till class="way">
  <h2>Add a bin</h2>
  ${problemSummary(state)}${requestKeyField(state)}
  ${codeField(state, parts.isAdding)}
  ${choiceField({ name: 'grade', label: 'Grade', choices: gradeChoices(parts.grades), none: 'Choose a grade' }, state)}
  <details ${hasMore ? html`open` : null}><summary>Place, container, full mark</summary>
  ${moreFields(show, parts.containers, state)}
  </details>
  <button class="primary">Add the bin</button>
</form>`;
}

const codeField = (state: FormState, isFocused = false) =>
  textField(
    {
      name: 'code',
      label: 'Code',
      hint: 'Short, as on its tag, like CU2.',
      attributes: html`maxlength="40" autocapitalize="characters" spellcheck="false" ${isFocused ? html`autofocus` : null}`,
    },
    state,
  );

function moreFields(show: Show, containers: readonly Container[], state: FormState): SafeHtml {
  const choices = containerChoices(show, containers);
  return html`${textField({ name: 'place', label: 'Place', hint: 'Where it stands, for example: shelf by the door.' }, state)}
  ${choiceField({ name: 'container', label: 'Container', choices, none: 'None', hint: 'Taken as the tare at the bench unless you choose another there.' }, state)}
  <div class="pair">
    ${numberField({ name: 'fullMark', label: 'Full at (net)', hint: 'May stay empty.' }, state)}
    ${choiceField({ name: 'fullMarkUnit', label: 'Unit', choices: massUnitChoices }, state)}
  </div>`;
}

function binRow(show: Show, bin: BinOnHand): SafeHtml {
  const facts = [
    bin.place,
    bin.full_mark_ug === null ? '' : `full at ${show.weight(bin.full_mark_ug)}`,
    bin.closed_on === null ? '' : `closed ${show.day(bin.closed_on)}`,
  ].filter((fact) => fact !== '');
  return html`<li class="${bin.closed_on === null ? '' : 'undone'}"><span class="row-main">
  <a class="row-link" href="/setup/bins/${bin.id}"><span class="code">${bin.code}</span></a> ${swatch(bin.family)} ${bin.grade_name}
  <small>${facts.join(' · ')}</small></span>
  <span class="figure">${show.weight(bin.mass_ug)}</span></li>`;
}

/** Changes a bin. Its grade is shown and cannot be changed. */
export function binChangePage(
  show: Show,
  { bin, containers, isUsed }: { bin: BinOnHand; containers: readonly Container[]; isUsed: boolean },
  state: FormState,
): SafeHtml {
  const ledger = `/bins/${encodeURIComponent(bin.code)}`;
  return page({
    title: `Bin ${bin.code}, set-up`,
    show,
    body: html`${backTo('/setup/bins', 'Bins')}<h1><span class="code">${bin.code}</span> ${bin.grade_name}</h1>
${bin.closed_on === null ? null : html`<p class="total">Closed ${show.day(bin.closed_on)}</p>`}
<p class="acts"><a class="button" href="/setup/tags?bins=${bin.id}">Print its tag</a></p>
<p>${swatch(bin.family)} Its grade stays ${bin.grade_name}, so that its ledger always tells one story. When material turns out
  to be another grade, <a href="${ledger}#move">move it to another bin</a>.</p>
${problemSummary(state)}
<form method="post" action="/setup/bins/${bin.id}" data-till>
  ${requestKeyField(state)}
  ${codeField(state)}
  ${moreFields(show, containers, state)}
  <button class="primary">Save</button>
</form>
${bin.closed_on === null ? closeForm(show, bin) : reopenForm(bin)}
${isUsed ? null : removalForm(bin)}
${trailLink('bin', bin.id, `What was done with ${bin.code}, and when`)}`,
  });
}

const closeForm = (show: Show, bin: BinOnHand) => html`<section><h2>Close it</h2>
<p>A closed bin is no longer offered at the bench. Its ledger stays, and it can be opened again.
  ${bin.mass_ug === 0 ? 'It is empty now.' : `It holds ${show.weight(bin.mass_ug)}; a bin must be empty to be closed.`}</p>
<form method="post" action="/setup/bins/${bin.id}/close">${requestKeyField({ typed: {}, problems: {} })}
  <button>Close ${bin.code}</button></form></section>`;

const removalForm = (bin: BinOnHand) => html`<section><h2>Named by mistake?</h2>
<p>Nothing was ever in ${bin.code}, so it can be removed, for example to name it again for another grade.</p>
<form method="post" action="/setup/bins/${bin.id}/removal">${requestKeyField({ typed: {}, problems: {} })}
  <button class="quiet">Remove ${bin.code}</button></form></section>`;

const reopenForm = (bin: BinOnHand) => html`<section><h2>Open it again</h2>
<form method="post" action="/setup/bins/${bin.id}/reopen">${requestKeyField({ typed: {}, problems: {} })}
  <button>Open ${bin.code} again</button></form></section>`;
