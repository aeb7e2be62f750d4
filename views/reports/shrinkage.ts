import type { ShrinkageRow } from '../../server/reports/compute.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { intervalChart } from '../charts/interval-chart.ts';
import { lineChart } from '../charts/line-chart.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import {
  fileAddress,
  type Gap,
  pageLinks,
  percent,
  periodLabel,
  type ReportFrame,
  type RowPage,
  reportAddress,
  reportPage,
  titledTable,
  yardLines,
} from './filters.ts';
import { type Outlook, outlookList } from './outlook.ts';
import { likelyBetween, likelyBetweenMeaning, saleCount, spreadCell } from './spread.ts';

export interface ShrinkagePage extends ReportFrame {
  /** Every period of the report, oldest first. */
  periods: readonly string[];
  /** The rows of the file. */
  byGrade: readonly ShrinkageRow[];
  gradePage: RowPage<ShrinkageRow>;
  /** Everything together; one row for each yard when they are apart. */
  overall: readonly ShrinkageRow[];
  /** Empty unless a grade or a yard was chosen: the mixture of grades says little from month to month. */
  byPeriod: readonly ShrinkageRow[];
  /** The same with the gaps between them, newest first. */
  periodPage: RowPage<ShrinkageRow | Gap>;
  /** What to reckon with next time; null unless one grade was chosen. */
  outlook: Outlook | null;
}

/** More rows than this on one picture are no longer taken in at a glance. */
const MOST_CHART_ROWS = 40;

/** How much of the weight that left home was not paid for, and where it went. */
export const shrinkagePage = (show: Show, parts: ShrinkagePage): SafeHtml =>
  reportPage(show, parts, {
    title: 'Shrinkage',
    appears: 'Shrinkage appears',
    hasSales: parts.overall.length > 0,
    report: () => report(show, parts),
  });

function report(show: Show, parts: ShrinkagePage): SafeHtml {
  return html`${gradeTable(show, parts)}
${parts.outlook === null ? null : outlookList(show, parts.outlook)}
${parts.filter.gradeId === null ? gradeChart(show, parts) : null}
${
  parts.byPeriod.length === 0
    ? html`<p class="hint no-print">Choose a grade or a yard to see it drawn over time.</p>`
    : html`${chart(show, parts)}${periodTable(show, parts)}`
}
${pageLinks(parts, parts.gradePage, parts.periodPage)}
<h2>What the columns mean</h2>
<ul>
  <li>Total: the part of the home weight that was not paid for; with a minus, more was paid for than left home.</li>
  ${likelyBetweenMeaning('the total share')}
  <li>Scales: the part of it that the two scales disagree about; with a minus, the yard’s showed more than yours. Which of the
    two is off, <a href="/reports/scales">your scales and theirs</a> tells.</li>
  <li>Deductions: the part of it that was taken off for dirt, moisture or attachments.</li>
  <li>Home weight: what was weighed as it left home.</li>
  <li>Yard weight: gross less tare on the yard’s scale.</li>
  <li>Paid weight: what the yard paid for, after deductions.</li>
  <li>Sales: how many weighings at a yard it was; one that mixed grades counts once for each.
  What was sold by the piece is left out.</li>
</ul>
<p class="acts"><a class="button" href="${fileAddress(parts, 'shrinkage')}">Save as CSV</a></p>`;
}

const figureHeads = () => html`<th scope="col" class="figure">Total</th>
  <th scope="col" class="figure">Likely between</th>
  <th scope="col" class="figure">Scales</th><th scope="col" class="figure">Deductions</th>
  <th scope="col" class="figure">Home weight</th><th scope="col" class="figure">Yard weight</th>
  <th scope="col" class="figure">Paid weight</th><th scope="col" class="figure">Sales</th>`;

const figures = (show: Show, row: ShrinkageRow) => html`<td class="figure"><b>${percent(show, row.totalShare)}</b></td>
  ${spreadCell(row.spread, hundredths(show), ' %')}
  <td class="figure">${percent(show, row.scaleShare)}</td><td class="figure">${percent(show, row.deductionShare)}</td>
  <td class="figure">${show.figure(row.home, 2)}</td><td class="figure">${show.figure(row.yardWeight, 2)}</td>
  <td class="figure">${show.figure(row.paidWeight, 2)}</td><td class="figure">${row.sales}</td>`;

const hundredths = (show: Show) => (share: Decimal) => show.figure(share.times(100), 2);

const yardHead = ({ filter }: ShrinkagePage) => (filter.splitYards ? html`<th scope="col">Yard</th>` : null);
const yardCell = ({ filter }: ShrinkagePage, row: ShrinkageRow) =>
  filter.splitYards ? html`<td class="yard">${row.yardName}</td>` : null;

function gradeTable(show: Show, parts: ShrinkagePage): SafeHtml | null {
  const { filter, overall, gradePage } = parts;
  if (gradePage.rows.length === 0) return null;
  const isOneGrade = filter.gradeId !== null;
  const rowOf = (row: ShrinkageRow) => {
    const own = reportAddress(parts, { grade: String(row.gradeId) });
    const grade = isOneGrade ? row.gradeName : html`<a href="${own}">${row.gradeName}</a>`;
    return html`<tr><td>${grade}</td>${yardCell(parts, row)}${figures(show, row)}</tr>`;
  };
  const sumOf = (row: ShrinkageRow) =>
    html`<tr><th scope="row">All grades</th>${yardCell(parts, row)}${figures(show, row)}</tr>`;
  return titledTable({
    id: 'overall',
    title: 'All of these months together',
    hint: `Weights in ${overall[0]?.unit}, shares of the home weight.`,
    content: html`<thead><tr><th scope="col">Grade</th>${yardHead(parts)}${figureHeads()}</tr></thead>
<tbody>${gradePage.rows.map(rowOf)}</tbody>
${isOneGrade ? null : html`<tfoot>${overall.map(sumOf)}</tfoot>`}`,
  });
}

/** The grades side by side. One alone has nothing beside it. */
function gradeChart(show: Show, { byGrade, filter }: ShrinkagePage): SafeHtml | null {
  if (byGrade.length < 2) return null;
  const largest = [...byGrade].sort((a, b) => b.home.comparedTo(a.home)).slice(0, MOST_CHART_ROWS);
  const drawn = byGrade.filter((row) => largest.includes(row));
  const isCut = drawn.length < byGrade.length;
  const what = filter.splitYards ? 'grade and yard' : 'grade';
  return html`${intervalChart({
    id: 'shrinkage-by-grade',
    title: `Total shrinkage by ${what}`,
    description: `Total shrinkage by ${what}, each with the interval that it likely lies in. The table has every figure.`,
    xLabel: 'percent of the home weight',
    rows: drawn.map((row) => gradeRow(show, row, filter.splitYards)),
    reference: { value: '0', label: 'paid in full' },
    formatX: (value) => `${show.figure(new Decimal(value), 1)} %`,
  })}
${isCut ? html`<p class="hint">Drawn are the ${drawn.length} that weighed the most at home.</p>` : null}`;
}

function gradeRow(show: Show, row: ShrinkageRow, hasYard: boolean) {
  const { low, high, noInterval } = row.spread;
  const inPercent = (share: Decimal | null) => share?.times(100).toFixed() ?? null;
  const none = noInterval === 'equal' ? 'alike' : 'too few';
  return {
    label: row.gradeName ?? 'All grades',
    note: hasYard ? `${row.yardName}, ${saleCount(row.sales)}` : saleCount(row.sales),
    point: inPercent(row.totalShare),
    low: inPercent(low),
    high: inPercent(high),
    text: `${percent(show, row.totalShare)} (${low === null ? none : likelyBetween(row.spread, hundredths(show))})`,
  };
}

function chart(show: Show, parts: ShrinkagePage): SafeHtml {
  const { filter, grades } = parts;
  const what = grades.find(({ id }) => id === filter.gradeId)?.name ?? 'All grades together';
  return lineChart({
    id: 'shrinkage',
    title: `${what}: total shrinkage`,
    description: `Total shrinkage of ${what} by ${filter.by}. The table below has every figure.`,
    yLabel: 'percent of the home weight',
    series: yardLines(show, parts, {
      overall: parts.overall,
      rows: parts.byPeriod,
      figureOf: (row: ShrinkageRow) => row.totalShare.times(100),
    }),
    formatY: (value) => `${show.figure(new Decimal(value), 1)} %`,
  });
}

function periodTable(show: Show, parts: ShrinkagePage): SafeHtml | null {
  const { filter, overall, periodPage } = parts;
  if (periodPage.rows.length === 0) return null;
  return titledTable({
    id: 'periods',
    title: `By ${filter.by}, newest first`,
    hint: `Weights in ${overall[0]?.unit}, shares of the home weight.`,
    content: html`<thead><tr><th scope="col">When</th>${yardHead(parts)}${figureHeads()}</tr></thead>
<tbody>${periodPage.rows.map((row) => periodRow(show, parts, row))}</tbody>`,
  });
}

function periodRow(show: Show, parts: ShrinkagePage, row: ShrinkageRow | Gap): SafeHtml {
  const when = html`<td class="day">${periodLabel(show, row.period ?? '', parts.filter.by)}</td>`;
  if ('isGap' in row) {
    return html`<tr>${when}<td colspan="${parts.filter.splitYards ? 9 : 8}"><span class="hint">nothing sold</span></td></tr>`;
  }
  return html`<tr>${when}${yardCell(parts, row)}${figures(show, row)}</tr>`;
}
