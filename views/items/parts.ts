import { daysToSell, netOfSale } from '../../server/items/part-sale-figures.ts';
import type { PartSale, SalesOfKind } from '../../server/items/part-sale-queries.ts';
import type { KeptPart } from '../../server/items/teardown-queries.ts';
import type { ListAddresses } from '../../server/web.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { wordsOf } from './name.ts';
import { writeDays } from './part-sales.ts';

export interface PartsPageParts extends ListAddresses {
  /** Kept and not sold yet, the oldest first. */
  kept: readonly KeptPart[];
  /** True when there are more than are shown. */
  hasMoreKept: boolean;
  /** Sales that stand, newest first. */
  sales: readonly PartSale[];
  kinds: readonly SalesOfKind[];
}

/** Parts that were kept and not sold yet, what was sold for reuse, and how long each kind took. */
export function partsPage(show: Show, parts: PartsPageParts): SafeHtml {
  return page({
    title: 'Parts kept and sold',
    show,
    body: html`<h1>Parts kept and sold for reuse</h1>
${keptTable(show, parts)}
${parts.kinds.length === 0 ? null : kindsTable(show, parts.kinds)}
${salesTable(show, parts)}`,
  });
}

function keptTable(show: Show, { kept, hasMoreKept }: PartsPageParts): SafeHtml {
  if (kept.length === 0)
    return html`<h2>Kept</h2><p>No part is kept that was not sold. Parts are written down on the teardown sheet of their item.</p>`;
  return html`<h2>Kept</h2><div class="scroll"><table class="stack">
<caption>Not sold yet, the oldest first${hasMoreKept ? `, the first ${kept.length}` : ''}</caption>
<thead><tr><th scope="col">Part</th><th scope="col">From</th><th scope="col" class="figure">Weight</th><th scope="col">Kept since</th><th scope="col">Sold?</th></tr></thead>
<tbody>${kept.map(
    (part) => html`<tr>
  <th scope="row" data-label="Part">${part.name}</th>
  <td data-label="From"><a href="/items/${part.item_id}">Item ${part.item_id}, ${wordsOf({ kind_name: part.kind_name, name: part.item_name })}</a></td>
  <td class="figure" data-label="Weight">${part.net_ug === null ? 'not weighed' : show.weight(part.net_ug, part.unit)}</td>
  <td data-label="Kept since">${show.day(part.occurred_on)}, ${show.age(part.occurred_on)}</td>
  <td data-label="Sold?"><a class="put-right" href="/items/${part.item_id}/sales?part=${part.id}" aria-label="It was sold: ${part.name}">It was sold</a></td>
</tr>`,
  )}</tbody></table></div>`;
}

const kindsTable = (show: Show, kinds: readonly SalesOfKind[]): SafeHtml => html`<h2 id="days">How long it took</h2>
<div class="scroll" role="region" aria-labelledby="days" tabindex="0"><table>
<caption>Sales by kind of item. Median: half of them took less, half more</caption>
<thead><tr><th scope="col">Kind</th><th scope="col" class="figure">Sales</th><th scope="col" class="figure">Net</th><th scope="col" class="figure">Median days to sell</th></tr></thead>
<tbody>${kinds.map(
  (
    kind,
  ) => html`<tr><th scope="row">${kind.kindName}</th><td class="figure">${String(kind.count)}</td><td class="figure">${show.money(kind.netMinor)}</td>
  <td class="figure">${kind.medianDays === null ? 'not known' : show.digits(String(kind.medianDays))}${kind.listed < kind.count && kind.listed > 0 ? html` <small>of ${String(kind.listed)}</small>` : null}</td></tr>`,
)}</tbody></table></div>`;

function salesTable(show: Show, parts: PartsPageParts): SafeHtml {
  const { sales } = parts;
  if (sales.length === 0) return html`<h2>Sold</h2><p>Nothing was sold for reuse yet.</p>`;
  return html`<h2>Sold</h2><div class="scroll"><table class="stack">
<caption>Newest first. Net is price less fees and postage</caption>
<thead><tr><th scope="col">Sold on</th><th scope="col">What</th><th scope="col" class="figure">Price</th><th scope="col" class="figure">Net</th><th scope="col">Days to sell</th></tr></thead>
<tbody>${sales.map((sale) => {
    const days = daysToSell(sale);
    return html`<tr>
  <td class="day" data-label="Sold on">${show.day(sale.sold_on)}</td>
  <td data-label="What"><a href="/items/${sale.item_id}/sales">${sale.part_name ?? 'Whole'}, item ${sale.item_id}, ${wordsOf({ kind_name: sale.kind_name, name: sale.item_name })}</a></td>
  <td class="figure" data-label="Price">${show.money(sale.price_minor)}</td>
  <td class="figure" data-label="Net"><b>${show.money(netOfSale(sale))}</b></td>
  <td data-label="Days to sell">${days === null ? 'not known' : writeDays(String(days))}</td>
</tr>`;
  })}</tbody></table></div>
${newerAndOlder(parts, 'sales')}`;
}
