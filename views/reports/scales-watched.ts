import { CUSUM, likelyCause, type Shift, type WatchedSale, type WatchedScale } from '../../server/scales/whose.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { type LineSeries, lineChart } from '../charts/line-chart.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { missingTexts } from '../scales/words.ts';
import { sinceText, sizeOf } from './scales-at-home.ts';
import type { ScaleFindings } from './scales-in-short.ts';

/** Sales drawn and listed at most; the newest. */
const MOST_SALES = 200;

/** One scale of a yard: what lasted and since when, the sums drawn, and every sale behind them. */
export function watchedSection(show: Show, watched: WatchedScale, all: ScaleFindings, index: number): SafeHtml {
  const { scale, sales, shifts } = watched;
  const id = `watched-${index + 1}`;
  const newest = sales.slice(-MOST_SALES);
  return html`<section aria-labelledby="${id}"><h3 id="${id}">${scale.name}</h3>
${
  shifts.length > 0
    ? html`<ul class="notes">${shifts.map((shift) => html`<li>${shiftText(show, shift, all)}</li>`)}</ul>`
    : sales.length === 0
      ? null
      : html`<p>No difference that lasts, over ${salesText(sales.length)}.</p>`
}
${leftOutText(watched)}
${newest.length < 2 ? null : drawn(show, watched, newest, id)}
</section>`;
}

/** The pictures stand open where there is something to see in them. */
function drawn(show: Show, watched: WatchedScale, sales: readonly WatchedSale[], id: string): SafeHtml {
  const pictures = html`${smoothedChart(show, watched, sales, id)}${sumChart(show, watched, sales, id)}`;
  const table = saleTable(show, sales);
  return watched.shifts.length > 0
    ? html`${pictures}<details class="more"><summary>Every sale, newest first</summary>${table}</details>`
    : html`<details class="more"><summary>Show it drawn, and every sale</summary>${pictures}${table}</details>`;
}

const salesText = (count: number): string => (count === 1 ? 'one load' : `${count} loads`);

function leftOutText({ sales, leftOut, missing }: WatchedScale): SafeHtml | null {
  if (leftOut === 0) return null;
  const those =
    sales.length === 0
      ? 'Its sales cannot be followed'
      : `${leftOut === 1 ? 'One load is' : `${leftOut} loads are`} left out`;
  return html`<p class="hint">${those}: ${missingTexts(missing)}. Steps and tolerances can be written down in
  <a href="/setup/scales">your scales</a> and with <a href="/setup/yards">the yard</a>; a scale that was not named stays so.</p>`;
}

function shiftText(show: Show, shift: Shift, { watched: all, stretches }: ScaleFindings): SafeHtml {
  const { began, found, direction, ratio, until, endedBy, isWithinTolerance } = shift;
  const cause = likelyCause(shift, all, stretches);
  const much = `${sizeOf(show, ratio)} ${direction} than your scales`;
  const told =
    until === null
      ? `It has shown ${much} ${sinceText(show, shift)}.`
      : `It showed ${much} ${sinceText(show, shift)}, until ${
          endedBy === 'adjustment'
            ? `a scale of yours was adjusted on ${show.day(until)}`
            : `about ${show.day(until)}, when it went the other way`
        }.`;
  return html`<b>${told}</b>
  It most likely began with load ${began.labels.join(', ')} of <a href="/tickets/${began.ticketId}">ticket ${began.ticketNumber}</a> and was plain by the
  sale of ${show.day(found.soldOn)}. ${causeText(cause)} ${cause === 'home' ? null : toleranceText(isWithinTolerance)}`;
}

const toleranceText = (isWithin: boolean): string =>
  isWithin
    ? 'It is steady, and small enough that both scales may still be within their tolerances: a reason to ask, not to accuse.'
    : 'All of it together is more than the two scales can explain.';

function causeText(cause: ReturnType<typeof likelyCause>): string {
  if (cause === 'home')
    return 'Your own scale is the likelier cause: another yard showed the same in that time, or your own check says so.';
  if (cause === 'yard') {
    return 'No other yard showed it in that time: it may be this yard’s scale, or how its loads travel. Ask for a second weighing there; if it goes on, the local weights-and-measures office can check a yard’s scale.';
  }
  return 'Nothing was sold elsewhere in that time to compare with: check your own scale with a known weight.';
}

/** Each point its own key: two sales can be on one day. */
const keyOf = ({ comparison }: WatchedSale, index: number): string =>
  `${index}|${comparison.soldOn}|${comparison.labels.join(', ')}`;

const dayOfKey = (show: Show) => (key: string) => show.day((key.split('|')[1] ?? '') as never);

/** Where a difference began and where a scale at home was adjusted. */
function marksOf(show: Show, { shifts }: WatchedScale, sales: readonly WatchedSale[]) {
  return sales.flatMap((sale, index) => {
    const x = keyOf(sale, index);
    const begins = shifts.some(({ began }) => began === sale.comparison)
      ? [{ x, label: `a difference began, with load ${sale.comparison.labels.join(', ')}` }]
      : [];
    const fresh = {
      x,
      label: `first sale after a scale of yours was adjusted on ${show.day(sale.freshSince ?? ('' as never))}`,
    };
    return sale.freshSince === null ? begins : [fresh, ...begins];
  });
}

const lineOf = (
  name: string,
  mark: LineSeries['mark'],
  sales: readonly WatchedSale[],
  figureOf: (sale: WatchedSale) => number,
): LineSeries => ({
  name,
  mark,
  points: sales.map((sale, index) => ({ x: keyOf(sale, index), y: new Decimal(figureOf(sale)).toFixed(2) })),
});

/** How much it showed against home, each sale counting a fifth of what is drawn: single sales jump too much to see it. */
function smoothedChart(show: Show, watched: WatchedScale, sales: readonly WatchedSale[], id: string): SafeHtml {
  return lineChart({
    id: `${id}-smoothed`,
    title: `${watched.scale.name}: how much it showed against yours`,
    description: 'Percent more or less than at home, smoothed over the last sales. The table below has every sale.',
    yLabel: 'percent more or less, smoothed',
    series: [lineOf('against your scales', 'circle', sales, ({ smoothed }) => (smoothed - 1) * 100)],
    marks: marksOf(show, watched, sales),
    zero: true,
    labelOf: dayOfKey(show),
    formatY: (value) => `${show.figure(new Decimal(value), 1)} %`,
  });
}

function sumChart(show: Show, watched: WatchedScale, sales: readonly WatchedSale[], id: string): SafeHtml {
  return lineChart({
    id,
    title: `${watched.scale.name}: what adds up`,
    description: `Sums of the differences, above zero for more than your scales and below for less. Beyond ${CUSUM.limit} a difference lasts. The table below has every figure.`,
    yLabel: 'what has added up',
    series: [
      lineOf('showed more', 'triangle', sales, ({ step }) => step.upper),
      lineOf('showed less', 'circle', sales, ({ step }) => -step.lower),
    ],
    limits: [
      { value: String(CUSUM.limit), label: 'a difference that lasts' },
      { value: String(-CUSUM.limit), label: 'a difference that lasts' },
    ],
    marks: marksOf(show, watched, sales),
    zero: true,
    labelOf: dayOfKey(show),
    formatY: (value) => show.figure(new Decimal(value), 0),
  });
}

function saleTable(show: Show, sales: readonly WatchedSale[]): SafeHtml {
  const unit = show.settings.unit;
  return html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Day</th><th scope="col">Ticket and loads</th><th scope="col" class="figure">Home, ${unit}</th>
  <th scope="col" class="figure">Yard, ${unit}</th><th scope="col" class="figure">Difference</th>
  <th scope="col" class="figure">May differ by</th><th scope="col" class="figure">Sum for more</th>
  <th scope="col" class="figure">Sum for less</th></tr></thead>
<tbody>${[...sales].reverse().map((sale) => saleRow(show, sale, unit))}</tbody>
</table></div>`;
}

function saleRow(show: Show, { comparison, step }: WatchedSale, unit: string): SafeHtml {
  const { soldOn, ticketId, ticketNumber, labels, homeUg, yardUg, verdict } = comparison;
  if (verdict.kind === 'unknown') return html``;
  const { differenceUg, allowedUg } = verdict;
  return html`<tr><td class="day" data-label="Day">${show.day(soldOn)}</td>
  <td data-label="Ticket and loads"><span><a href="/tickets/${ticketId}">${ticketNumber}</a>, ${labels.join(', ')}</span></td>
  <td class="figure" data-label="Home, ${unit}">${show.weightFigure(homeUg)}</td>
  <td class="figure" data-label="Yard, ${unit}">${show.weightFigure(yardUg)}</td>
  <td class="figure" data-label="Difference">${differenceUg > 0 ? '+' : ''}${show.weightFigure(differenceUg)}</td>
  <td class="figure" data-label="May differ by">± ${show.weightFigure(allowedUg)}</td>
  <td class="figure" data-label="Sum for more">${show.figure(new Decimal(step.upper), 1)}</td>
  <td class="figure" data-label="Sum for less">${show.figure(new Decimal(step.lower), 1)}</td></tr>`;
}
