import { itemName, itemStatuses, waysGot } from '../../server/items/compute.ts';
import type { ListedItem } from '../../server/items/list.ts';
import type { ListAddresses } from '../../server/web.ts';
import { choiceField, dayField, type FormState, problemSummary, textField } from '../common/form.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { GOT_WORDS, missingOf, STATUS_WORDS, weightOf } from './words.ts';

export interface ItemListParts extends ListAddresses {
  items: readonly ListedItem[];
  kinds: readonly { id: number; name: string }[];
  /** How many items wait, whatever the filter. */
  waiting: number;
  /** The number of an item that was removed a moment ago; 0 for none. */
  removed: number;
  state: FormState;
}

/** What was picked up, newest first. */
export function itemListPage(show: Show, parts: ItemListParts): SafeHtml {
  const { items, waiting, removed } = parts;
  return page({
    title: 'Items',
    show,
    body: html`<div class="head"><h1>Items</h1>
${waiting === 0 ? null : html`<p class="total"><a href="/items?status=waiting"><b>${String(waiting)}</b> waiting</a></p>`}</div>
${removed === 0 ? null : html`<p class="saved" role="status">${itemName(removed)} is removed. The trail keeps it.</p>`}
${problemSummary(parts.state)}
<p class="acts"><a class="button primary" href="/items/new">Pick up an item</a> <a class="button" href="/worth">Worth it?</a> <a class="button" href="/items/parts">Parts kept</a></p>
${items.length === 0 && !parts.isFiltered ? begin : filters(parts)}
${items.length > 0 ? itemTable(show, items) : parts.isFiltered ? html`<p>No item fits this search.</p>` : null}
${newerAndOlder(parts, 'items')}`,
  });
}

const begin = html`<p>Nothing was picked up yet. Write down what you bring home before it is taken apart: where it is from,
  what it weighs and what it cost. Later it says what it brought, and what to do with the next one.</p>`;

/** Folded away until it is wanted: on a phone the list comes first. */
function filters({ kinds, state, isFiltered }: ItemListParts): SafeHtml {
  const kindChoices = kinds.map(({ id, name }) => ({ value: String(id), label: name }));
  const statusChoices = itemStatuses.map((value) => ({ value, label: STATUS_WORDS[value] }));
  const gotChoices = waysGot.map((value) => ({ value, label: GOT_WORDS[value] }));
  return html`<details class="more" ${isFiltered ? html`open` : null}><summary>Which items</summary>
<form method="get" action="/items" class="filters" role="search" aria-label="Items">
  ${textField({ name: 'text', label: 'Words or number' }, state)}
  ${choiceField({ name: 'kind', label: 'Kind', choices: kindChoices, none: 'Every kind' }, state)}
  ${choiceField({ name: 'status', label: 'What became of it', choices: statusChoices, none: 'Whatever' }, state)}
  ${choiceField({ name: 'got', label: 'How it came', choices: gotChoices, none: 'Any way' }, state)}
  ${textField({ name: 'source', label: 'Where from' }, state)}
  ${dayField({ name: 'from', label: 'From' }, state)}
  ${dayField({ name: 'to', label: 'To' }, state)}
  <button>Show</button>
</form></details>`;
}

const itemTable = (show: Show, items: readonly ListedItem[]): SafeHtml => html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Item</th><th scope="col">Picked up</th><th scope="col">Where from</th>
  <th scope="col" class="figure">Weight</th><th scope="col">What became of it</th><th scope="col">Missing</th></tr></thead>
<tbody>${items.map((item) => itemRow(show, item))}</tbody>
</table></div>`;

function itemRow(show: Show, item: ListedItem): SafeHtml {
  const { id, kind_name, name, picked_up_on, got, source, status, closed_on } = item;
  const missing = missingOf(item, item.has_photo === 1).join(', ');
  return html`<tr>
  <th scope="row" data-label="Item"><span><a href="/items/${id}">${itemName(id)}</a> ${kind_name}${name === '' ? null : html`<small class="below">${name}</small>`}</span></th>
  <td class="day" data-label="Picked up">${show.day(picked_up_on)}</td>
  <td class="wordy" data-label="Where from"><span>${GOT_WORDS[got]}${source === '' ? '' : `, ${source}`}</span></td>
  <td class="figure" data-label="Weight">${weightOf(show, item) ?? '–'}</td>
  <td data-label="What became of it"><span>${STATUS_WORDS[status]}${closed_on === null ? null : html`<small class="below">${show.day(closed_on)}</small>`}</span></td>
  <td data-label="Missing">${missing === '' ? '–' : missing}</td>
</tr>`;
}
