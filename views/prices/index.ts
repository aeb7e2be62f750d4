import type { FamilyGroup } from '../../server/ledger/families.ts';
import type { Quote } from '../../server/prices/queries.ts';
import type { Grade, Yard } from '../../server/setup/queries.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { putBackForm } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { priceFacts } from './parts.ts';

export interface PriceLine {
  grade: Grade;
  family: string;
  /** The newest quote of each yard that has one. */
  quotes: Quote[];
  /** Ids of the highest of them. */
  best: Set<number>;
}

export interface PricesParts {
  yards: Yard[];
  families: FamilyGroup<PriceLine>[];
  list: { page: number; hasNext: boolean };
  isAll: boolean;
  /** How many grades have neither a bin nor a quote and are not shown. */
  leftOut: number;
  /** What was just written down. */
  written: string | null;
  /** The line of the trail by which that is taken back; 0 without one. */
  trailId: number;
}

/** Yards by grades: the newest quote of each, with its day and age. */
export function pricesPage(show: Show, parts: PricesParts): SafeHtml {
  return page({
    title: 'Prices',
    show,
    body: html`<h1>Prices</h1>
${parts.written === null ? null : html`<div class="saved" role="status"><p>${parts.written}</p>${putBackForm(parts.trailId, 'Take the whole board back')}</div>`}
${boardLinks(parts.yards)}
${parts.families.length === 0 ? html`<p>No grade has a bin or a price yet.</p>` : null}
${parts.families.map(
  ({ family, rows }) => html`<section class="family"><h2>${swatch(family)} ${family}</h2>
<ul class="price-lines">${rows.map((line) => priceLine(show, line, parts.yards))}</ul></section>`,
)}
${pagesOf(parts)}
${everyGrade(parts)}`,
  });
}

function boardLinks(yards: readonly Yard[]): SafeHtml {
  if (yards.length === 0)
    return html`<p><a href="/setup/yards">Name a yard first</a>; then its price board can be typed.</p>`;
  const [only] = yards;
  if (yards.length > 6 || only === undefined) {
    return html`<p class="acts"><a class="button primary" href="/prices/board">Type a price board</a></p>`;
  }
  return html`<p class="no-print">Type a price board:</p>
<p class="acts">${yards.map((yard) => html`<a class="button" href="/prices/board?yard=${yard.id}">${yard.name}</a>`)}</p>`;
}

function priceLine(show: Show, { grade, quotes, best }: PriceLine, yards: readonly Yard[]): SafeHtml {
  return html`<li class="price-line">
  <h3><a class="row-link" href="/prices/grades/${grade.id}">${grade.name}</a></h3>
  ${
    quotes.length === 0
      ? html`<p class="hint">no price yet</p>`
      : html`<ul class="price-cells">${quotes.map(
          (
            quote,
          ) => html`<li class="price-cell"><span class="price-yard">${yards.find(({ id }) => id === quote.yard_id)?.name}</span>
    ${priceFacts(show, quote, grade, best.has(quote.id), show.today)}</li>`,
        )}</ul>`
  }
</li>`;
}

function pagesOf({ list, isAll }: PricesParts): SafeHtml | null {
  if (list.page === 1 && !list.hasNext) return null;
  const address = (page: number) => `/prices?${isAll ? 'all=1&' : ''}page=${page}`;
  return html`<p class="pages">
  ${list.page > 1 ? html`<a class="button" href="${address(list.page - 1)}">Back</a>` : null}
  ${list.hasNext ? html`<a class="button" href="${address(list.page + 1)}">More</a>` : null}
</p>`;
}

function everyGrade({ isAll, leftOut }: PricesParts): SafeHtml | null {
  if (isAll) return html`<p><a href="/prices">Only grades with a bin or a price</a></p>`;
  if (leftOut === 0) return null;
  const others = leftOut === 1 ? 'One more grade has' : `${leftOut} more grades have`;
  return html`<p>${others} neither a bin nor a price. <a href="/prices?all=1">Show every grade</a></p>`;
}
