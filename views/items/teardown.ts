import type { Caution } from '../../server/items/cautions.ts';
import type { MassBalance } from '../../server/items/mass-balance.ts';
import { writeDuration } from '../../server/items/minutes.ts';
import type { ItemOfKind } from '../../server/items/queries.ts';
import type { ItemOutput } from '../../server/items/teardown-queries.ts';
import type { RecentInWeight } from '../../server/ledger/queries.ts';
import type { Typed } from '../../server/reading.ts';
import {
  choiceField,
  dayField,
  type FormState,
  noProblems,
  numberField,
  problemSummary,
  requestKeyField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { balanceTable } from './balance.ts';
import { cautionsSection } from './cautions.ts';
import { wordsOf } from './name.ts';
import { type OutputLists, outputList, outputsForm } from './outputs.ts';
import { type TimeForms, type TimeParts, timeSection } from './time.ts';
import { STATUS_WORDS, weightOf } from './words.ts';

export interface TeardownParts {
  item: ItemOfKind;
  /** False for what was sold whole or thrown away. */
  isOpen: boolean;
  /** They stand before everything else. */
  cautions: readonly Caution[];
  time: TimeParts;
  balance: MassBalance;
  /** What went into bins, newest first, those taken back too. */
  inWeights: readonly RecentInWeight[];
  /** Waste and parts, likewise. */
  outputs: readonly ItemOutput[];
  lists: OutputLists;
  /** What was done a moment ago, as in the address. */
  done: string;
  /** What the sheet of outputs and the last step begin with. */
  sheet: Typed;
  finish: Typed;
}

/** A form of the page that came back with problems. */
export interface TeardownForms extends TimeForms {
  outputs?: FormState;
  finish?: FormState;
  /** Something that could not be taken back. */
  undo?: FormState;
}

const DONE: Record<string, string> = {
  started: 'The time is running.',
  outputs: 'Written down.',
  undone: 'Taken back.',
  finished: 'Finished: it is closed as taken apart.',
};

/** The sheet for taking an item apart: cautions, time, what it gives, how far it was taken. */
export function teardownPage(show: Show, parts: TeardownParts, forms: TeardownForms = {}): SafeHtml {
  const { item, done } = parts;
  return page({
    title: `Take apart item ${item.id}`,
    show,
    body: html`<div class="head">
  <h1>Take apart: ${wordsOf(item)}</h1>
  <p class="hint"><a class="alone" href="/items/${item.id}">Item ${item.id}</a> · ${
    weightOf(show, item) ?? 'not weighed'
  } · ${statusOf(show, item)}</p>
</div>
${Object.hasOwn(DONE, done) ? html`<p class="saved" role="status">${DONE[done]}</p>` : null}
${forms.undo === undefined ? null : problemSummary(forms.undo)}
${cautionsSection(show, parts.cautions)}
${parts.isOpen ? null : html`<p>It left the house whole. To go on with it, put it back to waiting on <a href="/items/${item.id}">its page</a>.</p>`}
${timeSection(show, parts.time, forms)}
<section id="gave" aria-labelledby="gave-title"><h2 id="gave-title">What it gives</h2>
${parts.isOpen ? outputsForm(show, item.id, parts.lists, forms.outputs ?? noProblems(parts.sheet)) : null}
<h3>Balance</h3>
${balanceTable(show, parts.balance)}
${outputList(show, parts.inWeights, parts.outputs)}
</section>
${parts.isOpen ? finishForm(parts, forms.finish) : null}
<p class="trail-link"><a href="/items/${item.id}/sales">Sell a part, or the whole item, for reuse</a></p>`,
  });
}

function statusOf(show: Show, { status, closed_on: closedOn, depth }: ItemOfKind): string {
  if (closedOn === null) return STATUS_WORDS[status];
  return `${STATUS_WORDS[status]} ${show.day(closedOn)}${depth === '' ? '' : `, ${depth}`}`;
}

const DEPTHS = [
  { value: 'coarse', label: 'Coarse: pieces as yards take them' },
  { value: 'fine', label: 'Fine: down to clean metal' },
];

/** How far it was taken, and that it is done. Said again, it is put right. */
function finishForm({ item, finish }: TeardownParts, failed: FormState | undefined): SafeHtml {
  const state = { ...(failed ?? noProblems(finish)), idPrefix: 'finish-' };
  return html`<section class="way" id="finish"><h2>${item.status === 'taken apart' ? 'Finished' : 'Finish'}</h2>
<form method="post" action="/items/${item.id}/teardown/finish" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${choiceField({ name: 'depth', label: 'How far it was taken', choices: DEPTHS, none: 'Choose', hint: 'Coarse: down to the pieces that yards take as they are, such as motors, cords and boards.' }, state)}
  <div class="pair">
    ${dayField({ name: 'closedOn', label: 'Day' }, state)}
    ${numberField({ name: 'disposal', label: 'Cost of throwing the rest away', hint: 'May stay empty.' }, state)}
  </div>
  <button class="big">${item.status === 'taken apart' ? 'Put it right' : 'Finished'}</button>
</form></section>`;
}

/** What the page of an item says of its teardown. */
export interface TeardownSummary {
  itemId: number;
  isRunning: boolean;
  totalSeconds: number;
  balance: MassBalance;
}

/** The teardown on the item's page: its time and its balance, and the way to the sheet. */
export const teardownSection = (show: Show, { itemId, isRunning, totalSeconds, balance }: TeardownSummary): SafeHtml =>
  html`<section id="teardown" aria-labelledby="teardown-title"><h2 id="teardown-title">Teardown</h2>
<p>${totalSeconds === 0 ? 'No time written down' : html`<b>${writeDuration(totalSeconds)}</b> of work`}${isRunning ? ', and the time is running now' : ''}.</p>
${balanceTable(show, balance)}
<p class="acts no-print"><a class="button" href="/items/${itemId}/teardown">${balance.out.massUg === 0 && totalSeconds === 0 ? 'Take it apart' : 'The teardown sheet'}</a></p>
</section>`;
