import type { Month, RealisedPriceRow, ShrinkageRow } from '../../server/reports/compute.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { monthLabel, percent, priceDecimals } from './filters.ts';
import { findingLines, type ScaleFindings } from './scales-in-short.ts';

export interface ReportsPage {
  /** Null while nothing was sold. */
  newest: { month: Month; prices: readonly RealisedPriceRow[] } | null;
  /** The usual months together; undefined while nothing was sold. */
  shrinkage: ShrinkageRow | undefined;
  /** What the sales say of the scales; null while nothing was sold. */
  scales: ScaleFindings | null;
  usualMonths: number;
}

/** What can be learned from the sales so far. */
export function reportsPage(show: Show, parts: ReportsPage): SafeHtml {
  return page({
    title: 'Reports',
    show,
    body: html`<h1>Reports</h1>
<div class="ways">
<section class="way">
  <h2><a href="/reports/realised-prices">Realised prices</a></h2>
  <p>What each grade was quoted at, what was paid, and what was left of it after charges, over time.</p>
  ${newestPrices(show, parts)}
</section>
<section class="way">
  <h2><a href="/reports/shrinkage">Shrinkage</a></h2>
  <p>How much of the weight that left home was not paid for, by grade and by yard.</p>
  ${newestShrinkage(show, parts)}
</section>
<section class="way">
  <h2><a href="/reports/scales">Scales</a></h2>
  <p>What each yard weighed beside what was weighed at home, and whose scale is likely off.</p>
  ${parts.scales === null ? nothingYet() : html`<ul class="rows">${findingLines(show, parts.scales).map((line) => html`<li><span>${line}</span></li>`)}</ul>`}
</section>
<section class="way">
  <h2><a href="/reports/earnings">Earnings</a></h2>
  <p>What the things you picked up earned, by kind and for an hour of work.</p>
  <p><a href="/worth">Worth it?</a> <span class="hint">What a thing at the kerb would bring.</span></p>
</section>
</div>`,
  });
}

const nothingYet = () => html`<p class="hint">Nothing was sold yet.</p>`;

function newestPrices(show: Show, { newest }: ReportsPage): SafeHtml {
  if (newest === null) return nothingYet();
  return html`<p><b>Realised in ${monthLabel(show, newest.month)}</b></p>
<ul class="rows">${newest.prices.map(
    (row) => html`<li><a href="/reports/realised-prices?grade=${row.gradeId}">${row.gradeName}</a>
  <span>${show.settings.currency} <b class="figure">${show.figure(row.realisedPrice, priceDecimals(row.per))}</b> per ${row.per}${
    row.realisation === null ? null : html`<small>${percent(show, row.realisation)} of the quote</small>`
  }</span></li>`,
  )}</ul>`;
}

function newestShrinkage(show: Show, { shrinkage, usualMonths }: ReportsPage): SafeHtml {
  if (shrinkage === undefined) return nothingYet();
  const { low, high } = shrinkage.spread;
  return html`<p><b class="figure">${percent(show, shrinkage.totalShare)}</b> of the home weight was not paid for in the
  ${usualMonths} months up to the newest sale: ${percent(show, shrinkage.scaleShare)} between the scales,
  ${percent(show, shrinkage.deductionShare)} in deductions.</p>
${low === null || high === null ? null : html`<p>In the long run it likely lies between ${percent(show, low)} and ${percent(show, high)}.</p>`}`;
}
