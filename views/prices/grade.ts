import { minorDigits } from '../../server/money/currencies.ts';
import type { HistoryQuote, Quote } from '../../server/prices/queries.ts';
import { spreadDays, standingPrices } from '../../server/prices/standing.ts';
import type { Grade, Yard } from '../../server/setup/queries.ts';
import type { Day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import type { MassUnit } from '../../server/units/mass.ts';
import type { ListAddresses } from '../../server/web.ts';
import { lineChart } from '../charts/line-chart.ts';
import type { ChartMark } from '../charts/line-marks.ts';
import { dayField, type FormState, problemSummary } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { quoteHistory } from './history.ts';
import { priceFacts } from './parts.ts';

export interface GradePricesParts extends ListAddresses {
  grade: Grade;
  yards: Yard[];
  /** Those that count, newest first, as many as a chart takes. */
  quotes: Quote[];
  /** A page of every quote, as the address filters it. */
  history: HistoryQuote[];
  /** The day asked about; null when it could not be read. */
  on: Day | null;
  isToday: boolean;
  /** Each yard's quote as it stood on that day. */
  asOf: { yard: Yard; quote: Quote }[];
  best: Set<number>;
}

/** What one grade was quoted at over time, and on any day. */
export function gradePricesPage(show: Show, parts: GradePricesParts, state: FormState): SafeHtml {
  const { grade, quotes } = parts;
  return page({
    title: `Prices of ${grade.name}`,
    show,
    body: html`<p class="way-back"><a href="/prices">Prices</a></p>
<h1>${swatch(grade.family)} ${grade.name}</h1>
${Object.hasOwn(state.problems, '') ? problemSummary(state) : null}
${
  quotes.length === 0 && parts.history.length === 0 && !parts.isFiltered
    ? html`<p>No yard’s price for it is written down yet. <a href="/prices/board">Type a price board</a>.</p>`
    : html`${asOfDay(show, parts, state)}${priceChart(show, parts)}${quoteHistory(show, parts, state)}`
}
<p><a class="alone" href="/setup/grades/${grade.id}">Change this grade</a></p>`,
  });
}

function asOfDay(show: Show, { grade, on, isToday, asOf, best }: GradePricesParts, state: FormState): SafeHtml {
  const day = on ?? show.today;
  return html`<section id="as-of"><h2>${isToday ? 'As it stands today' : on === null ? 'As it stood' : `As it stood on ${show.day(on)}`}</h2>
${
  on !== null && asOf.length === 0
    ? html`<p>No price was known by then.</p>`
    : html`<ul class="price-cells">${asOf.map(
        ({ yard, quote }) => html`<li class="price-cell"><span class="price-yard">${yard.name}</span>
    ${priceFacts(show, quote, grade, best.has(quote.id), day)}</li>`,
      )}</ul>`
}
<form method="get" action="/prices/grades/${grade.id}" class="filters no-print">
  ${dayField({ name: 'on', label: 'As of another day' }, state)}<button>Show</button>
</form></section>`;
}

const MARKS: readonly ChartMark[] = ['circle', 'square', 'triangle', 'diamond'];

/** The yards with the newest quotes by weight, as many as a chart can tell apart. */
function chartedYards({ quotes, yards }: GradePricesParts): Yard[] {
  const ids = [...new Set(quotes.filter(({ per }) => per !== 'each').map((quote) => quote.yard_id))];
  const newest = new Set(ids.slice(0, MARKS.length));
  return yards.filter((yard) => newest.has(yard.id));
}

function priceChart(show: Show, parts: GradePricesParts): SafeHtml | null {
  const { grade, quotes } = parts;
  const unit: MassUnit = grade.quoted_per === 'each' ? show.settings.unit : grade.quoted_per;
  const yards = chartedYards(parts);
  const oldest = quotes.filter(({ per }) => per !== 'each').at(-1);
  if (oldest === undefined) return null;
  const days = spreadDays(oldest.seen_on, show.today);
  const lines = yards.map((yard) =>
    standingPrices(
      quotes.filter((quote) => quote.yard_id === yard.id),
      days,
      unit,
    ),
  );
  const highest = Decimal.max(...lines.flat().map(({ price }) => price ?? 0));
  // A price of a few cents needs the tenths of a cent, as yards quote them.
  const decimals = minorDigits(show.settings.currency) + (highest.lt(1) ? 2 : 0);
  return lineChart({
    id: 'prices',
    title: `Quoted, ${show.settings.currency} per ${unit}`,
    description: `Each yard’s price for ${grade.name} as it stood, from ${show.day(oldest.seen_on)} to today. A mark is a quote; it stands until the next one. The table below has every quote.`,
    yLabel: `${show.settings.currency} per ${unit}`,
    series: yards.map((yard, index) => ({
      name: yard.name,
      mark: MARKS[index] ?? 'circle',
      points: (lines[index] ?? []).map(({ day, price, isSeen }) => ({ x: show.day(day), y: price, isSeen })),
    })),
    isStepped: true,
    formatY: (value) => show.figure(new Decimal(value), decimals),
  });
}
