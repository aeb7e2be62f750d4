import { type Reminder, reminders } from '../../seed/cautions.ts';
import { itemName, waysGot } from '../../server/items/compute.ts';
import type { ItemOfKind } from '../../server/items/queries.ts';
import {
  choiceField,
  dayField,
  type FormState,
  massUnitChoices,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { trailLink } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { DEPTH_WORDS, GOT_WORDS } from './words.ts';

/** The kinds to choose from. */
export type KindChoices = readonly { id: number; name: string }[];

/** A pick-up by thumb: what it is, its weight, how it came, where from; the rest below. */
export function pickUpPage(show: Show, kinds: KindChoices, state: FormState): SafeHtml {
  return page({
    title: 'Pick up an item',
    show,
    body: html`<h1>Pick up an item</h1>
<form method="post" action="/items" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${itemFields(show, kinds, state)}
  <button class="primary big">Save the item</button>
</form>
<p class="hint">A photo of it, or of its proof, can be added right after it is saved.</p>
${beforeYouTakeIt()}`,
  });
}

/** Puts right what was said of an item, and of its end when it has one. */
export function itemEditPage(show: Show, item: ItemOfKind, kinds: KindChoices, state: FormState): SafeHtml {
  const name = itemName(item.id);
  return page({
    title: `Put ${name} right`,
    show,
    body: html`<p class="way-back"><a href="/items">Items</a> / <a href="/items/${item.id}">${name}</a></p>
<h1>Put ${name} right</h1>
<p>The trail keeps what it said before, so that it can be put back.</p>
<form method="post" action="/items/${item.id}/corrections" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${itemFields(show, kinds, state)}
  ${item.status === 'waiting' ? null : endFields(item, state)}
  <button class="primary">Save</button>
</form>
<section class="no-print"><h2>Written down by mistake?</h2>
<p>It can be removed as long as no weighing, time, sale or photo is kept with it. The trail keeps it.</p>
<form method="post" action="/items/${item.id}/removal">${requestKeyField({ typed: {}, problems: {} })}
  <button class="quiet">Remove ${name}</button></form>
${trailLink('item', item.id, `What was done with ${name}, and when`)}</section>`,
  });
}

function itemFields(show: Show, kinds: KindChoices, state: FormState): SafeHtml {
  const kindChoices = kinds.map(({ id, name }) => ({ value: String(id), label: name }));
  const gotChoices = waysGot.map((value) => ({ value, label: GOT_WORDS[value] }));
  const newKind = kinds.length === 0 ? 'Kind, such as washing machine' : 'or a new kind';
  return html`<div class="pair">
    ${kinds.length === 0 ? null : choiceField({ name: 'kind', label: 'Kind', choices: kindChoices, none: 'Choose a kind' }, state)}
    ${textField({ name: 'newKind', label: newKind, attributes: html`data-till-skip` }, state)}
  </div>
  <div class="pair">
    ${numberField({ name: 'weight', label: 'Weight of the whole thing', letters: true, hint: 'May stay empty until it is weighed.' }, state)}
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices, attributes: html`data-till-skip` }, state)}
  </div>
  <div class="pair">
    ${choiceField({ name: 'got', label: 'How it came', choices: gotChoices }, state)}
    ${numberField({ name: 'cost', label: `Cost (${show.settings.currency}), when it was bought` }, state)}
  </div>
  ${textField({ name: 'source', label: 'Where from' }, state)}
  ${dayField({ name: 'pickedUpOn', label: 'Day' }, state)}
  ${noteField({ name: 'proof', label: 'Proof that it may be taken', hint: 'Who gave it, a receipt, a note with a name and a day.' }, state)}
  ${textField({ name: 'name', label: 'Name or make', hint: 'What tells it from others of its kind.' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}`;
}

function endFields({ status }: ItemOfKind, state: FormState): SafeHtml {
  const depthChoices = Object.entries(DEPTH_WORDS).map(([value, label]) => ({ value, label }));
  return html`<fieldset><legend>How it ended</legend>
  ${dayField({ name: 'closedOn', label: 'Day' }, state)}
  ${status === 'taken apart' ? choiceField({ name: 'depth', label: 'How far', choices: depthChoices, none: 'Not said' }, state) : null}
  ${numberField({ name: 'disposal', label: 'What it cost to throw away, or what was left of it' }, state)}
</fieldset>`;
}

/** What yards commonly refuse or must record, in short, where it can still decide whether a thing is taken at all. */
export const beforeYouTakeIt = (): SafeHtml => html`<section class="no-print" aria-labelledby="before-title">
<h2 id="before-title">Before you take it</h2>
<p>Ask whoever has it whether it may be taken, and write their answer into the proof. What stands at the kerb may belong to
  the town or to its hauler; local rules decide.</p>
${reminders.map(
  ({ title, points, basis }: Reminder) => html`<details class="more"><summary>${title}</summary>
<ul>${points.map((point) => html`<li>${point}</li>`)}</ul><p class="hint">${basis}</p></details>`,
)}</section>`;
