import type { RecentInWeight } from '../../server/ledger/queries.ts';
import { containerChoices } from '../common/containers.ts';
import { choiceField, type FormState, problemSummary, requestKeyField, textField, tickField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { ASK_ON_CHANGE, containerAndTare, moreFields, readingField, type WeighInLists } from './weighing-fields.ts';

/** Puts one in-weight right. The old one and the new one both stay in the bin's ledger. */
export function correctionPage(show: Show, inWeight: RecentInWeight, lists: WeighInLists, state: FormState): SafeHtml {
  const wasWeighed = `${show.weight(inWeight.net_ug, inWeight.unit)} into ${inWeight.bin_code} on ${show.day(inWeight.occurred_on)}`;
  return page({
    title: 'Correct an in-weight',
    show,
    body: html`<h1>Correct an in-weight</h1>
<p>Written down: ${wasWeighed}. Both the old and the corrected weighing stay in the ledger.</p>
<form method="post" action="/in-weights/${inWeight.id}/corrections" data-till>
  ${problemSummary(state)}
  ${requestKeyField(state)}
  ${binField(lists, state)}
  ${readingField(state)}
  ${containerAndTare(containerChoices(show, lists.containers), state)}
  <output id="understood" class="understood" aria-live="polite"></output>
  ${moreFields(lists, state)}
  ${textField({ name: 'item', label: 'From item', hint: 'The number of the item that it came from; empty for none.' }, state)}
  ${textField({ name: 'reason', label: 'Why', hint: 'For example: read the wrong line, wrong bin.' }, state)}
  ${state.problems.bookShortfall === undefined && !state.typed.bookShortfall ? null : shortfallTick(state)}
  <p class="acts"><button class="primary">Save the correction</button>
  <button formaction="/in-weights/${inWeight.id}/undo" class="quiet">Take it back entirely</button></p>
</form>
<p><a class="alone" href="/bins/${encodeURIComponent(inWeight.bin_code)}">Back to ${inWeight.bin_code}</a></p>`,
  });
}

/** At the desk a plain list will do: the bin is hardly ever what was wrong. */
function binField({ bins }: WeighInLists, state: FormState): SafeHtml {
  const choices = bins.map(({ code, grade_name }) => ({ value: code, label: `${code} · ${grade_name}` }));
  return choiceField({ name: 'bin', label: 'Bin', choices, none: 'Choose a bin', attributes: ASK_ON_CHANGE }, state);
}

export const shortfallTick = (state: FormState): SafeHtml =>
  tickField({ name: 'bookShortfall', label: 'Book the difference as a count difference' }, state);
