import type { OfferedBin } from '../../server/manifests/pages.ts';
import { type AmountMinor, sumMoney } from '../../server/money/money.ts';
import type { Yard } from '../../server/setup/queries.ts';
import { sumMass } from '../../server/units/mass.ts';
import { choiceField, type FormState, noteField, problemSummary, requestKeyField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { expectedText, quoteText } from './words.ts';

export interface NewManifestParts {
  yards: Yard[];
  /** The yard chosen so far. */
  yard: Yard | undefined;
  bins: OfferedBin[];
  ticked: ReadonlySet<number>;
}

/** Choose the yard and the bins that go there. */
export function newManifestPage(show: Show, parts: NewManifestParts, state: FormState): SafeHtml {
  return page({ title: 'New manifest', show, body: html`<h1>New manifest</h1>${bodyOf(show, parts, state)}` });
}

function bodyOf(show: Show, parts: NewManifestParts, state: FormState): SafeHtml {
  if (parts.yards.length === 0) {
    return html`<p>There is no yard yet. <a href="/setup/yards">Name the yards</a> you sell to.</p>`;
  }
  if (parts.bins.length === 0)
    return html`<p>No bin holds anything. <a href="/weigh-in">Weigh something in</a> first.</p>`;
  const choices = parts.yards.map(({ id, name }) => ({ value: String(id), label: name }));
  const attributes = html`hx-get="/manifests/new/bins" hx-trigger="change" hx-include="[name='yard'], [name='bins']"
    hx-target="#offered"`;
  return html`<form method="post" action="/manifests">
  ${problemSummary(state)}${requestKeyField(state)}
  <div class="filters">
    ${choiceField({ name: 'yard', label: 'Yard', choices, none: 'Choose a yard', attributes }, state)}
    <button formmethod="get" formaction="/manifests/new" class="quiet">Show its prices</button>
  </div>
  <div id="offered">${offeredBins(show, parts, state)}</div>
  ${noteField({ name: 'note', label: 'Note' }, state)}
  <button class="primary">Begin the manifest</button>
</form>`;
}

/** The bins to tick, at the yard's newest quotes, and what the ticked ones come to. Also served on its own. */
export function offeredBins(show: Show, parts: NewManifestParts, { problems }: FormState): SafeHtml {
  const problem = problems.bins;
  const total = sumMass(parts.bins.map(({ bin }) => bin.mass_ug));
  return html`<div class="scroll" hx-get="/manifests/new/bins" hx-trigger="change" hx-include="[name='yard'], [name='bins']"
  hx-select="#ticked" hx-target="#ticked" hx-swap="outerHTML"><table class="stack">
<caption id="f-bins" tabindex="-1">Which bins go${problem === undefined ? null : html` <span class="problem">${problem}</span>`}</caption>
<thead><tr><th scope="col"><span class="away">Goes</span></th><th scope="col">Grade</th>
  <th scope="col" class="figure">Weight, ${show.settings.unit}</th><th scope="col" class="figure">Value</th>
  <th scope="col" class="quote">${parts.yard === undefined ? 'Quote' : `Quote of ${parts.yard.name}`}</th></tr></thead>
<tbody>${parts.bins.map((each) => binRow(show, parts, each))}</tbody>
<tfoot><tr class="sum-row"><th scope="row" colspan="2" data-label="">All of them</th><td class="figure" data-label="Weight, ${show.settings.unit}">${show.weightFigure(total)}</td>
  <td class="figure" data-label="Value">${parts.yard === undefined ? '–' : show.money(sumOfValues(parts.bins))}</td><td class="no-stack"></td></tr></tfoot>
</table></div>
${tickedSum(show, parts)}`;
}

const sumOfValues = (bins: readonly OfferedBin[]): AmountMinor =>
  sumMoney(bins.flatMap(({ valueMinor }) => (valueMinor === null ? [] : [valueMinor])));

function binRow(show: Show, { ticked, yard }: NewManifestParts, { bin, quote, valueMinor }: OfferedBin): SafeHtml {
  return html`<tr>
  <td class="tick"><label><input type="checkbox" name="bins" value="${bin.id}" ${ticked.has(bin.id) ? html`checked` : null}>
    <b class="code">${bin.code}</b></label></td>
  <td data-label="Grade"><span>${swatch(bin.family)} ${bin.grade_name}</span></td>
  <td class="figure" data-label="Weight, ${show.settings.unit}">${show.weightFigure(bin.mass_ug)}</td>
  <td class="figure" data-label="Value">${yard === undefined ? '–' : expectedText(show, quote, valueMinor)}</td>
  <td class="quote" data-label="Quote"><span>${yard === undefined ? 'choose a yard' : quoteText(show, quote)}</span></td>
</tr>`;
}

function tickedSum(show: Show, { bins, ticked, yard }: NewManifestParts): SafeHtml {
  const chosen = bins.filter(({ bin }) => ticked.has(bin.id));
  const mass = sumMass(chosen.map(({ bin }) => bin.mass_ug));
  const count = chosen.length === 1 ? '1 bin' : `${chosen.length} bins`;
  return html`<p id="ticked" class="total" aria-live="polite">${
    chosen.length === 0
      ? null
      : html`${count} ticked: <b>${show.weight(mass)}</b>${yard === undefined ? null : html`, ${show.money(sumOfValues(chosen))} expected`}`
  }</p>`;
}
