import type { RealisedPriceRow } from '../../server/reports/compute.ts';
import { Decimal } from '../../server/units/decimal.ts';
import type { MassUnit } from '../../server/units/mass.ts';
import { type LineSeries, lineChart } from '../charts/line-chart.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import {
  fileAddress,
  type Gap,
  lineMarks,
  pageLinks,
  percent,
  periodLabel,
  priceDecimals,
  type ReportFrame,
  type RowPage,
  reportAddress,
  reportPage,
  titledTable,
  yardLines,
} from './filters.ts';
import { likelyBetweenMeaning, spreadCell } from './spread.ts';

export interface RealisedPricesPage extends ReportFrame {
  /** Every period of the report, oldest first. */
  periods: readonly string[];
  /** The rows of the file. */
  rows: readonly RealisedPriceRow[];
  /** The same over all periods together. */
  overall: readonly RealisedPriceRow[];
  overallPage: RowPage<RealisedPriceRow>;
  /** The rows, and for one grade the gaps between them, newest first. */
  periodPage: RowPage<RealisedPriceRow | Gap>;
}

/** What was quoted, what was paid for a weight, and what it came to for the weight that left home. */
export const realisedPricesPage = (show: Show, parts: RealisedPricesPage): SafeHtml =>
  reportPage(show, parts, {
    title: 'Realised prices',
    appears: 'Prices appear',
    hasSales: parts.rows.length > 0,
    report: () => report(show, parts),
  });

function report(show: Show, parts: RealisedPricesPage): SafeHtml {
  return html`${parts.filter.gradeId === null ? null : chart(show, parts)}
${overallTable(show, parts)}
${waysOn(parts)}
<p class="hint">Two grades paid as one line share its money by what was expected of each, and its weight by the weight at home.</p>
${periodTable(show, parts)}
${pageLinks(parts, parts.overallPage, parts.periodPage)}
<h2>What the columns mean</h2>
<ul>
  <li>Realised: the amounts on the tickets less their share of the charges, for the weight that left home.</li>
  ${likelyBetweenMeaning('the realised price')}
  <li>Quoted: what the yards had promised, for the weight that left home.</li>
  <li>Paid: the amounts on the tickets, for the weight that the yards paid for.</li>
  <li>Realisation: the realised price as a share of the quoted one.</li>
</ul>
<p class="acts"><a class="button" href="${fileAddress(parts, 'realised-prices')}">Save as CSV</a></p>`;
}

/** What else there is to see, where something was left out. */
function waysOn({ filter, overall }: RealisedPricesPage): SafeHtml | null {
  if (filter.gradeId === null) return html`<p class="hint no-print">Choose a grade to see it drawn over time.</p>`;
  if (!filter.splitYards || overall.length < 2) return null;
  return html`<p class="hint no-print">Choose a yard to see its quoted and paid price drawn as well.</p>`;
}

/** Quoted, paid and realised price of one grade; with the yards apart, the realised price at each. */
function chart(show: Show, parts: RealisedPricesPage): SafeHtml {
  const { filter, overall } = parts;
  const [{ gradeName, per }] = overall as [RealisedPriceRow];
  const isSplit = filter.splitYards && overall.length > 1;
  return lineChart({
    id: 'realised-prices',
    title: isSplit ? `${gradeName}: realised price at each yard` : `${gradeName}: quoted, paid and realised price`,
    description: `Price of ${gradeName} by ${filter.by}. The table below has every figure.`,
    yLabel: `${show.settings.currency} per ${per}`,
    series: isSplit
      ? yardLines(show, parts, { overall, rows: parts.rows, figureOf: (row: RealisedPriceRow) => row.realisedPrice })
      : priceSeries(show, parts),
    formatY: (value) => axisPrice(show, new Decimal(value), per),
  });
}

function priceSeries(show: Show, { filter, periods, rows }: RealisedPricesPage): LineSeries[] {
  const prices: [string, (row: RealisedPriceRow) => Decimal | null][] = [
    ['Quoted', (row) => row.quotedPrice],
    ['Paid', (row) => row.paidPrice],
    ['Realised', (row) => row.realisedPrice],
  ];
  const byPeriod = new Map(rows.map((row) => [row.period, row]));
  return prices.map(([name, priceOf], index) => ({
    name,
    mark: lineMarks[index % lineMarks.length] ?? 'circle',
    points: periods.map((period) => {
      const row = byPeriod.get(period);
      return {
        x: periodLabel(show, period, filter.by),
        y: row === undefined ? null : (priceOf(row)?.toFixed() ?? null),
      };
    }),
  }));
}

/** As a table has it, but without the zeros that only a column needs. */
function axisPrice(show: Show, value: Decimal, per: MassUnit): string {
  const rounded = value.toDecimalPlaces(priceDecimals(per));
  return show.figure(rounded, Math.max(2, rounded.decimalPlaces()));
}

const unitsOf = (show: Show, { overall, filter }: RealisedPricesPage): string => {
  const [first] = overall;
  const price = `${show.settings.currency} per ${filter.gradeId === null ? 'the unit beside its grade' : first?.per}`;
  return `Weights in ${first?.unit}, prices in ${price}.`;
};

function overallTable(show: Show, parts: RealisedPricesPage): SafeHtml | null {
  const { rows } = parts.overallPage;
  if (rows.length === 0) return null;
  return titledTable({
    id: 'overall',
    title: 'All of these months together',
    hint: unitsOf(show, parts),
    content: html`<thead><tr>${heads(parts, true)}</tr></thead>
<tbody>${rows.map((row) => html`<tr>${cells(show, parts, row, true)}</tr>`)}</tbody>`,
  });
}

function periodTable(show: Show, parts: RealisedPricesPage): SafeHtml | null {
  const { rows } = parts.periodPage;
  if (rows.length === 0) return null;
  // A month mostly has a sale or two, and a column of nothing but "too few" would only push the others away.
  const hasSpread = parts.rows.some((row) => row.spread.low !== null);
  const columns = 6 + (parts.filter.splitYards ? 1 : 0) + (hasSpread ? 1 : 0);
  const rowOf = (row: RealisedPriceRow | Gap) =>
    html`<tr><td class="day">${periodLabel(show, row.period ?? '', parts.filter.by)}</td>
  ${'isGap' in row ? html`<td colspan="${columns}"><span class="hint">nothing sold</span></td>` : cells(show, parts, row, hasSpread)}</tr>`;
  return titledTable({
    id: 'periods',
    title: `By ${parts.filter.by}, newest first`,
    hint: unitsOf(show, parts),
    content: html`<thead><tr><th scope="col">When</th>${heads(parts, hasSpread)}</tr></thead>
<tbody>${rows.map(rowOf)}</tbody>`,
  });
}

/**
 * Where one grade was chosen, its name and the unit of its prices stand above and not in every row. The realised price,
 * which the report is about, comes first, so that a phone shows it without scrolling.
 */
const heads = ({ filter }: RealisedPricesPage, hasSpread: boolean): SafeHtml => html`
  ${filter.gradeId === null ? html`<th scope="col">Grade</th>` : null}
  ${filter.splitYards ? html`<th scope="col">Yard</th>` : null}
  <th scope="col" class="figure">Realised</th>
  ${hasSpread ? html`<th scope="col" class="figure">Likely between</th>` : null}
  <th scope="col" class="figure">Quoted</th><th scope="col" class="figure">Paid</th>
  <th scope="col" class="figure">Realisation</th>
  <th scope="col" class="figure">Home weight</th><th scope="col" class="figure">Paid weight</th>`;

/** With a yard chosen, one grade is drawn as quoted, paid and realised; the yards apart show the realised price only. */
function yardName(parts: RealisedPricesPage, row: RealisedPriceRow): SafeHtml | string | null {
  if (parts.filter.gradeId === null || row.period !== null) return row.yardName;
  return html`<a href="${reportAddress(parts, { yard: String(row.yardId), split: '' })}">${row.yardName}</a>`;
}

function cells(show: Show, parts: RealisedPricesPage, row: RealisedPriceRow, hasSpread: boolean): SafeHtml {
  const { filter } = parts;
  const figure = (value: Decimal) => show.figure(value, priceDecimals(row.per));
  const price = (value: Decimal | null) => (value === null ? '–' : figure(value));
  const own = reportAddress(parts, { grade: String(row.gradeId) });
  return html`
  ${filter.gradeId === null ? html`<td><a href="${own}">${row.gradeName}</a> <small>per ${row.per}</small></td>` : null}
  ${filter.splitYards ? html`<td class="yard">${yardName(parts, row)}</td>` : null}
  <td class="figure"><b>${price(row.realisedPrice)}</b></td>
  ${hasSpread ? spreadCell(row.spread, figure) : null}
  <td class="figure">${price(row.quotedPrice)}</td><td class="figure">${price(row.paidPrice)}</td>
  <td class="figure">${row.realisation === null ? '–' : percent(show, row.realisation)}</td>
  <td class="figure">${show.figure(row.home, 2)}</td><td class="figure">${show.figure(row.paidWeight, 2)}</td>`;
}
