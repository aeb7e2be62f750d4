import type { KindEarnings } from '../../server/earnings/by-kind.ts';
import type { EarningsFilter, WorthKind } from '../../server/earnings/queries.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { intervalChart } from '../charts/interval-chart.ts';
import { choiceField, dayField, type FormState, tickField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { filterProblems, percent, printedOn, titledTable } from '../reports/filters.ts';
import { countOf, major } from './words.ts';

export interface EarningsReportPage {
  state: FormState;
  filter: EarningsFilter;
  kinds: readonly WorthKind[];
  /** Best per hour first. */
  rows: readonly KindEarnings[];
  /** Those whose whole interval is below the wage aimed at. */
  below: readonly KindEarnings[];
  wage: Decimal | null;
}

/** More rows than this on one picture are no longer taken in at a glance. */
const MOST_CHART_ROWS = 40;

/** What each kind of item earned, for an hour of work. */
export function earningsReportPage(show: Show, parts: EarningsReportPage): SafeHtml {
  const hasProblems = Object.keys(parts.state.problems).length > 0;
  return page({
    title: 'Earnings',
    show,
    body: html`<div class="report"><div class="head"><h1>Earnings</h1>
  ${hasProblems ? null : html`<p class="lead">${filterSentence(show, parts)}${printedOn(show)}</p>`}
</div>
${filterProblems(parts)}
${filterForm(parts)}
${hasProblems ? null : parts.rows.length === 0 ? nothingYet(parts) : report(show, parts)}
</div>`,
  });
}

function filterSentence(show: Show, { filter, kinds }: EarningsReportPage): string {
  const kind = kinds.find(({ id }) => id === filter.kindId)?.name ?? 'All kinds';
  const from = filter.from === null ? '' : ` from ${show.day(filter.from)}`;
  const to = filter.to === null ? '' : ` to ${show.day(filter.to)}`;
  const span = from + to === '' ? '' : `, closed${from}${to}`;
  return `${kind}${span}${filter.onlySold ? ', only what is sold down to the last of it' : ''}.`;
}

const filterForm = ({ state, kinds }: EarningsReportPage): SafeHtml => {
  const kind = state.typed.kind?.trim().toLowerCase() === 'all' ? '' : (state.typed.kind ?? '');
  const shown = { ...state, typed: { ...state.typed, kind } };
  return html`<form class="filters" method="get" action="/reports/earnings">
  ${choiceField({ name: 'kind', label: 'Kind', choices: kinds.map(({ id, name }) => ({ value: String(id), label: name })), none: 'All kinds' }, shown)}
  ${dayField({ name: 'from', label: 'Closed from' }, shown)}
  ${dayField({ name: 'to', label: 'Closed to' }, shown)}
  ${tickField({ name: 'sold', label: 'Only fully sold' }, shown)}
  <button>Show</button>
</form>`;
};

const nothingYet = ({ kinds }: EarningsReportPage): SafeHtml =>
  kinds.length === 0
    ? html`<p>There are no kinds of items yet. Earnings appear once <a href="/items">items</a> were taken apart or sold.</p>`
    : html`<p>No item was closed here. Earnings appear once an <a href="/items">item</a> was taken apart, sold or thrown away.</p>`;

function report(show: Show, parts: EarningsReportPage): SafeHtml {
  return html`${kindTable(show, parts)}
${belowSaid(show, parts)}
${chart(show, parts)}
<h2>What the columns mean</h2>
<ul>
  <li>Per hour: all the money of the items that have minutes, divided by all their hours. A long job counts for more than a short one.</li>
  <li>Likely between: if items go on as these did, the money per hour in the long run lies between the two in about 95 of
    100 cases, in somewhat fewer where one item outweighs the rest. Fewer than three items with minutes give no range.</li>
  <li>Money each: what tickets and sales for reuse brought after charges, fees and postage, with what is still in bins at
    today’s best quote and the share of quotes that was realised so far, less what the item and its disposal cost.</li>
  <li>Still in bins: what part of the money, before costs, is such an estimate. What no yard quotes counts as nothing.</li>
  <li>Minutes each: of the items that have minutes. An item without them counts for the money each only.</li>
</ul>
<p class="acts"><a class="button" href="${fileAddress(parts)}">Save as CSV</a></p>`;
}

/** The rows of the page as a file. */
function fileAddress({ filter }: EarningsReportPage): string {
  const query = new URLSearchParams({ kind: filter.kindId === null ? 'all' : String(filter.kindId) });
  if (filter.from !== null) query.set('from', filter.from);
  if (filter.to !== null) query.set('to', filter.to);
  if (filter.onlySold) query.set('sold', '1');
  return `/export/earnings.csv?${query}`;
}

const kindTable = (show: Show, { rows }: EarningsReportPage): SafeHtml =>
  titledTable({
    id: 'kinds',
    title: 'By kind, best per hour first',
    hint: `Money in ${show.settings.currency}.`,
    content: html`<thead><tr><th scope="col">Kind</th><th scope="col" class="figure">Per hour</th>
  <th scope="col" class="figure">Likely between</th><th scope="col" class="figure">Money each</th>
  <th scope="col" class="figure">Minutes each</th><th scope="col" class="figure">Items</th>
  <th scope="col" class="figure">Still in bins</th><th scope="col" class="figure">Costs</th></tr></thead>
<tbody>${rows.map((row) => kindRow(show, row))}</tbody>`,
  });

const kindRow = (show: Show, row: KindEarnings): SafeHtml => html`<tr>
  <td><a href="/items?kind=${row.kindId}">${row.kindName}</a></td>
  <td class="figure"><b>${row.perHour === null ? '–' : major(show, row.perHour)}</b></td>
  <td class="figure">${row.low === null ? html`<span class="hint">${rangeSaid(show, row)}</span>` : rangeSaid(show, row)}</td>
  <td class="figure">${major(show, row.moneyEach)}</td>
  <td class="figure">${row.minutesEach === null ? '–' : show.figure(row.minutesEach, 0)}</td>
  <td class="figure">${row.items}${row.timed === row.items ? null : html`<small class="below">${row.items - row.timed} without minutes</small>`}</td>
  <td class="figure">${row.restShare === null ? '–' : percent(show, row.restShare)}</td>
  <td class="figure">${show.money(row.costsMinor)}</td></tr>`;

/** Where the money per hour likely lies, or why that cannot be said. */
function rangeSaid(show: Show, { low, high, noInterval, timed }: KindEarnings): string {
  if (low !== null && high !== null) return `${major(show, low)} to ${major(show, high)}`;
  if (timed === 0) return 'no minutes';
  return noInterval === 'equal' ? 'all alike' : `${countOf(timed, 'item')}, too few`;
}

/** Said calmly: it is about time, not about the things. */
function belowSaid(show: Show, { below, wage }: EarningsReportPage): SafeHtml {
  if (wage === null) {
    return html`<p class="hint no-print">Say in <a href="/setup/ledger">This ledger</a> what an hour is to bring, and this page says which kinds stay below it.</p>`;
  }
  if (below.length === 0) return html`<p>No kind is clearly below the ${major(show, wage)} an hour you aim at.</p>`;
  return html`<h2>Kinds to leave at the kerb</h2>
<p>As far as these items tell, an hour on them brings less than the ${major(show, wage)} you aim at, at its best:</p>
<ul>${below.map((row) => html`<li>${row.kindName}: ${rangeSaid(show, row)} an hour, from ${countOf(row.timed, 'item')}.</li>`)}</ul>
<p class="hint">A better price or a quicker hand may change that.</p>`;
}

/** The kinds that have minutes, side by side. One alone has nothing beside it. */
function chart(show: Show, { rows, wage }: EarningsReportPage): SafeHtml | null {
  const timed = rows.filter(({ perHour }) => perHour !== null);
  if (timed.length < 2) return null;
  const drawn = timed.slice(0, MOST_CHART_ROWS);
  return html`${intervalChart({
    id: 'earnings-by-kind',
    title: 'Money per hour by kind',
    description: 'Money per hour by kind, each with the interval that it likely lies in. The table has every figure.',
    xLabel: `${show.settings.currency} an hour`,
    rows: drawn.map((row) => ({
      label: row.kindName,
      note: countOf(row.timed, 'item'),
      point: row.perHour?.toFixed() ?? null,
      low: row.low?.toFixed() ?? null,
      high: row.high?.toFixed() ?? null,
      text: `${major(show, row.perHour ?? new Decimal(0))} (${rangeSaid(show, row)})`,
    })),
    reference: wage === null ? null : { value: wage.toFixed(), label: 'aimed at' },
    formatX: (value) => major(show, new Decimal(value)),
  })}
${drawn.length < timed.length ? html`<p class="hint">Drawn are the best ${drawn.length}.</p>` : null}`;
}
