import { gradeFamilies, groupByFamily } from '../../server/ledger/families.ts';
import type { ListPage } from '../../server/setup/pages.ts';
import type { Grade } from '../../server/setup/queries.ts';
import {
  choiceField,
  type FormState,
  noteField,
  priceUnitChoices,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backTo, backToSetUp, doneLine, gradeChoices, pageLinks, removalSection } from './parts.ts';

export interface GradesParts {
  /** Every grade, to fall back to. */
  grades: Grade[];
  list: ListPage<Grade>;
  done: string | null;
  isLedgerEmpty: boolean;
}

export function gradesPage(show: Show, parts: GradesParts, state: FormState): SafeHtml {
  const { grades, list, done } = parts;
  const isOpen = grades.length === 0 || Object.keys(state.problems).length > 0;
  return page({
    title: 'Grades',
    show,
    body: html`${backToSetUp}<h1>Grades</h1>
<p>A grade is what a yard prices separately. Rename them as your yards say it; each yard’s own names can also be kept
  <a href="/setup/yards">with the yard</a>. How each is told stands on <a href="/bench/grades">one page</a> for the bench.</p>
${doneLine(done)}
${parts.isLedgerEmpty ? starterList(state) : null}
<details ${isOpen ? html`open` : null}><summary>Add a grade</summary>
${gradeForm('/setup/grades', 'Add the grade', grades, state)}
</details>
${groupByFamily(list.rows).map(
  ({ family, rows }) => html`<section class="family"><h2>${swatch(family)} ${family}</h2>
<ul class="rows">${rows.map((grade) => gradeRow(grade, grades))}</ul></section>`,
)}
${pageLinks('/setup/grades', list)}
<p class="trail-link"><a href="/trail?kind=set-up">What was done in the set-up, and when</a></p>`,
  });
}

const starterList = (state: FormState) => html`<form method="post" action="/starter-list">
  ${requestKeyField(state)}<button>Begin with the starter list</button>
</form>`;

function gradeRow(grade: Grade, grades: readonly Grade[]): SafeHtml {
  const fallback = grades.find(({ id }) => id === grade.falls_back_to_id);
  const facts = [
    grade.code === '' ? null : `code word ${grade.code}`,
    grade.quoted_per === 'each' ? 'quoted each' : `quoted per ${grade.quoted_per}`,
    fallback === undefined ? null : `falls back to ${fallback.name}`,
  ].filter((fact) => fact !== null);
  return html`<li><span class="row-main"><a class="row-link" href="/setup/grades/${grade.id}">${grade.name}</a>
  <small>${facts.join(' · ')}</small></span></li>`;
}

export function gradePage(show: Show, grade: Grade, grades: readonly Grade[], state: FormState): SafeHtml {
  const others = grades.filter(({ id }) => id !== grade.id);
  return page({
    title: grade.name,
    show,
    body: html`${backTo('/setup/grades', 'Grades')}<h1>${swatch(grade.family)} ${grade.name}</h1>
<p><a class="alone" href="/prices/grades/${grade.id}">Prices of this grade</a></p>
${gradeForm(`/setup/grades/${grade.id}`, 'Save', others, state)}
${removalSection('grade', grade, `/setup/grades/${grade.id}`)}`,
  });
}

function gradeForm(action: string, button: string, others: readonly Grade[], state: FormState): SafeHtml {
  const families = gradeFamilies.map((family) => ({ value: family, label: family }));
  return html`<form method="post" action="${action}" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField({ name: 'name', label: 'Name' }, state)}
  <div class="pair">
    ${choiceField({ name: 'family', label: 'Family', choices: families, none: 'Choose a family' }, state)}
    ${choiceField({ name: 'quotedPer', label: 'Quoted', choices: priceUnitChoices }, state)}
  </div>
  ${textField({ name: 'code', label: 'Code word of the industry circular', hint: 'May stay empty.' }, state)}
  ${choiceField(
    {
      name: 'fallsBackTo',
      label: 'Falls back to',
      choices: gradeChoices(others),
      none: 'None',
      hint: 'What a yard calls it when it calls it lower.',
    },
    state,
  )}
  ${noteField({ name: 'recognise', label: 'How to recognise it' }, state)}
  ${noteField({ name: 'spoiledBy', label: 'What spoils it' }, state)}
  <button class="primary">${button}</button>
</form>`;
}
