import { daysToSell, netOfSale } from '../../server/items/part-sale-figures.ts';
import type { PartSale } from '../../server/items/part-sale-queries.ts';
import type { ItemOfKind } from '../../server/items/queries.ts';
import type { ItemOutput } from '../../server/items/teardown-queries.ts';
import type { Typed } from '../../server/reading.ts';
import {
  choiceField,
  dayField,
  type FormState,
  hiddenField,
  noProblems,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { wordsOf } from './name.ts';

/** What was sold of an item for reuse, and what may still be sold. */
export interface PartSalesParts {
  item: ItemOfKind;
  /** Sales of the item, newest first, those taken back too. */
  sales: readonly PartSale[];
  /** Its parts kept that were not taken back, sold ones too. */
  parts: readonly ItemOutput[];
  /** What was done a moment ago, as in the address. */
  done: string;
  starting: Typed;
}

const DONE: Record<string, string> = { sold: 'The sale is written down.', undone: 'The sale is taken back.' };

/** Selling a part of an item, or the whole of it, for reuse. */
export function partSalesPage(
  show: Show,
  parts: PartSalesParts,
  { sale, undo }: { sale?: FormState; undo?: FormState } = {},
): SafeHtml {
  const { item, done } = parts;
  return page({
    title: `Sales of item ${item.id}`,
    show,
    body: html`<h1>Sold for reuse: ${wordsOf(item)}</h1>
<p class="hint"><a class="alone" href="/items/${item.id}">Item ${item.id}</a> · <a class="alone" href="/items/${item.id}/teardown">its teardown</a> · <a class="alone" href="/items/parts">all parts kept and sold</a></p>
${Object.hasOwn(DONE, done) ? html`<p class="saved" role="status">${DONE[done]}</p>` : null}
${undo === undefined ? null : problemSummary(undo)}
${saleForm(parts, sale)}
<h2>Sold so far</h2>
${saleList(show, parts.sales)}`,
  });
}

function saleForm({ item, parts, starting }: PartSalesParts, failed: FormState | undefined): SafeHtml {
  const state = { ...(failed ?? noProblems(starting)), idPrefix: 'sale-' };
  const choices = [
    { value: 'whole', label: 'The whole item' },
    ...parts.map(({ id, name, sale_id: saleId }) => ({
      value: String(id),
      label: saleId === null ? name : `${name} (sold)`,
    })),
  ];
  return html`<form method="post" action="/items/${item.id}/sales" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${choiceField({ name: 'what', label: 'What was sold', choices, none: 'Choose', hint: 'A part is written down on the teardown sheet first.' }, state)}
  <div class="pair">
    ${numberField({ name: 'price', label: 'Price' }, state)}
    ${numberField({ name: 'fees', label: 'Fees', hint: 'taken off' }, state)}
    ${numberField({ name: 'postage', label: 'Postage', hint: 'taken off' }, state)}
  </div>
  <div class="pair">
    ${dayField({ name: 'listedOn', label: 'Offered since', hint: 'May stay empty.' }, state)}
    ${dayField({ name: 'soldOn', label: 'Sold on' }, state)}
  </div>
  ${noteField({ name: 'note', label: 'Note' }, state)}
  <button class="primary">Write down the sale</button>
</form>`;
}

/** What was sold of an item for reuse, on its page: net and days to sell, each with its way back. */
export function partSalesSection(show: Show, { item, sales }: Pick<PartSalesParts, 'item' | 'sales'>): SafeHtml {
  return html`<section id="sales" aria-labelledby="sales-title"><h2 id="sales-title">Sold for reuse</h2>
${saleList(show, sales)}
<p class="acts no-print"><a class="button" href="/items/${item.id}/sales">Sell a part or the whole item</a></p>
</section>`;
}

const saleList = (show: Show, sales: readonly PartSale[]): SafeHtml =>
  sales.length === 0
    ? html`<p>Nothing of it was sold for reuse.</p>`
    : html`<ul class="rows">${sales.map((sale) => saleRow(show, sale))}</ul>`;

function saleRow(show: Show, sale: PartSale): SafeHtml {
  const { id, item_id: itemId, part_name: part, is_undone: isUndone } = sale;
  return html`<li class="${isUndone ? 'undone' : ''}">
  <span class="row-main"><b>${show.money(netOfSale(sale))}</b> net, ${part ?? 'the whole item'}
    <small>${saleWords(show, sale)}${isUndone ? ', taken back' : ''}${sale.note === '' ? '' : ` · ${sale.note}`}</small></span>
  ${
    isUndone
      ? html`<a class="put-right" href="/items/${itemId}/sales?again=${id}">Type it again</a>`
      : html`<form method="post" action="/part-sales/${id}/undo">${hiddenField('requestKey', `undo-part-sale-${id}`)}
    <button class="quiet" aria-label="Undo the sale of ${part ?? 'the whole item'}">Undo</button></form>`
  }
</li>`;
}

/** "$20.00 less fees $2.00 and postage $3.00, sold 3 Mar 2025 after 12 days" */
function saleWords(show: Show, sale: PartSale): string {
  const off = [
    sale.fees_minor === 0 ? '' : `fees ${show.money(sale.fees_minor)}`,
    sale.postage_minor === 0 ? '' : `postage ${show.money(sale.postage_minor)}`,
  ].filter(Boolean);
  const less = off.length === 0 ? '' : ` less ${off.join(' and ')}`;
  const days = daysToSell(sale);
  return `${show.money(sale.price_minor)}${less}, sold ${show.day(sale.sold_on)}${days === null ? '' : ` after ${writeDays(String(days))}`}`;
}

/** @param days a figure as it is shown */
export const writeDays = (days: string): string => `${days} ${days === '1' ? 'day' : 'days'}`;
