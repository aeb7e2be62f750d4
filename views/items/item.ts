import type { Caution } from '../../server/items/cautions.ts';
import { itemName } from '../../server/items/compute.ts';
import type { ItemInWeight, ItemOfKind } from '../../server/items/queries.ts';
import type { BinOnHand } from '../../server/ledger/queries.ts';
import { type PhotosParts, photosSection } from '../attachments/section.ts';
import { choiceField, dayField, type FormState, numberField, problemSummary, requestKeyField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { trailLink } from '../common/trail-link.ts';
import { type EarningsSection, earningsSection, worthLink } from '../earnings/section.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { cautionsSection } from './cautions.ts';
import { beforeYouTakeIt } from './form.ts';
import { type PartSalesParts, partSalesSection } from './part-sales.ts';
import { type TeardownSummary, teardownSection } from './teardown.ts';
import { DEPTH_WORDS, GOT_WORDS, missingOf, STATUS_WORDS, weightOf } from './words.ts';

export interface ItemPageParts {
  item: ItemOfKind;
  /** What to mind before anything is done with it. */
  cautions: readonly Caution[];
  /** Newest first, those taken back too. */
  inWeights: readonly ItemInWeight[];
  /** True when there are more of them than stand here. */
  hasMoreInWeights: boolean;
  /** The bins that it can be weighed into whole: those of its kind's as-is grade first. */
  wholeBins: readonly BinOnHand[];
  /** The grade that its kind is sold as when sold as is; null where none was named. */
  asIsGrade: string | null;
  teardown: TeardownSummary;
  sales: PartSalesParts;
  /** Undefined while there is nothing to say of money. */
  earnings: EarningsSection | undefined;
  photos: PhotosParts;
  /** What was just done, as in the address. */
  done: string;
  starting: FormState['typed'];
}

/** A form of the page that came back with problems. */
export interface ItemPageForms {
  discard?: FormState;
  asIs?: FormState;
  reopen?: FormState;
}

/** One thing that was picked up: what was said of it, what came of it, and what can be done with it. */
export function itemPage(show: Show, parts: ItemPageParts, forms: ItemPageForms = {}): SafeHtml {
  const { item } = parts;
  const name = itemName(item.id);
  return page({
    title: `${name}, ${item.kind_name}`,
    show,
    body: html`<div class="head">
  <h1>${name} <span class="kind">${item.kind_name}</span></h1>
  <p class="total">${weightOf(show, item) === null ? 'not weighed' : html`<b>${weightOf(show, item)}</b>`} · ${STATUS_WORDS[item.status]}</p>
  ${item.name === '' ? null : html`<p class="hint">${item.name}</p>`}
</div>
${doneNote(parts)}
${forms.reopen === undefined ? null : problemSummary(forms.reopen)}
${acts(parts)}
${isGone(item) ? null : cautionsSection(show, parts.cautions)}
${facts(show, parts)}
${parts.earnings === undefined ? null : earningsSection(show, parts.earnings)}
${teardownSection(show, parts.teardown)}
${inWeightsSection(show, parts)}
${partSalesSection(show, parts.sales)}
${photosSection(show, parts.photos)}
${item.status === 'waiting' ? endings(show, parts, forms) : reopening(show, parts)}
${missingOf(item, parts.photos.photos.length > 0).includes('no proof') ? beforeYouTakeIt() : null}
${trailLink('item', item.id, `What was done with ${name}, and when`)}`,
  });
}

const DONE: Readonly<Record<string, string>> = {
  added: 'is saved.',
  corrected: 'is put right.',
  discarded: 'was thrown away. It can be put back to waiting below.',
  reopened: 'is waiting again.',
};

function doneNote({ item, done }: ItemPageParts): SafeHtml | null {
  const words = Object.hasOwn(DONE, done) ? DONE[done] : undefined;
  if (words === undefined) return null;
  const more = html`Write the number on it. <a href="#photos">Add a photo</a>, or <a href="/items/new?like=${item.id}">pick up another</a>.`;
  return html`<p class="saved" role="status">${itemName(item.id)} ${words} ${done === 'added' ? more : null}</p>`;
}

const acts = ({ item }: ItemPageParts): SafeHtml => html`<p class="acts no-print">
  ${isGone(item) ? null : html`<a class="button" href="/weigh-in?item=${item.id}">Weigh in from it</a>`}
  ${item.status === 'waiting' ? worthLink(item.id) : null}
  <a class="button" href="/items/${item.id}/edit">Put it right</a>
  <a class="button" href="/items/new?like=${item.id}">Pick up another</a></p>`;

const isGone = ({ status }: ItemOfKind): boolean => status === 'sold whole' || status === 'discarded';

/** What was said of it. What is missing is said, too: without a proof a yard may turn it away. */
function facts(show: Show, { item, photos }: ItemPageParts): SafeHtml {
  const { got, source, cost_minor: cost, proof, note, status, closed_on, depth, disposal_minor: disposal } = item;
  const missing = missingOf(item, photos.photos.length > 0);
  const came = `${GOT_WORDS[got]}${cost === 0 ? '' : ` for ${show.money(cost)}`}${source === '' ? '' : `, ${source}`}`;
  const ended = closed_on === null ? '' : `${STATUS_WORDS[status]} on ${show.day(closed_on)}`;
  const far = depth === '' ? '' : `, ${DEPTH_WORDS[depth]}`;
  const row = (label: string, text: string) =>
    text === '' ? null : html`<tr><th scope="row">${label}</th><td class="wordy">${text}</td></tr>`;
  return html`<div class="scroll"><table class="facts"><tbody>
${row('Picked up', show.day(item.picked_up_on))}
${row('How it came', came)}
${row('Proof', proof)}
${row('What became of it', `${ended}${far}`)}
${row('Cost to throw away', disposal === 0 ? '' : show.money(disposal))}
${row('Note', note)}
${row('Missing', missing.join(', '))}
</tbody></table></div>`;
}

function inWeightsSection(show: Show, { item, inWeights, hasMoreInWeights }: ItemPageParts): SafeHtml {
  return html`<section aria-labelledby="weighed-title"><h2 id="weighed-title">Weighed in from it</h2>
${inWeights.length === 0 ? html`<p>Nothing of it is in a bin yet.</p>` : inWeightTable(show, inWeights)}
${hasMoreInWeights ? html`<p class="hint">These are the newest; <a href="/in-weights?item=${item.id}">all of them</a>.</p>` : null}</section>`;
}

const inWeightTable = (
  show: Show,
  inWeights: readonly ItemInWeight[],
): SafeHtml => html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Day</th><th scope="col">Bin</th><th scope="col" class="figure">Net</th><th scope="col">Put right</th></tr></thead>
<tbody>${inWeights.map((row) => inWeightRow(show, row))}</tbody></table></div>`;

function inWeightRow(show: Show, row: ItemInWeight): SafeHtml {
  const { id, bin_code: code, grade_name, net_ug, unit, occurred_on, is_estimate, note, is_undone } = row;
  const said = [is_estimate === 1 ? 'an estimate' : '', note].filter((text) => text !== '').join(' · ');
  return html`<tr class="${is_undone === 1 ? 'undone' : ''}">
  <td class="day" data-label="Day">${show.day(occurred_on)}</td>
  <td data-label="Bin"><span><a class="code" href="/bins/${encodeURIComponent(code)}">${code}</a> ${grade_name}${said === '' ? null : html`<small class="below">${said}</small>`}</span></td>
  <td class="figure" data-label="Net"><b>${show.weight(net_ug, unit)}</b></td>
  <td data-label="Put right">${is_undone === 1 ? 'taken back' : html`<a class="put-right" href="/in-weights/${id}/correction">Correct, undo</a>`}</td>
</tr>`;
}

/** How it may end without being taken apart: weighed in whole, or thrown away. */
function endings(show: Show, parts: ItemPageParts, { asIs, discard }: ItemPageForms): SafeHtml {
  return html`<div class="ways no-print">${asIsForm(parts, asIs)}${discardForm(show, parts, discard)}</div>`;
}

function asIsForm({ item, wholeBins, asIsGrade, starting }: ItemPageParts, failed?: FormState): SafeHtml {
  const state = { ...(failed ?? { typed: starting, problems: {} }), idPrefix: 'as-is-' };
  const choices = wholeBins.map(({ code, grade_name }) => ({ value: code, label: `${code} · ${grade_name}` }));
  const known =
    asIsGrade === null
      ? html` <a href="/setup/item-kinds/${item.item_kind_id}">Say what such a thing is sold as</a>, and its bin is chosen here.`
      : html` Yards commonly take such a thing as ${asIsGrade}.`;
  return html`<section class="way" id="as-is"><h2>Sell it as is</h2>
<p>It goes into a bin whole, and is sold with what is in there.${known}</p>
${
  choices.length === 0
    ? html`<p><a href="/setup/bins">Name a bin for it first</a>.</p>`
    : html`<form method="post" action="/items/${item.id}/sale-as-is">
  ${problemSummary(state)}${requestKeyField(state)}
  ${choiceField({ name: 'bin', label: 'Into bin', choices, none: 'Choose a bin' }, state)}
  ${dayField({ name: 'closedOn', label: 'Day' }, state)}
  <button>Sell as is, and weigh it in</button>
</form>`
}</section>`;
}

function discardForm(show: Show, { item, starting }: ItemPageParts, failed?: FormState): SafeHtml {
  const state = { ...(failed ?? { typed: starting, problems: {} }), idPrefix: 'discard-' };
  return html`<section class="way" id="discard"><h2>Throw it away</h2>
<p>For what turned out to be worth nothing. How it may be thrown away, and where, local rules decide.</p>
<form method="post" action="/items/${item.id}/discarding" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${numberField({ name: 'disposal', label: `What that cost (${show.settings.currency})`, hint: 'Empty for nothing.' }, state)}
  ${dayField({ name: 'closedOn', label: 'Day' }, state)}
  <button>It was thrown away</button>
</form></section>`;
}

function reopening(show: Show, { item }: ItemPageParts): SafeHtml {
  const said = item.closed_on === null ? '' : ` on ${show.day(item.closed_on)}`;
  return html`<section class="no-print"><h2>Not so?</h2>
<p>It was written down as ${STATUS_WORDS[item.status]}${said}. Put back to waiting, what was weighed in from it stays where it is.</p>
<form method="post" action="/items/${item.id}/reopening">${requestKeyField({ typed: {}, problems: {} })}
  <button class="quiet">Put it back to waiting</button></form></section>`;
}
