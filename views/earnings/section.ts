import type { GradeLine, ItemEarnings } from '../../server/earnings/compute.ts';
import type { ItemSale } from '../../server/layers/queries.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { countOf, likelySaid, major, minutesOf, minutesSaid, soldAndRest } from './words.ts';

/** What the page of an item says of its earnings. */
export interface EarningsSection {
  earnings: ItemEarnings;
  /** What tickets paid for its material, newest first. */
  sales: readonly ItemSale[];
}

/** The way from an item to the question what is best done with it. */
export const worthLink = (itemId: number): SafeHtml =>
  html`<a class="button" href="/items/${itemId}/worth">Worth it?</a>`;

/** What an item earned so far, where its material is, and the tickets that paid for it. */
export function earningsSection(show: Show, { earnings, sales }: EarningsSection): SafeHtml {
  const { item, grades } = earnings;
  return html`<section class="earnings"><h2 id="earnings">Earnings</h2>
<p class="lead"><b class="figure">${show.money(earnings.moneyMinor)}</b>: ${soldAndRest(show, earnings)}${costsSaid(show, earnings)}.</p>
<p>${perHourSaid(show, earnings)}</p>
${notes(show, earnings)}
${grades.length === 0 ? null : gradeTable(show, grades)}
${
  sales.length === 0
    ? null
    : html`<h3>Paid on tickets</h3><ul class="rows">${sales.map(
        (sale) => html`<li><a class="row-link" href="/tickets/${sale.ticket_id}">${sale.yard_name} ${sale.number}</a>
  <span>${show.day(sale.sold_on)}, ${show.weight(sale.mass_ug)} ${sale.grade_name}: <b class="figure">${show.money(sale.earned_minor)}</b></span></li>`,
      )}</ul><p class="hint">Its share of each ticket, after charges. What goes into a bin first leaves it first.</p>`
}
<p class="hint"><a class="alone" href="/reports/earnings?kind=${item.kindId}">What other items of this kind earned</a></p></section>`;
}

function costsSaid(show: Show, { costsMinor, item }: ItemEarnings): string {
  if (costsMinor === 0) return '';
  const parts = [
    item.costMinor === 0 ? '' : `${show.money(item.costMinor)} paid for it`,
    item.disposalMinor === 0 ? '' : `${show.money(item.disposalMinor)} for disposal`,
  ];
  return `, less ${parts.filter((part) => part !== '').join(' and ')}`;
}

function perHourSaid(show: Show, { perHour, item, restMinor }: ItemEarnings): SafeHtml {
  if (perHour === null) return html`No minutes are noted, so there is no money per hour.`;
  const isEstimate = restMinor === 0 ? '' : ', what is still in bins counted as an estimate';
  return html`<b class="figure">${major(show, perHour)}</b> an hour, for ${minutesSaid(show, minutesOf(item.seconds))}${isEstimate}.`;
}

function notes(show: Show, { item, unquotedUg, isFullySold }: ItemEarnings): SafeHtml | null {
  const sentences = [
    item.reuseSales === 0
      ? ''
      : `Sold for reuse: ${show.money(item.reuseMinor)} in ${countOf(item.reuseSales, 'sale')}, after fees and postage.`,
    item.isRunning ? 'Its clock is running: that time counts once it is stopped.' : '',
    unquotedUg > 0 ? `${show.weight(unquotedUg)} has no quote and counts as nothing.` : '',
    item.partsKept === 0 ? '' : `${countOf(item.partsKept, 'part')} kept and not sold: counted as nothing.`,
    isFullySold ? 'Nothing of it is left in bins.' : '',
  ].filter((sentence) => sentence !== '');
  return sentences.length === 0 ? null : html`<p class="hint">${sentences.join(' ')}</p>`;
}

const gradeTable = (show: Show, grades: readonly GradeLine[]): SafeHtml => html`<div class="scroll" role="region"
  aria-labelledby="earnings" tabindex="0"><table class="stack" aria-labelledby="earnings">
<thead><tr><th scope="col">Grade</th><th scope="col" class="figure">Weighed in</th><th scope="col" class="figure">Sold</th>
  <th scope="col" class="figure">Still there</th><th scope="col">Likely price</th><th scope="col" class="figure">Money</th></tr></thead>
<tbody>${grades.map((line) => gradeRow(show, line))}</tbody></table></div>`;

const gradeRow = (
  show: Show,
  line: GradeLine,
): SafeHtml => html`<tr><th scope="row" data-label="">${line.grade_name}</th>
  <td class="figure" data-label="Weighed in">${show.weight(line.weighed_ug)}</td>
  <td class="figure" data-label="Sold">${show.weight(line.sold_ug)}</td>
  <td class="figure" data-label="Still there">${stillThere(show, line)}</td>
  <td data-label="Likely price">${line.restUg === 0 ? '–' : line.price === null ? 'no quote' : html`<span>${likelySaid(show, line.price)}</span>`}</td>
  <td class="figure" data-label="Money">${moneyCell(show, line)}</td></tr>`;

const stillThere = (show: Show, { restUg, loaded_ug }: GradeLine): SafeHtml =>
  html`<span>${show.weight(restUg)}${loaded_ug === 0 ? null : html`<small>${show.weight(loaded_ug)} of it loaded</small>`}</span>`;

function moneyCell(show: Show, { earned_minor, restMinor, restUg }: GradeLine): SafeHtml {
  const rest =
    restUg === 0
      ? null
      : html`<small>${restMinor === null ? 'the rest: no quote' : `about ${show.money(restMinor)} more`}</small>`;
  return html`<span><b>${show.money(earned_minor)}</b>${rest}</span>`;
}
