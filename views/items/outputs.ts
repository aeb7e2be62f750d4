import {
  countField,
  countRows,
  fieldAt,
  isFilled,
  MOST_ROWS,
  type RowList,
  rowsOf,
} from '../../server/items/output-rows.ts';
import type { ItemOutput } from '../../server/items/teardown-queries.ts';
import type { BinOnHand, RecentInWeight } from '../../server/ledger/queries.ts';
import type { Typed } from '../../server/reading.ts';
import type { Container, Grade, Scale } from '../../server/setup/queries.ts';
import { containerChoices } from '../common/containers.ts';
import {
  choiceField,
  dayField,
  type FormState,
  hiddenField,
  massUnitChoices,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
  tickField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { recognitionHelp } from './recognise.ts';

export interface OutputLists {
  bins: readonly BinOnHand[];
  containers: readonly Container[];
  scales: readonly Scale[];
  /** Those that there is an open bin for. */
  grades: readonly Grade[];
}

const ROW_NAMES: Record<string, string> = { part: 'Part', partNet: 'Part', waste: 'Waste', wasteNet: 'Waste' };

/** The summary is read apart from the rows, so there each sentence says which row it is about. */
function withRowNames(state: FormState): FormState {
  const problems = Object.entries(state.problems).map(([name, sentence]) => {
    const [, field = '', row] = /^([a-zA-Z]+)-(\d+)$/.exec(name) ?? [];
    return [name, row === undefined ? sentence : `${ROW_NAMES[field] ?? 'Row'} ${row}: ${sentence}`];
  });
  return { ...state, problems: Object.fromEntries(problems) };
}

/** One sheet of everything an item gave: into bins, parts that are kept, waste. */
export function outputsForm(show: Show, itemId: number, lists: OutputLists, given: FormState): SafeHtml {
  const state = { ...given, idPrefix: 'out-' };
  const { typed, problems } = state;
  const at = `/items/${itemId}/teardown/outputs`;
  return html`<form method="post" action="${at}" id="outputs-form" class="outputs" data-till>
  <button class="away" tabindex="-1" aria-hidden="true">Write it down</button>
  ${problemSummary(withRowNames(state))}
  ${requestKeyField(state)}
  ${lists.bins.length === 0 ? html`<p>There is no bin yet. <a href="/setup/bins">Name your first bins</a>; parts and waste can be written down.</p>` : null}
  ${lists.bins.length === 0 ? null : rowsWith('bins', typed, (row) => binRow(show, lists, state, row))}
  ${lists.bins.length === 0 ? null : moreButton(at, 'bins', typed, 'More rows')}
  ${gradeHelps(lists)}
  <fieldset class="output-others"><legend>Parts kept</legend>
  ${rowsWith('parts', typed, (row) => partRow(state, row))}
  ${moreButton(at, 'parts', typed, 'More parts')}</fieldset>
  <fieldset class="output-others"><legend>Waste</legend>
  ${rowsWith('waste', typed, (row) => wasteRow(state, row))}
  ${moreButton(at, 'waste', typed, 'More waste')}</fieldset>
  ${commonFields(lists, state)}
  <div id="outputs-sum" class="understood" aria-live="polite" hx-post="${at}/understood"
    hx-trigger="change from:#outputs-form delay:200ms" hx-sync="replace" hx-swap="innerHTML"></div>
  ${problems.confirm === undefined && !typed.confirm ? null : tickField({ name: 'confirm', label: 'The reading is right' }, state)}
  ${problems.confirmAbove === undefined && !typed.confirmAbove ? null : tickField({ name: 'confirmAbove', label: 'The weights are right: write them down' }, state)}
  <button class="primary big">Write it down</button>
</form>`;
}

const rowsWith = (list: RowList, typed: Typed, row: (number: number) => SafeHtml): SafeHtml =>
  html`${hiddenField(countField(list), String(countRows(typed, list)))}${rowsOf(typed, list).map(row)}`;

/** Works as it is, and swaps just the form where scripts run. */
function moreButton(at: string, list: RowList, typed: Typed, label: string): SafeHtml | null {
  if (countRows(typed, list) >= MOST_ROWS) return null;
  return html`<p class="acts"><button class="quiet" name="change" value="${list}" formaction="${at}/rows" hx-post="${at}/rows"
    hx-target="#outputs-form" hx-select="#outputs-form" hx-swap="outerHTML">${label}</button></p>`;
}

/** How to tell every grade that there is a bin for, folded away: which bin a row is for is known only once it is chosen. */
function gradeHelps({ grades }: OutputLists): SafeHtml | null {
  const helps = grades.map(recognitionHelp).filter((help) => help !== null);
  return helps.length === 0
    ? null
    : html`<details class="more"><summary>Which grade is it?</summary>${helps}
<p><a class="alone" href="/bench/grades">The tests with magnet, file and hand</a></p></details>`;
}

const SKIP = html`data-till-skip`;

function binRow(show: Show, lists: OutputLists, state: FormState, row: number): SafeHtml {
  const at = (field: string) => fieldAt(field, row);
  const typed =
    state.typed[at('container')] === undefined ? { ...state.typed, [at('container')]: 'usual' } : state.typed;
  const own = { ...state, typed };
  const bins = lists.bins.map(({ code, grade_name: grade }) => ({ value: code, label: `${code} · ${grade}` }));
  const containers = [{ value: 'usual', label: 'As usual' }, ...containerChoices(show, lists.containers)];
  const gradeId = lists.bins.find(({ code }) => code === typed[at('bin')])?.grade_id;
  const grade = lists.grades.find(({ id }) => id === gradeId);
  return html`<fieldset class="output-row"><legend>Row ${String(row)}</legend>
  ${choiceField({ name: at('bin'), label: 'Bin (grade)', choices: bins, none: '–' }, own)}
  ${numberField({ name: at('gross'), label: 'Gross', letters: true }, own)}
  ${choiceField({ name: at('container'), label: 'Container', choices: containers, none: 'None', attributes: SKIP }, own)}
  ${numberField({ name: at('tare'), label: 'or tare', attributes: SKIP }, own)}
  <output id="net-${String(row)}" class="row-net"></output>
  ${grade === undefined ? null : recognitionHelp(grade)}
</fieldset>`;
}

const partRow = (state: FormState, row: number): SafeHtml => html`<div class="pair">
  ${textField({ name: fieldAt('part', row), label: `Part ${row}` }, state)}
  ${numberField({ name: fieldAt('partNet', row), label: 'Weight, may stay empty', letters: true }, state)}
</div>`;

const wasteRow = (state: FormState, row: number): SafeHtml => html`<div class="pair">
  ${textField({ name: fieldAt('waste', row), label: `Waste ${row}, may stay empty` }, state)}
  ${numberField({ name: fieldAt('wasteNet', row), label: 'Net weight', letters: true }, state)}
</div>`;

/** What is right as it stands for most sheets. */
function commonFields({ scales }: OutputLists, state: FormState): SafeHtml {
  const isOpen = ['unit', 'scale', 'occurredOn'].some((name) => state.problems[name]);
  const listed = scales.map(({ id, name }) => ({ value: String(id), label: name }));
  return html`<details class="more" ${isOpen ? html`open` : null}><summary>Today, in the usual unit, on the usual scale: change</summary>
  <div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
    ${choiceField({ name: 'scale', label: 'Scale', choices: [{ value: 'usual', label: 'As usual' }, ...listed], none: 'Not said' }, state)}
  </div>
  ${dayField({ name: 'occurredOn', label: 'Day' }, state)}
</details>`;
}

/** What a sheet comes to so far: a net for each row, and what is missing of the item with it. */
export interface SheetSum {
  typed: Typed;
  /** By row: its net, or what is wrong with it. */
  nets: ReadonlyMap<number, string>;
  said: string;
}

export const sheetSum = ({ typed, nets, said }: SheetSum): SafeHtml => html`${said}
${rowsOf(typed, 'bins').map(
  (row) =>
    html`<output id="net-${String(row)}" class="row-net" hx-swap-oob="true">${isFilled(typed, 'bins', row) ? nets.get(row) : ''}</output>`,
)}`;

/** What the item gave so far, each with its way back. */
export function outputList(
  show: Show,
  inWeights: readonly RecentInWeight[],
  outputs: readonly ItemOutput[],
): SafeHtml | null {
  if (inWeights.length + outputs.length === 0) return null;
  return html`<ul class="rows given">${inWeights.map((inWeight) => inWeightRow(show, inWeight))}${outputs.map((output) => outputRow(show, output))}</ul>`;
}

function inWeightRow(show: Show, inWeight: RecentInWeight): SafeHtml {
  const { id, bin_code: code, is_undone: isUndone } = inWeight;
  return html`<li class="${isUndone ? 'undone' : ''}">
  <span class="row-main"><b>${show.weight(inWeight.net_ug, inWeight.unit)}</b> <a href="/bins/${encodeURIComponent(code)}">${code}</a>
    <small>${inWeight.grade_name}, ${show.day(inWeight.occurred_on)}${isUndone ? ', taken back or corrected' : ''}</small></span>
  ${
    isUndone
      ? null
      : html`<form method="post" action="/in-weights/${id}/undo">${hiddenField('requestKey', `undo-in-weight-${id}`)}${hiddenField('back', 'teardown')}
    <button class="quiet" aria-label="Undo the weighing into ${code}">Undo</button>
    <a class="button quiet" href="/in-weights/${id}/correction">Correct</a></form>`
  }
</li>`;
}

function outputRow(show: Show, output: ItemOutput): SafeHtml {
  const { id, item_id: itemId, kind, net_ug: net, is_undone: isUndone } = output;
  const weight = net === null ? 'not weighed' : show.weight(net, output.unit);
  const name = output.name === '' ? 'waste' : output.name;
  const what = kind === 'part' ? 'part kept' : 'waste';
  return html`<li class="${isUndone ? 'undone' : ''}">
  <span class="row-main"><b>${weight}</b> ${name}
    <small>${what}, ${show.day(output.occurred_on)}${isUndone ? ', taken back' : ''}${output.sale_id === null ? '' : ', sold'}</small></span>
  ${
    isUndone
      ? html`<a class="put-right" href="/items/${itemId}/teardown?output=${id}#gave">Type it again</a>`
      : html`<form method="post" action="/item-outputs/${id}/undo">${hiddenField('requestKey', `undo-output-${id}`)}
    <button class="quiet" aria-label="Undo ${name}, ${weight}">Undo</button>
    ${kind === 'part' && output.sale_id === null ? html`<a class="button quiet" href="/items/${itemId}/sales?part=${id}">Sold</a>` : null}</form>`
  }
</li>`;
}
