import type { Quote } from '../../server/prices/queries.ts';
import { quoteInUnit } from '../../server/prices/standing.ts';
import type { Grade } from '../../server/setup/queries.ts';
import { type Day, daysBetween } from '../../server/units/day.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

/** The price in the grade's own unit, in brackets, when it was quoted in another. */
export function inGradesUnit(show: Show, quote: Quote, grade: Grade): SafeHtml | null {
  if (grade.quoted_per === 'each' || quote.per === grade.quoted_per) return null;
  const price = quoteInUnit(quote, grade.quoted_per);
  return price === null ? null : html` <small>(${show.price(price, grade.quoted_per)})</small>`;
}

/** How old a quote was on a day, in words; "stale" is said and not only coloured. */
function ageOn(show: Show, seenOn: Day, day: Day): SafeHtml {
  const days = daysBetween(seenOn, day);
  const age =
    day === show.today ? show.age(seenOn) : days === 0 ? 'the same day' : days === 1 ? 'a day old' : `${days} days old`;
  const isStale = days > show.settings.staleQuoteDays;
  return html`<small>${show.day(seenOn)}, ${age}${isStale ? html` <span class="stale">stale</span>` : null}</small>`;
}

/** A quote as it stood on a day: price, whether it was the best, day and age. */
export const priceFacts = (show: Show, quote: Quote, grade: Grade, isBest: boolean, day: Day): SafeHtml =>
  html`<span class="price-figure"><b>${show.price(quote.price, quote.per)}</b>${inGradesUnit(show, quote, grade)}${
    isBest ? html` <span class="best">best</span>` : null
  }</span>
    ${ageOn(show, quote.seen_on, day)}`;
