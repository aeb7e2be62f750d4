import type { InWeightInput } from '../../server/ledger/acts.ts';
import { netOf } from '../../server/ledger/compute.ts';
import type { BinOnHand, RecentInWeight } from '../../server/ledger/queries.ts';
import type { Reader } from '../../server/reading.ts';
import type { Container, Scale } from '../../server/setup/queries.ts';
import { containerChoices } from '../common/containers.ts';
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
  tickField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

export interface WeighInLists {
  bins: BinOnHand[];
  containers: Container[];
  scales: Scale[];
  recent: RecentInWeight[];
}

/** The bench form: bin, reading, container, net as typed; by thumb and with gloves on. */
export function weighInPage(show: Show, lists: WeighInLists, state: FormState): SafeHtml {
  return page({
    title: 'Weigh in',
    show,
    body: html`<h1>Weigh in</h1>
${lists.bins.length === 0 ? html`<p>There is no bin yet. <a href="/setup/bins">Name your first bins</a>.</p>` : bench(show, lists, state)}
${lastFive(show, lists.recent)}`,
  });
}

function bench(show: Show, lists: WeighInLists, state: FormState): SafeHtml {
  return html`<form method="post" action="/in-weights" class="bench" data-till>
  ${problemSummary(state)}
  ${requestKeyField(state)}
  ${state.typed.done ? saved(show, lists) : null}
  ${fields(show, lists, state, true)}
  <output id="understood" class="understood" aria-live="polite" ${hasProblems(state) ? null : ASK_AT_ONCE}></output>
  ${state.problems.confirm === undefined ? null : tickField({ name: 'confirm', label: 'It is right: weigh it in' }, state)}
  <button class="primary big">Weigh in</button>
  <details class="more" ${hasMore(state) ? html`open` : null}>
    <summary>Today, on the usual scale: change, or add a note</summary>
    ${moreFields(lists, state)}
  </details>
</form>`;
}

const hasProblems = ({ problems }: FormState) => Object.keys(problems).length > 0;

const hasMore = ({ problems }: FormState) => ['unit', 'scale', 'occurredOn', 'note'].some((name) => problems[name]);

/** What was just written down, and what the bin holds now. */
function saved(show: Show, { recent, bins }: WeighInLists): SafeHtml | null {
  const last = recent[0];
  const bin = bins.find(({ id }) => id === last?.bin_id);
  if (last === undefined || bin === undefined) return null;
  return html`<p class="saved" role="status">${show.weight(last.net_ug, last.unit)} added. ${bin.code} now holds
    ${show.weight(bin.mass_ug)}.</p>`;
}

const ASK = html`hx-get="/weigh-in/understood" hx-include="closest form" hx-target="#understood" hx-trigger="input changed delay:150ms"`;
const ASK_AT_ONCE = html`hx-get="/weigh-in/understood" hx-include="closest form" hx-trigger="load"`;
const ASK_ON_CHANGE = html`hx-get="/weigh-in/understood" hx-include="closest form" hx-target="#understood" hx-trigger="change"`;

/** The fields that every weighing needs. The reading takes the focus once the bin is known. */
function fields(show: Show, lists: WeighInLists, state: FormState, atBench: boolean): SafeHtml {
  const bins = lists.bins.map((bin) => ({ value: bin.code, label: `${bin.code} · ${bin.grade_name}` }));
  const listed = containerChoices(show, lists.containers);
  const containers = atBench ? [{ value: 'usual', label: 'As usual' }, ...listed] : listed;
  const focus = atBench && state.typed.bin && Object.keys(state.problems).length === 0 ? html`autofocus` : html``;
  return html`${choiceField({ name: 'bin', label: 'Bin', choices: bins, none: 'Choose a bin', attributes: ASK_ON_CHANGE }, state)}
  ${numberField({ name: 'gross', label: 'Reading (gross)', letters: true, attributes: html`${ASK} ${focus}` }, state)}
  <div class="pair">
    ${choiceField({ name: 'container', label: 'Container', choices: containers, none: 'None', attributes: html`${ASK_ON_CHANGE} data-till-skip` }, state)}
    ${numberField({ name: 'tare', label: 'or tare', attributes: html`${ASK} data-till-skip` }, state)}
  </div>`;
}

function moreFields(lists: WeighInLists, state: FormState): SafeHtml {
  const listed = lists.scales.map(({ id, name }) => ({ value: String(id), label: name }));
  const scales = state.typed.scale === 'usual' ? [{ value: 'usual', label: 'As usual' }, ...listed] : listed;
  return html`<div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices, attributes: ASK_ON_CHANGE }, state)}
    ${choiceField({ name: 'scale', label: 'Scale', choices: scales, none: 'Not said' }, state)}
  </div>
  ${dayField({ name: 'occurredOn', label: 'Day' }, state)}
  ${tickField({ name: 'isEstimate', label: 'An estimate, not weighed' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}`;
}

/**
 * What the tool makes of the figures so far: the net, large, and how a mixed figure was read. Says what is wrong only
 * once there is something to be wrong about.
 */
export function understood(
  show: Show,
  input: InWeightInput | null,
  reader: Reader,
  container: Container | undefined,
): SafeHtml {
  if (reader.raw('gross') === '') return container === undefined ? html`` : html`<small>in ${container.name}</small>`;
  if (input === null) {
    const sentence = reader.problems.gross ?? reader.problems.tare ?? reader.problems.unit;
    return sentence === undefined ? html`` : html`<span class="problem">${sentence}</span>`;
  }
  const net = netOf(input);
  const { unit } = input;
  if (net === null) {
    return html`<span class="problem">The tare, ${show.weight(input.tareUg, unit)}, is not below the reading.</span>`;
  }
  const echo = /[a-z#]/i.test(input.grossTyped)
    ? html`<small>${input.grossTyped} = ${show.exactWeight(input.grossUg, unit)}</small><br>`
    : null;
  const sum = `${show.weightFigure(input.grossUg, unit)} − ${show.weightFigure(input.tareUg, unit)}`;
  return html`${echo}<span class="sum">${sum}${container === undefined ? null : html` <small>(${container.name})</small>`} =</span> <b class="net">${show.weightFigure(net, unit)}</b> ${unit} net`;
}

function lastFive(show: Show, recent: readonly RecentInWeight[]): SafeHtml | null {
  if (recent.length === 0) return null;
  return html`<section class="recent"><h2>Last weighings</h2>
<ul class="rows">${recent.map(
    (inWeight) => html`<li class="${inWeight.is_undone ? 'undone' : ''}">
  <span class="row-main"><b>${show.weight(inWeight.net_ug, inWeight.unit)}</b> ${inWeight.bin_code}
    <small>${inWeight.grade_name}, ${show.day(inWeight.occurred_on)}${inWeight.is_undone ? ', taken back' : ''}</small></span>
  ${inWeight.is_undone ? null : undoForm(inWeight)}
</li>`,
  )}</ul>
<p><a class="button" href="/in-weights">All weighings</a></p></section>`;
}

const undoForm = (inWeight: RecentInWeight) => html`<form method="post" action="/in-weights/${inWeight.id}/undo">
  ${hiddenField('requestKey', `undo-in-weight-${inWeight.id}`)}
  <button aria-label="Undo the weighing into ${inWeight.bin_code}">Undo</button>
  <a class="button" href="/in-weights/${inWeight.id}/correction">Correct</a>
</form>`;

/** Puts one in-weight right. The old one and the new one both stay in the bin's ledger. */
export function correctionPage(show: Show, inWeight: RecentInWeight, lists: WeighInLists, state: FormState): SafeHtml {
  const wasWeighed = `${show.weight(inWeight.net_ug, inWeight.unit)} into ${inWeight.bin_code} on ${show.day(inWeight.occurred_on)}`;
  return page({
    title: 'Correct an in-weight',
    show,
    body: html`<h1>Correct an in-weight</h1>
<p>Written down: ${wasWeighed}. Both the old and the corrected weighing stay in the ledger.</p>
<form method="post" action="/in-weights/${inWeight.id}/corrections" data-till>
  ${problemSummary(state)}
  ${requestKeyField(state)}
  ${fields(show, lists, state, false)}
  <output id="understood" class="understood" aria-live="polite"></output>
  ${moreFields(lists, state)}
  ${textField({ name: 'reason', label: 'Why', hint: 'For example: read the wrong line, wrong bin.' }, state)}
  ${state.problems.bookShortfall === undefined && !state.typed.bookShortfall ? null : shortfallTick(state)}
  <p class="acts"><button class="primary">Save the correction</button>
  <button formaction="/in-weights/${inWeight.id}/undo" class="quiet">Take it back entirely</button></p>
</form>
<p><a href="/bins/${encodeURIComponent(inWeight.bin_code)}">Back to ${inWeight.bin_code}</a></p>`,
  });
}

export const shortfallTick = (state: FormState): SafeHtml =>
  tickField({ name: 'bookShortfall', label: 'Book the difference as a count difference' }, state);
