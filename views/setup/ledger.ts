import { currencies } from '../../server/money/currencies.ts';
import {
  choiceField,
  type FormState,
  massUnitChoices,
  numberField,
  problemSummary,
  requestKeyField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backToSetUp, doneLine } from './parts.ts';

const MARKS = [
  { value: '.', label: 'Point: 1,204.50' },
  { value: ',', label: 'Comma: 1.204,50' },
];

/** What an item's earnings are held against. Both may be left out. */
const earningFields = (show: Show, state: FormState): SafeHtml => html`${numberField(
  {
    name: 'wage',
    label: `Wage you aim at, in ${show.settings.currency} an hour`,
    hint: 'May be left empty. With it, “Worth it?” counts your time, and the earnings report says which kinds stay below it.',
  },
  state,
)}
  <div class="pair">${numberField(
    {
      name: 'wasteCost',
      label: `Throwing waste away costs, in ${show.settings.currency}`,
      hint: 'May be left empty: then it costs nothing.',
    },
    state,
  )}${choiceField({ name: 'wastePer', label: 'for one', choices: massUnitChoices }, state)}</div>`;

/** How this ledger reads and writes figures. */
export function ledgerSettingsPage(show: Show, hasAmounts: boolean, state: FormState): SafeHtml {
  const currencyHint = hasAmounts
    ? 'Amounts are written in it already, so it stays: a ledger keeps to one currency.'
    : 'Can be changed until the first price or ticket is written down. Look at each yard’s cash step afterwards.';
  return page({
    title: 'This ledger',
    show,
    body: html`${backToSetUp}<h1>This ledger</h1>
${doneLine(state.typed.done ? 'The settings are saved.' : null)}
<form method="post" action="/setup/ledger" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${choiceField(
    {
      name: 'unit',
      label: 'Usual unit of weight',
      choices: massUnitChoices,
      hint: 'Weights are shown in it, and read in it unless another is chosen. Nothing that was weighed changes.',
    },
    state,
  )}
  ${choiceField(
    {
      name: 'currency',
      label: 'Currency',
      choices: currencies.map((code) => ({ value: code, label: code })),
      hint: currencyHint,
    },
    state,
  )}
  ${choiceField({ name: 'decimalMark', label: 'Decimal mark', choices: MARKS, hint: 'How you type and read figures. Files always use the point.' }, state)}
  ${numberField({ name: 'staleQuoteDays', label: 'A quote is stale after this many days', hint: 'From 1 to 365. A stale quote is still used, and marked.' }, state)}
  ${numberField({ name: 'scaleCheckDays', label: 'Check each scale after this many days', hint: 'From 1 to 1000. The first page then reminds you of the scales you use.' }, state)}
  ${earningFields(show, state)}
  <button class="primary">Save</button>
</form>
<p class="trail-link"><a href="/trail?kind=set-up">What was changed in the set-up, and when</a></p>`,
  });
}
