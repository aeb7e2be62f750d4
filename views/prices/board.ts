import type { FamilyGroup } from '../../server/ledger/families.ts';
import type { Quote } from '../../server/prices/queries.ts';
import type { Grade, Yard } from '../../server/setup/queries.ts';
import {
  choiceField,
  dayField,
  type FormState,
  hiddenField,
  numberField,
  priceUnitChoices,
  problemSummary,
  requestKeyField,
  textField,
  tickField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

export interface BoardRow {
  grade: Grade;
  family: string;
  /** What the yard calls it; '' when it says the same. */
  yardName: string;
  /** The yard's newest quote. */
  last: Quote | null;
}

export interface BoardParts {
  /** Null when a board came back without a yard that exists. */
  yard: Yard | null;
  yards: Yard[];
  first: BoardRow[];
  others: FamilyGroup<BoardRow>[];
  /** Grades beyond what one page may hold. */
  leftOut: number;
}

export const chooseYardPage = (show: Show, yards: readonly Yard[]): SafeHtml =>
  page({
    title: 'Price board',
    show,
    body: html`<h1>Price board</h1>
${
  yards.length === 0
    ? html`<p><a href="/setup/yards">Name a yard first</a>; then its price board can be typed.</p>`
    : html`<p>Of which yard?</p>
<p class="acts">${yards.slice(0, 200).map((yard) => html`<a class="button" href="/prices/board?yard=${yard.id}">${yard.name}</a>`)}</p>`
}`,
  });

/** A whole price board in one go: one row for each grade; what is left empty is not on the board. */
export function boardPage(show: Show, parts: BoardParts, state: FormState): SafeHtml {
  const { yard, yards, first, others } = parts;
  const choices = yards.map(({ id, name }) => ({ value: String(id), label: name }));
  return page({
    title: yard === null ? 'Price board' : `Price board of ${yard.name}`,
    show,
    body: html`<p class="way-back"><a href="/prices">Prices</a></p>
<h1>Price board${yard === null ? '' : ` of ${yard.name}`}</h1>
<p>Type what is on the board and leave the rest empty. To put a wrong price right, type it again for the same day: what was
  written last counts, and both stay in the history.</p>
<form method="post" action="/prices/boards" data-till class="board">
  ${problemSummary(state)}${requestKeyField(state)}
  ${
    yard === null
      ? choiceField({ name: 'yard', label: 'Yard', choices, none: 'Choose a yard' }, state)
      : hiddenField('yard', String(yard.id))
  }
  <div class="pair">
    ${dayField({ name: 'seenOn', label: 'Day it was seen' }, state)}
    ${textField({ name: 'seenWhere', label: 'Where', hint: 'Board, phone, web page; may stay empty.' }, state)}
  </div>
  ${first.map((row) => boardRow(show, row, state))}
  ${others.length === 0 ? null : otherGrades(show, parts, state)}
  ${parts.leftOut === 0 ? null : html`<p class="hint">${parts.leftOut} more grades do not fit on one board. Give a grade a bin to have it here.</p>`}
  ${
    first.length + others.length === 0
      ? html`<p>There is no grade yet. <a href="/setup/grades">Begin with the grades</a>.</p>`
      : html`${state.problems.confirm === undefined ? null : tickField({ name: 'confirm', label: 'These prices are right' }, state)}
  <button class="primary">Write the board down</button>`
  }
</form>`,
  });
}

/** Open when there is nothing else on the board, or something was typed in it. */
function otherGrades(show: Show, { first, others }: BoardParts, state: FormState): SafeHtml {
  const isOpen =
    first.length === 0 ||
    others.some(({ rows }) =>
      rows.some(({ grade: { id } }) => state.typed[`price-${id}`] || state.problems[`per-${id}`] !== undefined),
    );
  return html`<details ${isOpen ? html`open` : null}><summary>Other grades</summary>
  ${others.map(
    ({ family, rows }) => html`<h2>${swatch(family)} ${family}</h2>${rows.map((row) => boardRow(show, row, state))}`,
  )}
</details>`;
}

function boardRow(show: Show, { grade, yardName, last }: BoardRow, state: FormState): SafeHtml {
  const hint = [
    yardName === '' ? null : `They say ${yardName}.`,
    last === null ? null : `Last ${show.price(last.price, last.per)}, ${show.day(last.seen_on)}.`,
  ].filter((part) => part !== null);
  const price = { name: `price-${grade.id}`, label: grade.name, ...(hint.length > 0 && { hint: hint.join(' ') }) };
  // Enter goes from price to price: the unit is right already as a rule.
  const unit = { name: `per-${grade.id}`, label: `Unit of ${grade.name}`, attributes: html`data-till-skip` };
  return html`<div class="board-row">
  ${numberField(price, state)}
  ${choiceField({ ...unit, choices: priceUnitChoices }, state)}
</div>`;
}
