import type { WireKind } from '../../server/bench/queries.ts';
import type { BinOnHand } from '../../server/ledger/queries.ts';
import {
  type Choice,
  choiceField,
  dayField,
  type FormState,
  massUnitChoices,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { shortfallTick } from '../ledger/correction.ts';
import { backToBench, STRIP_WITH_CARE } from './parts.ts';

export interface StrippingParts {
  bins: readonly BinOnHand[];
  kinds: readonly WireKind[];
}

const WIRE = 'insulated wire';

/** A lot that was stripped: how much wire came out of a bin, and how much metal went into another. */
export function strippingPage(show: Show, { bins, kinds }: StrippingParts, state: FormState): SafeHtml {
  const choice = (bin: BinOnHand): Choice => ({
    value: bin.code,
    label: `${bin.code} · ${bin.grade_name}, ${show.weight(bin.mass_ug)}`,
  });
  const wire = bins.filter(({ family }) => family === WIRE).map(choice);
  const metal = bins.filter(({ family }) => family !== WIRE).map(choice);
  const needsShortfall = state.problems.before !== undefined || Boolean(state.typed.bookShortfall);
  return page({
    title: 'Strip a lot',
    show,
    body: html`${backToBench}<h1>Strip a lot</h1>
<p>The metal leaves the wire’s bin and goes into its own; what is left of the weight is waste. It can be taken back from the ledger of either bin.</p>
${STRIP_WITH_CARE}
<form method="post" action="/strippings" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${choiceField({ name: 'fromBin', label: 'Wire out of', choices: wire, none: 'Choose a bin', hint: wire.length === 0 ? html`No open bin holds a grade of insulated wire. <a href="/setup/bins">Add one</a>` : html`The bins for insulated wire.` }, state)}
  ${choiceField({ name: 'toBin', label: 'Metal into', choices: metal, none: 'Choose a bin' }, state)}
  <div class="pair">
    ${numberField({ name: 'before', label: 'Wire, with insulation', letters: true }, state)}
    ${numberField({ name: 'after', label: 'Metal alone', letters: true }, state)}
  </div>
  <div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
    ${numberField({ name: 'minutes', label: 'Minutes', hint: 'May stay empty.' }, state)}
  </div>
  ${dayField({ name: 'occurredOn', label: 'Day' }, state)}
  ${choiceField({ name: 'sampleOf', label: 'Keep as a sample of', choices: kinds.map(({ id, name }) => ({ value: String(id), label: name })), none: 'No kind of wire', hint: 'Choose one when all of the lot was of one kind.' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}
  ${needsShortfall ? shortfallTick(state) : null}
  <button class="primary">Save the lot</button>
</form>`,
  });
}
