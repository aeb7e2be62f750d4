import { localTime } from '../../server/clock.ts';
import type { Entry, MissingEntries } from '../../server/last-entry.ts';
import { type FormState, problemSummary, requestKeyField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

const at = (show: Show, { recordedAt }: Entry): string => {
  const { day, time } = localTime(recordedAt);
  return `${show.day(day)}, ${time}`;
};

/** Whether the ledger ends where it should, and what to do when it does not. */
export function lastEntryPage(show: Show, missing: MissingEntries | null, state: FormState): SafeHtml {
  return page({
    title: 'Newest entries',
    show,
    body: html`<h1>Newest entries</h1>
${problemSummary(state)}
${missing === null ? html`<p>Nothing is missing: this ledger holds everything that was written into it here.</p>` : lack(show, missing, state)}`,
  });
}

const lack = (show: Show, { expected, newest }: MissingEntries, state: FormState): SafeHtml => html`
<p class="lead">The last entry that this computer wrote into the ledger was of <b>${at(show, expected)}</b>. It is not in
  the ledger that is open now${newest === null ? ', which has no entries' : html`, which ends on <b>${at(show, newest)}</b>`}.</p>
<ul class="notes">
  <li>Did you put an older copy in its place? Then all is as it should be: go on with this ledger.</li>
  <li>Did the computer lose power, or did somebody tidy up the ledger’s folder? Then stop Tarebook before anything else
    is written down, and put back what was in that folder, all its files together, or restore the newest backup.</li>
</ul>
<form method="post" action="/last-entry/acceptance">
  ${requestKeyField(state)}
  <button>Go on with this ledger</button>
</form>`;
