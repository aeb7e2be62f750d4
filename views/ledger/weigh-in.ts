import { itemName } from '../../server/items/compute.ts';
import type { RecentInWeight } from '../../server/ledger/queries.ts';
import { containerChoices } from '../common/containers.ts';
import { type FormState, hiddenField, problemSummary, requestKeyField, tickField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { binPicker } from './bin-picker.ts';
import { ASK_AT_ONCE, containerAndTare, moreFields, readingField, type WeighInLists } from './weighing-fields.ts';

/** What was done a moment ago, to say it above the form. */
export interface JustDone {
  inWeight: RecentInWeight;
  isUndone: boolean;
}

/** The bench form: bin, reading, container, net as typed; by thumb and with gloves on. */
export function weighInPage(show: Show, lists: WeighInLists, state: FormState, done: JustDone | null = null): SafeHtml {
  return page({
    title: 'Weigh in',
    show,
    body: html`<h1>Weigh in</h1>
${done === null ? null : said(show, lists, done)}
${lists.bins.length === 0 ? html`<p>There is no bin yet. <a href="/setup/bins">Name your first bins</a>.</p>` : bench(show, lists, state)}
${lastFive(show, lists.recent)}`,
  });
}

function bench(show: Show, lists: WeighInLists, typed: FormState): SafeHtml {
  const state = withOnlyBin(lists, typed);
  const isReady = Boolean(state.typed.bin) && !hasProblems(state);
  const containers = [{ value: 'usual', label: 'As usual' }, ...containerChoices(show, lists.containers)];
  return html`<form method="post" action="/in-weights" class="bench" data-till>
  ${problemSummary(state)}
  ${requestKeyField(state)}
  ${fromItem(lists.item, state)}
  ${binPicker(lists.bins, state)}
  ${readingField(state, isReady)}
  <output id="understood" class="understood" aria-live="polite" ${hasProblems(state) ? null : ASK_AT_ONCE}></output>
  ${containerAndTare(containers, state)}
  ${state.problems.confirm === undefined ? null : tickField({ name: 'confirm', label: 'It is right: weigh it in' }, state)}
  <button class="primary big">Weigh in</button>
  <details class="more" ${hasMore(state) ? html`open` : null}>
    <summary>Today, on the usual scale: change, or add a note</summary>
    ${moreFields(lists, state)}
  </details>
</form>`;
}

/** The item that this and the next weighings come from, with the way to drop it; nothing of it without one. */
function fromItem(item: WeighInLists['item'], { typed, problems }: FormState): SafeHtml | null {
  if (!typed.item) return null;
  const bin = typed.bin ? `?bin=${encodeURIComponent(typed.bin)}` : '';
  const name =
    item === null
      ? html`No item has the number ${typed.item.slice(0, 40)}`
      : html`From <a href="/items/${item.id}">${itemName(item.id)}</a>, ${item.kind_name}`;
  const problem = problems.item ?? (item === null ? 'Drop it, or look for it under Items.' : undefined);
  return html`<div class="field ${problem === undefined ? '' : 'has-problem'}" id="f-item" tabindex="-1">
  <p class="from-item"><span>${name}</span> <a class="button" href="/weigh-in${bin}">Not from it</a></p>
  ${hiddenField('item', typed.item)}
  ${problem === undefined ? null : html`<p class="problem">${problem}</p>`}
</div>`;
}

/** With one bin there is nothing to choose. */
function withOnlyBin({ bins }: WeighInLists, state: FormState): FormState {
  const only = bins.length === 1 ? bins[0] : undefined;
  return only === undefined || state.typed.bin ? state : { ...state, typed: { ...state.typed, bin: only.code } };
}

const hasProblems = ({ problems }: FormState) => Object.keys(problems).length > 0;

const hasMore = ({ problems }: FormState) => ['unit', 'scale', 'occurredOn', 'note'].some((name) => problems[name]);

/** What was just written down or taken back, and what the bin holds now; with its way back right beside it. */
function said(show: Show, { bins }: WeighInLists, { inWeight, isUndone }: JustDone): SafeHtml {
  const bin = bins.find(({ id }) => id === inWeight.bin_id);
  const holds = bin === undefined ? null : html` ${bin.code} now holds ${show.weight(bin.mass_ug)}.`;
  const weight = show.weight(inWeight.net_ug, inWeight.unit);
  return html`<div class="saved just-done"><p role="status">${weight} ${isUndone ? 'taken back.' : 'added.'}${holds}</p>
  ${isUndone ? null : undoForm(inWeight, false)}</div>`;
}

function lastFive(show: Show, recent: readonly RecentInWeight[]): SafeHtml | null {
  if (recent.length === 0) return null;
  return html`<section class="recent"><h2>Last weighings</h2>
<ul class="rows">${recent.map(
    (inWeight) => html`<li class="${inWeight.is_undone ? 'undone' : ''}">
  <span class="row-main"><b>${show.weight(inWeight.net_ug, inWeight.unit)}</b> ${inWeight.bin_code}
    <small>${inWeight.grade_name}, ${show.day(inWeight.occurred_on)}${inWeight.item_id === null ? '' : `, from ${itemName(inWeight.item_id)}`}${inWeight.is_undone ? ', taken back' : ''}</small></span>
  ${inWeight.is_undone ? null : undoForm(inWeight)}
</li>`,
  )}</ul>
<p><a class="button" href="/in-weights">All weighings</a></p></section>`;
}

const undoForm = (
  inWeight: RecentInWeight,
  isInList = true,
) => html`<form method="post" action="/in-weights/${inWeight.id}/undo">
  ${hiddenField('requestKey', `undo-in-weight-${inWeight.id}`)}
  <button aria-label="Undo the weighing into ${inWeight.bin_code}">Undo</button>
  ${isInList ? html`<a class="button" href="/in-weights/${inWeight.id}/correction">Correct</a>` : null}
</form>`;
