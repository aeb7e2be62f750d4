import { itemName } from '../../server/items/compute.ts';
import type { BinOnHand, RecentInWeight } from '../../server/ledger/queries.ts';
import type { ListAddresses } from '../../server/web.ts';
import { choiceField, dayField, type FormState, textField } from '../common/form.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

export interface InWeightListParts extends ListAddresses {
  inWeights: readonly RecentInWeight[];
  bins: readonly BinOnHand[];
  devices: readonly string[];
  state: FormState;
}

/** The weighings by day, newest first, those taken back too. */
export function inWeightListPage(show: Show, parts: InWeightListParts): SafeHtml {
  return page({
    title: 'Weighings',
    show,
    body: html`<h1>Weighings</h1>
${filters(parts)}
${parts.inWeights.length === 0 ? html`<p>${parts.isFiltered ? 'No weighing fits this filter.' : 'Nothing was weighed in yet.'}</p>` : inWeightTable(show, parts)}
${newerAndOlder(parts, 'weighings')}
${parts.state.typed.id === undefined ? null : html`<p><a href="/in-weights">All weighings</a></p>`}`,
  });
}

function filters({ bins, devices, state }: InWeightListParts): SafeHtml {
  const binChoices = bins.map(({ code, grade_name }) => ({ value: code, label: `${code} · ${grade_name}` }));
  const deviceChoices = devices.map((name) => ({ value: name, label: name }));
  return html`<form method="get" action="/in-weights" class="filters" role="search" aria-label="Weighings">
  ${choiceField({ name: 'bin', label: 'Bin', choices: binChoices, none: 'Every bin' }, state)}
  ${dayField({ name: 'from', label: 'From' }, state)}
  ${dayField({ name: 'to', label: 'To' }, state)}
  ${textField({ name: 'text', label: 'Words of its note' }, state)}
  ${textField({ name: 'item', label: 'From item' }, state)}
  ${deviceChoices.length < 2 ? null : choiceField({ name: 'device', label: 'Device', choices: deviceChoices, none: 'Every device' }, state)}
  <button>Show</button>
</form>`;
}

const inWeightTable = (
  show: Show,
  { inWeights }: InWeightListParts,
): SafeHtml => html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Day</th><th scope="col">Bin</th><th scope="col" class="figure">Net</th>
  <th scope="col">As weighed</th><th scope="col">Put right</th></tr></thead>
<tbody>${inWeights.map((inWeight) => inWeightRow(show, inWeight))}</tbody>
</table></div>`;

const fromItem = ({ item_id: id }: RecentInWeight): SafeHtml | null =>
  id === null ? null : html`<small class="below">from <a href="/items/${id}">${itemName(id)}</a></small>`;

function inWeightRow(show: Show, inWeight: RecentInWeight): SafeHtml {
  const { id, unit, note, correction_reason: reason, bin_code: code } = inWeight;
  const gross = show.typedWeight(inWeight.gross_typed, unit, inWeight.gross_ug);
  const tare = show.typedWeight(inWeight.tare_typed, unit, inWeight.tare_ug);
  const said = [inWeight.is_estimate === 1 ? 'an estimate' : '', note, reason === '' ? '' : `corrected: ${reason}`];
  const isGone = inWeight.is_undone === 1;
  return html`<tr class="${isGone ? 'undone' : ''}">
  <td class="day" data-label="Day">${show.day(inWeight.occurred_on)}</td>
  <td data-label="Bin"><span><a class="code" href="/bins/${encodeURIComponent(code)}">${code}</a> ${inWeight.grade_name}${fromItem(inWeight)}</span></td>
  <td class="figure" data-label="Net"><b>${show.weight(inWeight.net_ug, unit)}</b></td>
  <td class="wordy" data-label="As weighed"><span>${gross} − ${tare}<small class="below">${said.filter((text) => text !== '').join(' · ')}</small></span></td>
  <td data-label="Put right">${
    isGone
      ? html`<span>taken back <a class="put-right" href="/weigh-in?again=${id}">Weigh in again</a></span>`
      : html`<a class="put-right" href="/in-weights/${id}/correction">Correct, undo</a>`
  }</td>
</tr>`;
}
