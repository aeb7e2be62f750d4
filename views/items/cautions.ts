import { LOCAL_FIRST } from '../../seed/cautions.ts';
import type { Caution } from '../../server/items/cautions.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backToSetUp } from '../setup/parts.ts';

const ALL_CAUTIONS = '/setup/cautions';

/**
 * The cautions of an item, before anything is taken apart: what is special about it in full, what belongs to every
 * workshop folded, and local codes before all of it.
 */
export function cautionsSection(show: Show, cautions: readonly Caution[]): SafeHtml {
  const special = cautions.filter(({ isGeneral }) => !isGeneral);
  const general = cautions.filter(({ isGeneral }) => isGeneral);
  return html`<section class="with-care" aria-labelledby="with-care"><h2 id="with-care">With care</h2>
${
  special.length === 0
    ? html`<p>Nothing special is known of this kind. What belongs to every workshop stands below.</p>`
    : cautionList(special)
}
${generalCautions(general)}
<p class="local-first"><b>${LOCAL_FIRST}</b>${
    show.frame.path.startsWith(ALL_CAUTIONS)
      ? null
      : html` <a class="no-print" href="${ALL_CAUTIONS}">All cautions and their sources</a>`
  }</p>
</section>`;
}

/** Folded on the screen, so that what is special stands out; on paper it is open. */
const generalCautions = (cautions: readonly Caution[]): SafeHtml | null =>
  cautions.length === 0
    ? null
    : html`<details class="every-workshop"><summary><span>In every workshop <small>${cautions
        .map(({ title }) => title.toLowerCase())
        .join(' · ')}</small></span></summary>
${cautionList(cautions)}
</details>`;

const cautionList = (cautions: readonly Caution[]): SafeHtml =>
  html`<ul class="hazards">${cautions.map(cautionItem)}</ul>`;

/** What can happen first, then what is usually done about it, and where that is written. */
const cautionItem = ({ title, hazard, precaution, licence, basis }: Caution): SafeHtml => html`<li>
  <h3>${title}</h3>
  <p class="hazard"><b>What can happen:</b> ${hazard}</p>
  <p><b>Usual precaution:</b> ${precaution}</p>
  ${licence === '' ? null : html`<p class="licence"><b>Licensed practice:</b> ${licence}</p>`}
  <p><small>Basis: ${basis}</small></p>
</li>`;

/** Every caution of Tarebook with its source, to read through and to hang up. */
export const cautionsPage = (show: Show, cautions: readonly Caution[]): SafeHtml =>
  page({
    title: 'Cautions',
    show,
    body: html`${backToSetUp}<h1>Cautions</h1>
<p>The usual precautions with where each is published. They stand on each item before it is taken apart, and those for
  the yard on the sheet to take along. None of them says how to do what needs a licence, or that anything is safe.
  “From memory” means that the source was not at hand when this was written.</p>
<p class="no-print">Which cautions a kind of item has is ticked <a href="/setup/item-kinds">with the kind</a>; some words
  in its name bring them up too.</p>
<section class="with-care"><h2>Special to some items</h2>
${cautionList(cautions.filter(({ isGeneral }) => !isGeneral))}
<h2>In every workshop</h2>
${cautionList(cautions.filter(({ isGeneral }) => isGeneral))}
<p class="local-first"><b>${LOCAL_FIRST}</b></p></section>`,
  });
