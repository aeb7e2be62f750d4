import type { HistoryQuote } from '../../server/prices/queries.ts';
import type { Grade } from '../../server/setup/queries.ts';
import { choiceField, dayField, type FormState, requestKeyField } from '../common/form.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import type { GradePricesParts } from './grade.ts';
import { inGradesUnit } from './parts.ts';

/** Every quote of a grade as the address filters them, each with the way to take it back. */
export function quoteHistory(show: Show, parts: GradePricesParts, state: FormState): SafeHtml {
  return html`<section id="quotes"><h2>Every quote</h2>
${filters(parts, state)}
${parts.history.length === 0 ? html`<p>No quote fits this filter.</p>` : quoteTable(show, parts)}
${newerAndOlder(parts, 'quotes')}
<p class="hint">A wrong price is taken back here, or put right by writing a new one for the same day on the yard’s
  <a href="/prices/board">price board</a>; the one written last counts. Nothing is lost: both stay here, and what was loaded
  or sold keeps the price it had.</p></section>`;
}

function filters({ grade, yards }: GradePricesParts, state: FormState): SafeHtml {
  const choices = yards.map(({ id, name }) => ({ value: String(id), label: name }));
  return html`<form method="get" action="/prices/grades/${grade.id}#quotes" class="filters">
  ${choiceField({ name: 'yard', label: 'Yard', choices, none: 'Every yard' }, state)}
  ${dayField({ name: 'from', label: 'Seen from' }, state)}
  ${dayField({ name: 'to', label: 'Seen to' }, state)}
  <button>Show</button>
</form>`;
}

const quoteTable = (
  show: Show,
  { grade, history }: GradePricesParts,
): SafeHtml => html`<div class="scroll"><table class="stack">
<caption>Newest first</caption>
<thead><tr><th scope="col">Seen</th><th scope="col">Price</th><th scope="col">Yard</th><th scope="col">Put right</th></tr></thead>
<tbody>${history.map(
  (quote) => html`<tr>
  <td class="day" data-label="Seen">${show.day(quote.seen_on)}</td>
  <td data-label="Price"><span>${priceWritten(show, quote, grade)}</span></td>
  <td data-label="Yard"><span>${quote.yard_name}${quote.seen_where === '' ? null : html` <small>${quote.seen_where}</small>`}</span></td>
  <td data-label="Put right">${putRight(show, quote)}</td>
</tr>`,
)}</tbody>
</table></div>`;

/** A price in the history; struck through, and said so, when it does not count. */
function priceWritten(show: Show, quote: HistoryQuote, grade: Grade): SafeHtml {
  const price = show.price(quote.price, quote.per);
  if (quote.take_back_id !== null) return html`<s>${price}</s> <small>taken back</small>`;
  if (quote.is_replaced) return html`<s>${price}</s> <small>written again for this day</small>`;
  return html`${price}${inGradesUnit(show, quote, grade)}`;
}

function putRight(show: Show, { id, take_back_id, yard_name, price, per }: HistoryQuote): SafeHtml {
  const isGone = take_back_id !== null;
  const text = isGone ? 'Let it count again' : 'Take back';
  return html`<form method="post" action="/quotes/${id}/take-backs${isGone ? '/undo' : ''}">
  ${requestKeyField({ typed: {}, problems: {} })}
  <button class="quiet" aria-label="${text}: ${show.price(price, per)} at ${yard_name}">${text}</button></form>`;
}
