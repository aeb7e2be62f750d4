import type { LoadCaution } from '../../server/manifests/compute.ts';
import { loadFields } from '../../server/manifests/compute.ts';
import type { Meanwhile } from '../../server/manifests/meanwhile.ts';
import type { DraftLists, ShownLoad, ShownManifest, UnderstoodLoad } from '../../server/manifests/pages.ts';
import { sumMoney } from '../../server/money/money.ts';
import { readDay } from '../../server/units/day.ts';
import { type MassUg, sumMass } from '../../server/units/mass.ts';
import { type PhotosParts, photosSection } from '../attachments/section.ts';
import { containerChoices } from '../common/containers.ts';
import {
  choiceField,
  dayField,
  type FormState,
  hiddenField,
  massUnitChoices,
  numberField,
  problemSummary,
  requestKeyField,
  tickField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { trailLink } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { shortfallTick } from '../ledger/correction.ts';
import { noQueryText, queryNote, queryText } from '../scales/words.ts';
import { cautionsBeforeLoading } from './cautions.ts';
import { linesMeanwhile, loadMeanwhile } from './meanwhile.ts';
import { expectedText, outlookText, quoteText } from './words.ts';

export interface DraftParts {
  shown: ShownManifest;
  lists: DraftLists;
  /** What the form's figures come to, by load. */
  understood: ReadonlyMap<number, UnderstoodLoad>;
  isSaved: boolean;
  photos: PhotosParts;
  meanwhile: Meanwhile;
  /** What to mind before it leaves. */
  cautions: readonly LoadCaution[];
}

/** A manifest that is not loaded yet: its loads with their weights, and the way to load it. */
export function draftPage(show: Show, parts: DraftParts, state: FormState): SafeHtml {
  const { manifest } = parts.shown;
  return page({
    title: `Manifest ${manifest.number}`,
    show,
    body: html`<div class="head">
  <h1>Manifest ${manifest.number} for ${manifest.yard_name}</h1>
  <p>A draft, begun ${show.day(manifest.drafted_on)}. Weigh each bin as it is loaded, or leave the reading empty to take
    the book weight.</p>
  ${manifest.note === '' ? null : html`<p>${manifest.note}</p>`}
</div>
${cautionsBeforeLoading(parts.cautions)}
${parts.isSaved ? html`<p class="saved" role="status">The weights are saved.</p>` : null}
<form method="post" action="/manifests/${manifest.id}/weights" data-till>
  ${problemSummary(withLoadNames(parts, state))}${requestKeyField(state)}${versionField(state)}
  ${linesMeanwhile(parts.meanwhile, manifest.id)}
  <button class="away" tabindex="-1" aria-hidden="true">Save weights</button>
  ${parts.shown.loads.map((each) => loadBlock(show, parts, each, state))}
  ${parts.shown.loads.length === 0 ? html`<p>No bin is on this manifest. Add one below.</p>` : foot(show, parts, state)}
  ${addBins(show, parts, state)}
  ${parts.shown.loads.length === 0 ? null : loading(show, parts, state)}
</form>
${photosSection(show, parts.photos)}
<h2>Not now</h2>
<form method="post" action="/manifests/${manifest.id}/set-aside">
  ${requestKeyField({ typed: {}, problems: {} })}${versionField(state)}
  <p class="hint">Nothing has moved yet. A draft that is set aside stays in the list and can be taken up again.</p>
  <button class="quiet">Set the draft aside</button>
</form>
${trailLink('manifest', manifest.id, 'What was done with this draft, and when')}`,
  });
}

/** What the form was made of, so that what somebody else saves meanwhile is not overwritten unseen. */
const versionField = ({ typed }: FormState): SafeHtml => hiddenField('version', typed.version ?? '');

/** Above the form a sentence stands far from its load, so it names it: "A: Enter a reading." */
function withLoadNames({ shown }: DraftParts, state: FormState): FormState {
  const nameOf = (field: string) => shown.loads.find(({ load }) => field.endsWith(`-${load.id}`))?.load.label;
  const problems = Object.entries(state.problems).map(([field, sentence]) => {
    const label = nameOf(field);
    return [field, label === undefined ? sentence : `${label}: ${sentence}`];
  });
  return { ...state, problems: Object.fromEntries(problems) };
}

/** The figures of a load as the form has them; a figure that cannot be read counts as the book weight for now. */
const figuresOf = (
  { understood }: DraftParts,
  { load, bookUg }: ShownLoad,
): Pick<UnderstoodLoad, 'massUg' | 'expectedMinor'> =>
  understood.get(load.id) ?? { massUg: bookUg, expectedMinor: null };

function foot(show: Show, parts: DraftParts, { problems }: FormState): SafeHtml {
  const figures = parts.shown.loads.map((each) => figuresOf(parts, each));
  const total = sumMass(figures.map(({ massUg }) => massUg));
  const expected = sumMoney(figures.flatMap(({ expectedMinor }) => (expectedMinor === null ? [] : [expectedMinor])));
  const count = figures.length === 1 ? '1 load' : `${figures.length} loads`;
  // A form comes back only with a problem, and nothing of it was saved then.
  const isSaved = Object.keys(problems).length === 0;
  const { outlook } = parts.shown;
  return html`<p class="total">${count}, as ${isSaved ? 'last saved' : `typed${unreadText(parts)}`}: <b>${show.weight(total)}</b>, ${show.money(expected)} expected</p>
${isSaved && outlook !== null ? html`<p class="hint">${outlookText(show, outlook)}</p>` : null}
<button>Save weights</button>`;
}

/** Which loads count with their book weight in a sum because what was typed for them cannot be read: " (A by the book)". */
function unreadText({ shown, understood }: DraftParts): string {
  const unread = shown.loads.filter(({ load }) => understood.get(load.id)?.problem != null);
  return unread.length === 0 ? '' : ` (${unread.map(({ load }) => load.label).join(', ')} by the book)`;
}

function loadBlock(show: Show, parts: DraftParts, shown: ShownLoad, state: FormState): SafeHtml {
  const { load } = shown;
  const understood = parts.understood.get(load.id);
  const own = shown.yardGradeName === null ? null : html` · “${shown.yardGradeName}” at this yard`;
  return html`<fieldset class="load">
  <legend><b class="code">${load.label}</b> · <b class="code">${load.bin_code}</b> ${load.grade_name}</legend>
  <p class="hint">${swatch(load.family)} book weight ${show.weight(shown.bookUg)}${own} · ${quoteText(show, shown.quote)}</p>
  ${shown.isBinClosed ? html`<p class="problem">${load.bin_code} was closed. Remove this load, or open the bin again in Set-up.</p>` : null}
  ${loadMeanwhile(parts.meanwhile, load.id)}
  ${weightFields(show, parts, shown, state)}
  <output id="understood-${load.id}" class="comes-to" aria-live="polite">${
    understood === undefined || understood.problem !== null ? null : loadUnderstood(show, shown, understood)
  }</output>
  ${asksShortfall(parts, shown, state) ? shortfallTick(state) : null}
  <p class="load-foot"><button class="quiet" formaction="/manifests/${load.manifest_id}/lines/${load.id}/removal"
    aria-label="Remove load ${load.label} from the manifest">Remove</button></p>
</fieldset>`;
}

/** A load whose figures can be read and that was still refused leaves its bin with less than nothing. */
const asksShortfall = (
  { understood }: DraftParts,
  { load, isBinClosed }: ShownLoad,
  { problems }: FormState,
): boolean =>
  problems[loadFields(load.id).gross] !== undefined && understood.get(load.id)?.loadOut != null && !isBinClosed;

function weightFields(show: Show, { lists }: DraftParts, { load }: ShownLoad, state: FormState): SafeHtml {
  const fields = loadFields(load.id);
  const containers = containerChoices(show, lists.containers);
  const scales = lists.scales.map(({ id, name }) => ({ value: String(id), label: name }));
  const ask = (trigger: string) => html`hx-get="/manifests/${load.manifest_id}/lines/${load.id}/understood"
    hx-include="closest fieldset" hx-target="#understood-${load.id}" hx-trigger="${trigger}"`;
  const typing = ask('input changed delay:200ms');
  const chosen = ask('change');
  return html`<div class="load-fields">
    ${numberField({ name: fields.gross, label: 'Reading (gross)', letters: true, attributes: typing }, state)}
    ${choiceField({ name: fields.container, label: 'Container', choices: containers, none: 'None', attributes: chosen }, state)}
    ${numberField({ name: fields.tare, label: 'or tare', attributes: typing }, state)}
    ${choiceField({ name: fields.unit, label: 'Unit', choices: massUnitChoices, attributes: chosen }, state)}
    ${choiceField({ name: fields.scale, label: 'Scale', choices: scales, none: 'Not said', attributes: chosen }, state)}
  </div>
  ${tickField({ name: fields.empties, label: `${load.bin_code} is then empty`, attributes: chosen }, state)}`;
}

/** What a load's figures come to, and how they stand to the book. Part of the page, and served while typing. */
export function loadUnderstood(show: Show, shown: ShownLoad, understood: UnderstoodLoad): SafeHtml {
  const { problem, massUg, comparison } = understood;
  if (problem !== null) return html`<span class="problem">${problem}</span>`;
  const expected = expectedText(show, shown.quote, understood.expectedMinor);
  const kind = comparison === null ? 'book weight' : 'net';
  return html`${readAs(show, understood)}<b>${show.weight(massUg)}</b> ${kind}, ${expected === '–' ? 'no price yet' : `${expected} expected`}${
    comparison === null ? null : againstBook(show, shown, understood)
  }${queryLine(show, understood)}`;
}

/** How the reading was understood, where it was typed in another way than the ledger writes one. */
function readAs(show: Show, { loadOut, grossUg }: UnderstoodLoad): SafeHtml | null {
  if (loadOut === null || grossUg === null) return null;
  const text = show.readAs(loadOut.grossTyped, grossUg, loadOut.unit);
  return text === null ? null : html`<small>${text}</small><br>`;
}

/** From which weight on to ask the yard, or what is missing to tell. */
function queryLine(show: Show, { query }: UnderstoodLoad): SafeHtml | null {
  if (query === null) return null;
  const missing = noQueryText(query);
  const note = queryNote(show, query);
  return missing === null
    ? html`<br><span class="hint">Query weight ${queryText(show, query)}${note === null ? '' : ` (${note})`}: at that or less, ask the
      yard for a second weighing.</span>`
    : html`<br><span class="hint">No query weight: ${missing}.</span>`;
}

function againstBook(
  show: Show,
  { bookUg, load }: ShownLoad,
  { comparison, loadOut }: UnderstoodLoad,
): SafeHtml | null {
  if (comparison === null || comparison.differenceUg === 0) return null;
  const size = show.weight(Math.abs(comparison.differenceUg) as MassUg);
  const side = comparison.differenceUg > 0 ? 'above' : 'below';
  const isCounted = loadOut?.emptiesBin === true;
  // A part of a bin is naturally far below the book.
  if (comparison.isFar && (isCounted || side === 'above')) {
    return html`<br><span class="stale">That is ${size} ${side} the book weight of ${load.bin_code}, ${show.weight(bookUg)}.
      Is it as read, and in the right unit?</span>`;
  }
  return isCounted ? html`; ${size} ${side} the book, booked as a count difference` : null;
}

function addBins(show: Show, { lists, shown }: DraftParts, { problems, typed }: FormState): SafeHtml | null {
  const problem = problems.bins;
  const { id } = shown.manifest;
  if (lists.otherBins.length === 0) return null;
  const ticked = new Set((typed.bins ?? '').split(/,\s*/));
  return html`<details class="more" ${problem !== undefined || shown.loads.length === 0 ? html`open` : null}>
  <summary>Add bins</summary>
  <fieldset id="f-bins" tabindex="-1"><legend>Bins to add</legend>
    ${problem === undefined ? null : html`<p class="problem">${problem}</p>`}
    ${lists.otherBins.map(
      (bin) => html`<div class="tick"><label><input type="checkbox" name="bins" value="${bin.id}"
      ${ticked.has(String(bin.id)) ? html`checked` : null}> <span><b class="code">${bin.code}</b> ${bin.grade_name},
      ${bin.mass_ug > 0 ? show.weight(bin.mass_ug) : 'empty by the book'}</span></label></div>`,
    )}
    <p><button formaction="/manifests/${id}/lines">Add to the manifest</button></p>
  </fieldset>
</details>`;
}

/** By the book of an earlier day a load may be too much; a day to come, or one that cannot be read, is only to be changed. */
function asksAboutDay(show: Show, { typed, problems }: FormState): boolean {
  if (problems.loadedOn === undefined) return false;
  const read = readDay(typed.loadedOn ?? '');
  return read.ok && read.value <= show.today;
}

function loading(show: Show, { shown, understood }: DraftParts, state: FormState): SafeHtml {
  const asked = shown.loads.some((each) => asksShortfall({ understood } as DraftParts, each, state));
  return html`<section class="next">
  <h2>Load it</h2>
  <p>The weights above are saved, the quotes of that day are written beside them, and the manifest never changes after
    that.</p>
  ${dayField({ name: 'loadedOn', label: 'Day loaded' }, state)}
  ${!asked && (state.typed.bookShortfall || asksAboutDay(show, state)) ? shortfallTick(state) : null}
  ${state.problems.confirm === undefined ? null : tickField({ name: 'confirm', label: 'The weights are right: load it' }, state)}
  <p class="acts"><button class="primary" formaction="/manifests/${shown.manifest.id}/loading">Save and load</button>
  <a class="button quiet" href="/manifests/${shown.manifest.id}/sheet">See the sheet</a></p>
</section>`;
}
