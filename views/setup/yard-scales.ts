import { gradeFamilies } from '../../server/ledger/families.ts';
import type { Typed } from '../../server/reading.ts';
import type { Yard, YardScale } from '../../server/setup/queries.ts';
import {
  choiceField,
  type FormState,
  noProblems,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { doneLine, scaleClassChoices, withUnit } from './parts.ts';

/** A form of the section that came back; `id` is the scale it changes, null for the one that adds. */
export interface YardScaleForm {
  id: number | null;
  state: FormState;
}

export interface YardScalesParts {
  yard: Yard;
  list: YardScale[];
  form: YardScaleForm | null;
  /** What was just done, as in the address. */
  done: string;
}

const DONE: Record<string, string> = {
  added: 'The scale is added.',
  saved: 'The scale is saved.',
  removed: 'The scale is removed. What went over it goes over the usual one again.',
};

export const yardScaleDone = ({ done }: YardScalesParts): SafeHtml | null =>
  doneLine(Object.hasOwn(DONE, done) ? (DONE[done] ?? null) : null);

/** The further scales of a yard, each with what goes over it, and a form for one more. */
export function yardScalesSection(show: Show, parts: YardScalesParts): SafeHtml {
  const { yard, list, form } = parts;
  const adding = form?.id === null ? form.state : noProblems({});
  return html`<section class="way" id="scales"><h2>Another scale of this yard</h2>
<p>Steel often goes over a truck scale with coarse steps; without it here, an honest truck scale would look wrong. What is
  ticked for none goes over the usual scale, which is described above.</p>
${list.map((scale) => scaleDetails(show, parts, scale))}
<details ${form?.id === null ? html`open` : null}><summary>Add a scale</summary>
${scaleForm(parts, null, `/setup/yards/${yard.id}/scales`, 'Add the scale', adding)}
</details></section>`;
}

function scaleDetails(show: Show, parts: YardScalesParts, scale: YardScale): SafeHtml {
  const { yard, form } = parts;
  const action = `/setup/yards/${yard.id}/scales/${scale.id}`;
  const failed = form?.id === scale.id ? form.state : null;
  return html`<details ${failed === null ? null : html`open`}><summary><span>${scale.name}
  <small>${factsOf(show, yard, scale)}</small></span></summary>
${scaleForm(parts, scale, action, 'Save', failed ?? noProblems(typedOf(show, scale)))}
<form method="post" action="${action}/removal" class="removal">${requestKeyField(noProblems({}))}
  <button class="quiet">Remove ${scale.name}</button>
  <p class="hint">What goes over it counts as weighed on the usual scale again. It can be added again at any time.</p></form>
</details>`;
}

function factsOf(show: Show, yard: Yard, scale: YardScale): string {
  const facts = [
    scale.families.length === 0 ? 'nothing goes over it yet' : scale.families.join(', '),
    scale.division === '' ? 'step not known' : `${withUnit(show, scale.division, yard.unit)} steps`,
    scale.class === '' ? 'class not known' : scale.class === 'unmarked' ? 'no class marked' : `class ${scale.class}`,
  ];
  return facts.join(' · ');
}

/** A further scale as its form would have been typed. */
const typedOf = (show: Show, scale: YardScale): Typed => ({
  name: scale.name,
  division: show.digits(scale.division),
  class: scale.class,
  families: scale.families.join(', '),
});

function scaleForm(
  { yard, list }: YardScalesParts,
  scale: YardScale | null,
  action: string,
  button: string,
  given: FormState,
): SafeHtml {
  const state = { ...given, idPrefix: `scale-${scale?.id ?? 'new'}-` };
  const others = list.filter(({ id }) => id !== scale?.id);
  return html`<form method="post" action="${action}" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField({ name: 'name', label: 'Name', hint: 'For example: truck scale.' }, state)}
  <div class="pair">
    ${numberField({ name: 'division', label: 'Smallest step', hint: `In ${yard.unit}, as on its tickets; may stay empty.` }, state)}
    ${choiceField({ name: 'class', label: 'Accuracy class', choices: scaleClassChoices, none: 'Not known' }, state)}
  </div>
  ${familyTicks(state, others)}
  <button class="primary">${button}</button>
</form>`;
}

/** A family goes over one further scale only, so one that is ticked at another says that it moves. */
function familyTicks(state: FormState, others: readonly YardScale[]): SafeHtml {
  const ticked = new Set((state.typed.families ?? '').split(',').map((family) => family.trim()));
  const problem = state.problems.families;
  return html`<fieldset id="f-${state.idPrefix}families" tabindex="-1"><legend>What goes over it</legend>
${problem === undefined ? null : html`<p class="problem" id="f-${state.idPrefix}families-problem">${problem}</p>`}
<div class="family-ticks">${gradeFamilies.map((family) => {
    const other = others.find(({ families }) => families.includes(family));
    return html`<div class="tick"><label><input type="checkbox" name="families" value="${family}"
    ${ticked.has(family) ? html`checked` : null}> <span>${family}${
      other === undefined ? null : html` <small>(goes over ${other.name} now: ticked here, it moves)</small>`
    }</span></label></div>`;
  })}</div>
</fieldset>`;
}
