import type { LoadCaution } from '../../server/manifests/compute.ts';
import type { TypedInVain } from '../../server/manifests/meanwhile.ts';
import type { ShownLoad, ShownManifest } from '../../server/manifests/pages.ts';
import type { MassUnit } from '../../server/units/mass.ts';
import { type PhotosParts, photosSection } from '../attachments/section.ts';
import { dayField, type FormState, hiddenField, problemSummary, requestKeyField, textField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { trailLink } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { shortfallTick } from '../ledger/correction.ts';
import { noQueryText, QUERY_WEIGHT, queryNote, queryText } from '../scales/words.ts';
import { cautionsBeforeLoading } from './cautions.ts';
import { typedMeanwhile } from './meanwhile.ts';
import { expectedText, outlookText, quoteText, statusOf, weighedText } from './words.ts';

export interface LoadedParts {
  shown: ShownManifest;
  photos: PhotosParts;
  /** What was typed into its draft after it had been loaded elsewhere. */
  inVain: TypedInVain;
  /** What to mind while it is on its way; none once it is sold. */
  cautions: readonly LoadCaution[];
}

/** A manifest that was loaded (or set aside): what was frozen, its tickets, and the ways back. */
export function loadedPage(show: Show, { shown, photos, inVain, cautions }: LoadedParts, state: FormState): SafeHtml {
  const { manifest } = shown;
  const isLoaded = manifest.loaded_on !== null;
  return page({
    title: `Manifest ${manifest.number}`,
    show,
    body: html`<div class="head">
  <h1>Manifest ${manifest.number} for ${manifest.yard_name}</h1>
  ${isLoaded ? html`<p class="total"><b>${show.weight(shown.totalUg)}</b>, ${show.money(shown.expectedMinor)} expected</p>` : null}
  <p>${statusLine(show, shown)}</p>
  ${manifest.status === 'loaded' && shown.outlook !== null ? html`<p>${outlookText(show, shown.outlook)}</p>` : null}
  ${manifest.note === '' ? null : html`<p>${manifest.note}</p>`}
  ${isLoaded ? acts(shown) : null}
</div>
${problemSummary(state)}
${typedMeanwhile(inVain, isLoaded)}
${cautionsBeforeLoading(cautions)}
${isLoaded ? frozenTable(show, shown) : asideList(shown)}
${photosSection(show, photos)}
<div class="ways">${isLoaded ? returnForm(shown, state) : takeUpForm(manifest.id)}${undoForm(shown, state)}</div>
<h2>Again</h2>
<form method="post" action="/manifests/${manifest.id}/copies">
  ${requestKeyField(state)}
  <p class="hint">A new draft for ${manifest.yard_name} with the same bins, as far as they are still open.</p>
  <button class="quiet">Copy to a new draft</button>
</form>
${trailLink('manifest', manifest.id, 'What was done with this manifest, and when')}`,
  });
}

const takeUpForm = (id: number): SafeHtml => html`<section class="way"><h2>Set aside by mistake?</h2>
<p>Goes on with the draft as it was left, with what was weighed for it.</p>
<form method="post" action="/manifests/${id}/taking-up">
  ${requestKeyField({ typed: {}, problems: {} })}
  <button>Take the draft up again</button>
</form></section>`;

function statusLine(show: Show, { manifest, tickets, takenBack, loads }: ShownManifest): SafeHtml {
  if (manifest.loaded_on === null) return html`Set aside before it was loaded; nothing moved.`;
  const links = tickets.map(
    (ticket, index) => html`${index > 0 ? ', ' : ''}<a href="/tickets/${ticket.id}">ticket ${ticket.number}</a>`,
  );
  const isTakenBack = loads.length > 0 && loads.every(({ load }) => load.undoes_loading === 1);
  const status = isTakenBack ? 'the loading was taken back, nothing left its bin' : statusOf(manifest);
  const gone = takenBack.map(
    (ticket) => html` · <a href="/tickets/${ticket.id}">ticket ${ticket.number}</a> was taken back`,
  );
  return html`Loaded ${show.day(manifest.loaded_on)} · ${status}${links.length === 0 ? null : html` · ${links}`}${gone}`;
}

function acts({ manifest, loads }: ShownManifest): SafeHtml {
  const isOut = loads.some((each) => isOnItsWay(each));
  const first = manifest.status === 'loaded' ? 'Enter the ticket' : 'Enter another ticket';
  return html`<p class="acts">
  <a class="button ${manifest.status === 'loaded' ? 'primary' : ''}" href="/manifests/${manifest.id}/sheet">Print the sheet</a>
  ${isOut ? html`<a class="button" href="/tickets/new?manifest=${manifest.id}">${first}</a>` : null}
</p>`;
}

/** Left the house, and neither paid for nor brought back. */
const isOnItsWay = ({ load, paidBy }: ShownLoad): boolean => paidBy === null && load.load_return_id === null;

function frozenTable(show: Show, { loads, totalUg, expectedMinor, yardUnit }: ShownManifest): SafeHtml {
  return html`<div class="scroll"><table class="stack frozen">
<caption>What was loaded. Weights, quotes and expected amounts never change.</caption>
<thead><tr><th scope="col">Load</th><th scope="col">Bin and grade</th><th scope="col">How weighed</th>
  <th scope="col" class="figure">Weight, ${show.settings.unit}</th><th scope="col">Quote</th>
  <th scope="col" class="figure">Expected</th><th scope="col" class="figure">Query weight, ${yardUnit}</th>
  <th scope="col">Where it is</th></tr></thead>
<tbody>${loads.map((each) => frozenRow(show, each, yardUnit))}</tbody>
<tfoot><tr class="sum-row"><th scope="row" colspan="3" data-label="">Total</th>
  <td class="figure" data-label="Weight, ${show.settings.unit}">${show.weightFigure(totalUg)}</td><td class="no-stack"></td>
  <td class="figure" data-label="Expected">${show.money(expectedMinor)}</td><td class="no-stack"></td><td class="no-stack"></td></tr></tfoot>
</table></div>
${queryNotes(loads)}`;
}

/** What the query weight is for, and which loads have none and why. */
function queryNotes(loads: readonly ShownLoad[]): SafeHtml {
  const without = loads.flatMap(({ load, query }) => {
    const missing = noQueryText(query);
    return missing === null ? [] : [html`<li>${load.label} has no query weight: ${missing}.</li>`];
  });
  return html`<p class="hint">${QUERY_WEIGHT} Two honest scales seldom differ by that much.</p>${without.length === 0 ? null : html`<ul class="hint">${without}</ul>`}`;
}

const smallNote = (note: string | null): SafeHtml | null =>
  note === null ? null : html`<small class="below">${note}</small>`;

function frozenRow(show: Show, shown: ShownLoad, yardUnit: MassUnit): SafeHtml {
  const { load } = shown;
  return html`<tr>
  <th scope="row" class="code" data-label="Load">${load.label}</th>
  <td class="named" data-label="Bin and grade"><span><a href="/bins/${encodeURIComponent(load.bin_code)}" class="code">${load.bin_code}</a> ${swatch(load.family)} ${load.grade_name}${
    shown.yardGradeName === null ? null : html` <small>“${shown.yardGradeName}”</small>`
  }</span></td>
  <td class="wordy" data-label="How weighed"><span>${weighedText(show, shown)}</span></td>
  <td class="figure" data-label="Weight, ${show.settings.unit}">${show.weightFigure(shown.massUg)}</td>
  <td class="quote" data-label="Quote"><span>${quoteText(show, shown.quote, { marksStale: false })}</span></td>
  <td class="figure" data-label="Expected">${expectedText(show, shown.quote, shown.expectedMinor)}</td>
  <td class="figure" data-label="Query weight, ${yardUnit}"><span>${queryText(show, shown.query, { withUnit: false })}${smallNote(queryNote(show, shown.query))}</span></td>
  <td class="wordy" data-label="Where it is"><span>${whereabouts(show, shown)}</span></td>
</tr>`;
}

function whereabouts(show: Show, { load, paidBy }: ShownLoad): SafeHtml {
  if (paidBy !== null) return html`<a class="alone" href="/tickets/${paidBy.id}">on ticket ${paidBy.number}</a>`;
  if (load.returned_on === null) return html`out, on no ticket yet`;
  if (load.undoes_loading === 1) return html`in ${load.bin_code}: the loading was taken back`;
  return html`back in ${load.bin_code} since ${show.day(load.returned_on)}${load.return_reason ? html`: ${load.return_reason}` : null}`;
}

const asideList = ({ loads }: ShownManifest): SafeHtml =>
  html`<ul class="rows">${loads.map(
    ({ load }) => html`<li><span><b class="code">${load.label}</b> · ${load.bin_code} ${load.grade_name}</span></li>`,
  )}</ul>`;

/** Enter in a field presses a form's first button; here that would bring back some load or other, so it does nothing. */
const NO_BUTTON_FOR_ENTER = html`<button class="away" disabled aria-hidden="true"></button>`;

function returnForm({ manifest, loads }: ShownManifest, state: FormState): SafeHtml | null {
  const out = loads.filter(isOnItsWay);
  if (out.length === 0) return null;
  return html`<section class="way" id="not-sold"><h2>Not sold?</h2>
<p>Material that came back goes into its bin again, with its whole weight.</p>
<form method="post" action="/manifests/${manifest.id}/return">
  ${requestKeyField(state)}
  ${NO_BUTTON_FOR_ENTER}
  ${dayField({ name: 'returnedOn', label: 'Day it came back' }, state)}
  ${textField({ name: 'reason', label: 'Why', hint: 'For example: the yard was closed, the price was too low.' }, state)}
  <p class="acts">${out.map(
    ({ load }) =>
      html`<button class="quiet" formaction="/loads/${load.id}/return">Bring ${load.label} back to ${load.bin_code}</button>`,
  )}
  <button>Bring everything back</button></p>
</form>
${manifest.status === 'loaded' && out.length === loads.length ? undoLoadingForm(manifest.id) : null}</section>`;
}

/** A key of its own: the page has other forms, and each must post once for itself. */
const undoLoadingForm = (id: number): SafeHtml => html`<h3>Loaded by mistake?</h3>
<p>Takes the loading back as if it had never been, with what it booked as count differences. The manifest stays to be read;
  copy it to a new draft to load it right.</p>
<form method="post" action="/manifests/${id}/loading/undo">
  ${hiddenField('requestKey', `undo-loading-${id}`)}
  <p class="acts"><button class="quiet">Take the loading back</button></p>
</form>`;

function undoForm({ loads }: ShownManifest, state: FormState): SafeHtml | null {
  const back = loads.filter(({ load }) => load.load_return_id !== null && load.undoes_loading !== 1);
  if (back.length === 0) return null;
  const asks = state.problems.bookShortfall !== undefined || state.typed.bookShortfall !== undefined;
  return html`<section class="way"><h2>It was sold after all</h2>
<p>Takes a return back: the load leaves its bin again and waits for its ticket.</p>
<form method="post">
  ${requestKeyField(state)}
  ${asks ? shortfallTick(state) : null}
  <p class="acts">${back.map(
    ({ load }) =>
      html`<button class="quiet" formaction="/loads/${load.id}/return/undo">${load.label} (${load.bin_code}) was sold after all</button>`,
  )}</p>
</form></section>`;
}
