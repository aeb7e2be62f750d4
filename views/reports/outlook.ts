import type { Month } from '../../server/reports/compute.ts';
import type { ExpectedShrinkage } from '../../server/reports/spread.ts';
import { Decimal } from '../../server/units/decimal.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { monthLabel } from './filters.ts';
import { saleCount } from './spread.ts';

/** The shrinkage of one grade to reckon with next time, yard by yard. */
export interface Outlook {
  /** The months that it is taken from, whatever the report is about. */
  from: Month;
  to: Month;
  yards: readonly YardOutlook[];
}

interface YardOutlook {
  name: string;
  expected: ExpectedShrinkage;
  /** Sales of this grade at this yard by weight. */
  salesHere: number;
}

/** What to reckon with, and from which sales; nothing where none was by weight. */
export function outlookList(show: Show, { from, to, yards }: Outlook): SafeHtml | null {
  if (yards.length === 0) return null;
  return html`<h2 id="outlook">What to reckon with next time</h2>
<ul class="outlook">${yards.map((yard) => yardLine(show, yard))}</ul>
<p class="hint">From the sales of ${monthLabel(show, from)} to ${monthLabel(show, to)}. With fewer than five sales of the grade
  at a yard, its sales at every yard are taken together; where there are none, those of all grades.</p>`;
}

function yardLine(show: Show, { name, expected, salesHere }: YardOutlook): SafeHtml {
  const { share, low, high } = expected;
  const between =
    low === null || high === null ? null : `likely between ${inPercent(show, low)} and ${inPercent(show, high)} %`;
  return html`<li>${name}: <b class="figure">${inPercent(show, share)} %</b> (${basisOf(expected, salesHere)})${
    between === null ? null : html` <small>${between}</small>`
  }</li>`;
}

/** To a tenth of a percent, as fine as planning can use it. */
const inPercent = (show: Show, share: number): string => show.figure(new Decimal(share).times(100), 1);

function basisOf({ basis, sales }: ExpectedShrinkage, salesHere: number): string {
  if (basis === 'yard and grade') return `this grade here, ${saleCount(sales)}`;
  if (basis === 'ledger') return `all grades at any yard, ${saleCount(sales)}; none of this grade`;
  if (salesHere === sales) return `this grade, ${saleCount(sales)}, all here`;
  return `this grade at any yard, ${saleCount(sales)}; ${salesHere === 0 ? 'none' : `only ${salesHere}`} here`;
}
