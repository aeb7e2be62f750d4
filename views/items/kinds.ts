import { cautions } from '../../seed/cautions.ts';
import { type Caution, cautionsOfKind, readCautionKeys } from '../../server/items/cautions.ts';
import { MOST_YIELDS, yieldFields } from '../../server/items/kind-fields.ts';
import type { ItemKind } from '../../server/items/kind-queries.ts';
import type { ListPage } from '../../server/setup/pages.ts';
import type { Grade } from '../../server/setup/queries.ts';
import {
  choiceField,
  type FormState,
  noProblems,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backTo, backToSetUp, doneLine, gradeChoices, pageLinks, removalSection } from '../setup/parts.ts';
import { cautionsSection } from './cautions.ts';

export interface ItemKindsParts {
  /** Every grade, to choose from. */
  grades: Grade[];
  list: ListPage<ItemKind>;
  done: string | null;
  /** How many of the starter kinds the ledger does not have. */
  missingStarters: number;
}

const PATH = '/setup/item-kinds';

export function itemKindsPage(show: Show, parts: ItemKindsParts, state: FormState): SafeHtml {
  const { grades, list, done } = parts;
  const isOpen = Object.keys(state.problems).length > 0;
  return page({
    title: 'Kinds of items',
    show,
    body: html`${backToSetUp}<h1>Kinds of items</h1>
<p>What sort of thing was picked up. A kind brings its <a href="/setup/cautions">cautions</a>, and what such things gave
  and took is learned kind by kind.</p>
${doneLine(done)}
${parts.missingStarters === 0 ? null : starterForm(parts.missingStarters, grades.length > 0)}
<details ${isOpen ? html`open` : null}><summary>Add a kind of item</summary>
${kindForm(PATH, 'Add the kind', grades, state)}
</details>
<ul class="rows">${list.rows.map((kind) => kindRow(show, kind))}</ul>
${pageLinks(PATH, list)}`,
  });
}

const starterForm = (
  missing: number,
  hasGrades: boolean,
): SafeHtml => html`<form method="post" action="${PATH}/starter" class="no-print">
  ${requestKeyField(noProblems({}))}<button>Add the starter kinds (${missing})</button>
  <p class="hint">Washing machine, ceiling fan, desktop computer and so on. What is here already stays as it is.${
    hasGrades
      ? null
      : html` There are no grades yet: <a href="/setup/grades">begin with those</a>, so that the kinds know what they are sold as.`
  }</p>
</form>`;

function kindRow(show: Show, kind: ItemKind): SafeHtml {
  const special = cautionsOfKind(kind).filter(({ isGeneral }) => !isGeneral);
  const facts = [
    special.length === 0 ? null : `with care: ${special.map(shortName).join(', ')}`,
    kind.as_is_grade_name === null ? null : `as is: ${kind.as_is_grade_name}`,
    ruleText(show, kind),
  ].filter((fact) => fact !== null);
  return html`<li><span class="row-main"><a class="row-link" href="${PATH}/${kind.id}">${kind.name}</a>
  <small>${facts.join(' · ')}</small></span></li>`;
}

/** A caution in a word or two: its key, as it is read aloud. */
const shortName = ({ key }: Caution): string => (key === 'pcb' ? 'PCB' : key.replaceAll('-', ' '));

/** "rule of thumb: No. 2 copper wire 40 %, 15 minutes"; null where there is none. */
function ruleText(show: Show, { yields, rule_minutes: minutes }: ItemKind): string | null {
  const rules = yields.map(({ grade_name, percent }) => `${grade_name} ${show.digits(percent)} %`);
  if (minutes !== '') rules.push(`${show.digits(minutes)} minutes`);
  return rules.length === 0 ? null : `rule of thumb: ${rules.join(', ')}`;
}

export const itemKindPage = (show: Show, kind: ItemKind, grades: readonly Grade[], state: FormState): SafeHtml =>
  page({
    title: kind.name,
    show,
    body: html`${backTo(PATH, 'Kinds of items')}<h1>${kind.name}</h1>
${cautionsSection(show, cautionsOfKind(kind))}
<section class="way no-print"><h2>What is known of it</h2>
${kindForm(`${PATH}/${kind.id}`, 'Save', grades, state)}</section>
${removalSection('item_kind', kind, `${PATH}/${kind.id}`)}`,
  });

function kindForm(action: string, button: string, grades: readonly Grade[], state: FormState): SafeHtml {
  const choices = gradeChoices(grades);
  return html`<form method="post" action="${action}" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField({ name: 'name', label: 'Name', hint: 'As you call it, for example: washing machine.' }, state)}
  ${cautionTicks(state)}
  ${choiceField(
    {
      name: 'asIsGrade',
      label: 'Sold as is, it is',
      choices,
      none: 'No usual grade',
      hint: 'What a yard takes it as when nothing is taken off.',
    },
    state,
  )}
  ${ruleFields(grades, state)}
  ${noteField({ name: 'note', label: 'Notes' }, state)}
  <button class="primary">${button}</button>
</form>`;
}

/** The special cautions; those of every workshop stand on every item. */
function cautionTicks(state: FormState): SafeHtml {
  const ticked = new Set(readCautionKeys(state.typed.cautions ?? ''));
  const problem = state.problems.cautions;
  return html`<fieldset id="f-cautions" tabindex="-1"><legend>Cautions</legend>
${problem === undefined ? null : html`<p class="problem" id="f-cautions-problem">${problem}</p>`}
<p class="hint">Those of every workshop stand on each item. Some words in the name, such as “fridge”, bring one up too,
  ticked or not.</p>
<div class="caution-ticks">${cautions
    .filter(({ isGeneral }) => !isGeneral)
    .map(
      ({ key, title }) => html`<div class="tick"><label><input type="checkbox" name="cautions" value="${key}"
    ${ticked.has(key) ? html`checked` : null}> <span>${title}</span></label></div>`,
    )}</div>
</fieldset>`;
}

/** Rows that are filled, and two more to fill in. */
function ruleFields(grades: readonly Grade[], state: FormState): SafeHtml {
  const rows = Array.from({ length: MOST_YIELDS }, (_, index) => yieldFields(index + 1));
  const filled = rows.findLastIndex(({ grade, percent }) => state.typed[grade] || state.typed[percent]) + 1;
  const choices = gradeChoices(grades);
  return html`<fieldset><legend>Rules of thumb</legend>
<p class="hint">How long it takes, and what it gives in percent of its weight. Used only until enough of the kind were taken
  apart and weighed, and always marked as a rule of thumb. Leave them empty when you have none.</p>
${numberField({ name: 'ruleMinutes', label: 'Minutes to take one apart' }, state)}
${rows.slice(0, Math.min(MOST_YIELDS, filled + 2)).map(
  (fields, index) => html`<div class="pair grade-share">
  ${choiceField({ name: fields.grade, label: `Grade ${index + 1}`, choices, none: 'None' }, state)}
  ${numberField({ name: fields.percent, label: `Percent ${index + 1}` }, state)}
</div>`,
)}
</fieldset>`;
}
