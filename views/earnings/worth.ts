import type { Answer } from '../../server/earnings/answer.ts';
import type { WeightPrice } from '../../server/earnings/compute.ts';
import type { PastSales } from '../../server/earnings/past-sales.ts';
import type { WorthItem, WorthKind } from '../../server/earnings/queries.ts';
import type { Caution } from '../../server/items/cautions.ts';
import type { AmountMinor } from '../../server/money/money.ts';
import { Decimal } from '../../server/units/decimal.ts';
import type { MassUg } from '../../server/units/mass.ts';
import { choiceField, type FormState, numberField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { cautionsSection } from '../items/cautions.ts';
import { page } from '../layout.ts';
import { answerSection } from './answer.ts';
import { countOf, minutesSaid } from './words.ts';

export interface WorthPage {
  state: FormState;
  /** Null for a thing that is no item yet. */
  item: WorthItem | null;
  kinds: readonly WorthKind[];
  kind: WorthKind | null;
  /** What to mind before such a thing is taken apart. */
  cautions: readonly Caution[];
  /** What past sales of whole things of the kind suggest; null without any. */
  sales: PastSales | null;
  wage: Decimal | null;
  waste: WeightPrice | null;
  gradeNames: ReadonlyMap<number, string>;
  /** Null together with the answer: nothing was asked, or it could not be read. */
  weightUg: MassUg | null;
  answer: Answer | null;
  /** Finished teardowns of the kind that had no whole weight, so that no yields can be learned from them. */
  unweighed: number;
  /** What parts of past teardowns brought, and how many teardowns those were. */
  partsSold: { netMinor: AmountMinor; teardowns: number };
}

/** What is best done with a thing. */
export function worthPage(show: Show, parts: WorthPage): SafeHtml {
  const { item, kind } = parts;
  const what = [kind?.name ?? '', item?.name ?? ''].filter((word) => word !== '').join(', ');
  return page({
    title: item === null ? 'Worth it?' : `Worth it? Item ${item.id}`,
    show,
    body: html`<div class="report worth">
${item === null ? null : html`<p class="way-back"><a href="/items/${item.id}">${what}</a></p>`}
<div class="head"><h1>Worth it?</h1>
  <p class="lead">${what === '' ? 'A thing at the kerb: what would it bring?' : `${what}${parts.weightUg === null ? '' : `, ${show.weight(parts.weightUg)}`}.`}</p></div>
${problems(parts)}
${parts.answer === null ? missingWeight(parts) : answerSection(show, { ...parts, answer: parts.answer })}
${kind === null ? null : cautionsSection(show, parts.cautions)}
${questionForm(show, parts)}
</div>`,
  });
}

function problems({ state }: WorthPage): SafeHtml | null {
  const entries = Object.entries(state.problems);
  if (entries.length === 0) return null;
  return html`<div class="problems" role="alert" tabindex="-1" autofocus>
  <p>This cannot be reckoned as asked.</p>
  <ul>${entries.map(([name, sentence]) => html`<li><a href="#f-${name}">${sentence}</a></li>`)}</ul>
</div>`;
}

function missingWeight({ item, kinds, state }: WorthPage): SafeHtml | null {
  if (Object.keys(state.problems).length > 0) return null;
  if (item !== null) return html`<p>This item has no whole weight yet. Weigh it, or type a weight below.</p>`;
  if (kinds.length > 0) return null;
  return html`<p>There are no kinds of things yet to learn from.</p>`;
}

function questionForm(show: Show, { state, item, kinds, sales }: WorthPage): SafeHtml {
  const { currency, unit } = show.settings;
  const action = item === null ? '/worth' : `/items/${item.id}/worth`;
  const choices = kinds.map(({ id, name }) => ({ value: String(id), label: name }));
  return html`<form class="way" method="get" action="${action}"><h2>What is reckoned with</h2>
  ${item === null ? choiceField({ name: 'kind', label: 'Kind', choices, none: 'Choose' }, state) : null}
  ${numberField({ name: 'weight', label: `Whole weight, in ${unit}`, letters: true, hint: 'Another unit can stand behind it: 5.2 kg.' }, state)}
  <h3>If it is sold whole</h3>
  ${salesSaid(show, sales)}
  <p class="hint">Reckoned as price times chance, less fees and postage in full.</p>
  <div class="pair">${numberField({ name: 'price', label: `Price, in ${currency}`, hint: 'Empty: not compared.' }, state)}
  ${numberField({ name: 'chance', label: 'Chance that it sells, in percent' }, state)}</div>
  <div class="pair">${numberField({ name: 'fees', label: 'Fees' }, state)}
  ${numberField({ name: 'postage', label: 'Postage' }, state)}
  ${numberField({ name: 'saleMinutes', label: 'Minutes for the sale' }, state)}</div>
  <h3>If it is thrown away</h3>
  ${numberField({ name: 'disposal', label: `Disposal costs, in ${currency}`, hint: html`Empty: the cost of waste from <a href="/setup/ledger">This ledger</a>, where one is set.` }, state)}
  <button class="primary">Reckon</button>
  <p class="hint">Nothing of this is kept. The address holds the question, so it can be bookmarked.</p>
</form>`;
}

function salesSaid(show: Show, sales: PastSales | null): SafeHtml {
  if (sales === null) return html`<p class="hint">None of this kind was sold whole yet, so nothing is suggested.</p>`;
  const days = sales.days === null ? '' : `, usually after ${countOf(Math.round(sales.days), 'day')}`;
  const minutes = sales.minutes === null ? '' : ` It usually took ${minutesSaid(show, new Decimal(sales.minutes))}.`;
  return html`<p class="hint">From ${countOf(sales.count, 'past sale')}: in the middle ${show.money(sales.price)}, of which
  ${show.money(sales.net)} stayed after fees and postage${days}.${minutes} Of ${sales.closed} closed, ${sales.percentSold} % were
  sold whole; the others may never have been offered, so put the chance as you see it.</p>`;
}
