import { itemName } from '../../server/items/compute.ts';
import type { LayerSaid } from '../../server/layers/queries.ts';
import type { BinLedgerRow, LedgerDocument } from '../../server/ledger/bin-ledger.ts';
import type { ledgerKinds } from '../../server/ledger/compute.ts';
import type { BinOnHand, InWeight } from '../../server/ledger/queries.ts';
import type { DocumentKind } from '../../server/ledger/table.ts';
import type { Typed } from '../../server/reading.ts';
import type { Day } from '../../server/units/day.ts';
import type { MassUg } from '../../server/units/mass.ts';
import { type PhotosParts, photosSection } from '../attachments/section.ts';
import {
  choiceField,
  dayField,
  type FormState,
  hiddenField,
  massUnitChoices,
  noProblems,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { trailLink } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { shortfallTick } from './correction.ts';

export interface BinPageParts {
  bin: BinOnHand;
  /** `isGone`: taken back, or taking another line back; then there is no balance. */
  lines: (BinLedgerRow & { isGone: boolean; balanceUg: MassUg | null })[];
  inWeights: Map<number, InWeight>;
  /** What the other lines came from, by kind and id. */
  documents: Map<string, LedgerDocument>;
  /** What is in it, oldest first. */
  layers: { layers: readonly LayerSaid[]; hasMore: boolean };
  /** What was just done, as in the address. */
  done: string;
  /** Address of the lines before these, or null. */
  older: string | null;
  isNewest: boolean;
  isFiltered: boolean;
  /** The filter of the ledger as the address has it. */
  filter: FormState;
  otherBins: BinOnHand[];
  photos: PhotosParts;
  starting: Typed;
}

/** A form of the page that came back with problems. */
export interface BinPageForms {
  recount?: FormState;
  move?: FormState;
  undo?: FormState;
}

/** A bin's ledger: everything that went in and out, with the balance after each line. */
export function binPage(show: Show, parts: BinPageParts, forms: BinPageForms = {}): SafeHtml {
  const { bin } = parts;
  return page({
    title: `Bin ${bin.code}`,
    show,
    body: html`<div class="head">
  <h1><span class="code">${bin.code}</span> ${bin.grade_name}</h1>
  <p class="total"><b>${show.weight(bin.mass_ug)}</b> by the book ${bin.closed_on === null ? null : html`· closed ${show.day(bin.closed_on)}`}</p>
  <p class="hint">${swatch(bin.family)} ${bin.family}${bin.place === '' ? '' : ` · ${bin.place}`}<span class="no-print"> · <a href="/setup/bins/${bin.id}">change</a> · <a href="/setup/tags?bins=${bin.id}">print its tag</a></span></p>
  ${
    bin.closed_on === null
      ? html`<p class="acts"><a class="button primary" href="/weigh-in?bin=${encodeURIComponent(bin.code)}">Weigh in</a>
  ${parts.lines.length === 0 ? null : html`<a class="button" href="#recount">Recount</a> <a class="button" href="#move">Move</a>${bin.family === 'insulated wire' ? html` <a class="button" href="/bench/stripping?from=${encodeURIComponent(bin.code)}">Strip</a>` : null}`}</p>`
      : null
  }
</div>
${doneNote(show, parts)}
${forms.undo === undefined ? null : problemSummary(forms.undo)}
${parts.lines.length === 0 && !parts.isFiltered ? null : ledgerFilter(parts)}
${ledgerTable(show, parts)}
${parts.older === null ? null : html`<p><a class="button" href="${parts.older}">Older lines</a></p>`}
${parts.isNewest ? null : html`<p><a class="button" href="/bins/${encodeURIComponent(bin.code)}">Newest lines</a></p>`}
${layersSection(show, parts)}
${photosSection(show, parts.photos)}
${bin.closed_on === null ? html`<div class="ways">${recountForm(show, parts, forms.recount)}${moveForm(parts, forms.move)}</div>` : null}
<p class="trail-link"><a href="/in-weights?bin=${encodeURIComponent(bin.code)}">Every weighing into ${bin.code}</a></p>
${trailLink('bin', bin.id, `What was done with ${bin.code}, and when`)}`,
  });
}

const DONE: Record<string, string> = {
  recounted: 'Recounted.',
  moved: 'Moved.',
  stripped: 'Stripped.',
  corrected: 'Corrected.',
  undone: 'Taken back.',
};

function doneNote(show: Show, { bin, done }: BinPageParts): SafeHtml | null {
  const words = Object.hasOwn(DONE, done) ? DONE[done] : undefined;
  if (words === undefined) return null;
  return html`<p class="saved" role="status">${words} ${bin.code} now holds ${show.weight(bin.mass_ug)}.</p>`;
}

const KIND_NAMES: Record<keyof typeof ledgerKinds, string> = {
  in: 'Weighed in',
  counted: 'Recounts and count differences',
  moved: 'Moves to and from other bins, stripping',
  loaded: 'Loaded and brought back',
};

/** Which lines to show. Without a filter it is folded away: the ledger comes first. */
function ledgerFilter({ bin, filter, isFiltered }: BinPageParts): SafeHtml {
  const choices = Object.entries(KIND_NAMES).map(([value, label]) => ({ value, label }));
  return html`<details ${isFiltered ? html`open` : null}><summary>Which lines</summary>
<form method="get" action="/bins/${encodeURIComponent(bin.code)}" class="filters" role="search" aria-label="Lines of this bin">
  ${choiceField({ name: 'kind', label: 'What', choices, none: 'Everything' }, filter)}
  ${dayField({ name: 'from', label: 'From' }, filter)}
  ${dayField({ name: 'to', label: 'To' }, filter)}
  <button>Show</button>
</form></details>`;
}

function ledgerTable(show: Show, parts: BinPageParts): SafeHtml {
  if (parts.lines.length === 0) {
    return html`<p>${parts.isFiltered ? 'No line fits this filter.' : 'Nothing was weighed into this bin yet.'}</p>`;
  }
  return html`<div class="scroll"><table class="ledger">
<caption>In and out in ${show.settings.unit}, newest first</caption>
<thead><tr><th scope="col" class="day">Day</th><th scope="col">What</th><th scope="col" class="figure">In or out</th>
  <th scope="col" class="figure">Balance</th></tr></thead>
<tbody>${parts.lines.filter(isShown).map((line) => ledgerLine(show, parts, line))}</tbody>
</table></div>`;
}

/** Micrograms that a load-out weight leaves over in the figures: booked, so that the bin is empty, and not worth a line. */
const isShown = (line: BinLedgerRow): boolean =>
  Math.abs(line.signed_ug) >= 1000 || !line.reason.startsWith('count difference');

function ledgerLine(show: Show, parts: BinPageParts, line: BinPageParts['lines'][number]): SafeHtml {
  const inWeight = line.document_kind === 'in_weight' ? parts.inWeights.get(line.document_id) : undefined;
  const document = parts.documents.get(`${line.document_kind} ${line.document_id}`);
  const size = show.weightFigure(Math.abs(line.signed_ug) as MassUg);
  return html`<tr class="${line.isGone ? 'undone' : ''}">
  <td class="day">${show.day(line.occurred_on)}</td>
  <td><small class="day-above">${show.day(line.occurred_on)}</small> ${whatOf(line, document)}${inWeight === undefined || line.reverses_id !== null ? null : asWeighed(show, inWeight)}
    ${document === undefined || document.note === '' ? null : html`<small>${document.note}</small>`}
    ${line.isGone ? null : putRight(parts.bin, line)}</td>
  <td class="figure">${line.signed_ug > 0 ? '+' : '−'}${size}</td>
  <td class="figure">${line.balanceUg === null ? null : html`<b>${show.weightFigure(line.balanceUg)}</b>`}</td>
</tr>`;
}

/** What happened, in words, with the document it came from. */
function whatOf(line: BinLedgerRow, document: LedgerDocument | undefined): SafeHtml {
  const isWaste = line.other_kind === 'waste';
  const other = isWaste
    ? null
    : (line.other_bin_code ?? (line.signed_ug > 0 ? document?.from_code : document?.to_code) ?? null);
  const otherBin = other === null ? '' : ` ${line.signed_ug > 0 ? 'from' : 'to'} ${other}`;
  const gone = line.reverses_id === null ? (line.is_reversed === 1 ? ', taken back' : '') : ' (cancels a line)';
  const text = `${line.reason}${otherBin}${gone}`;
  if (line.document_kind === 'ticket') return html`<a href="/tickets/${line.document_id}">${text}</a>`;
  if (document?.manifest_id == null) return html`${text}`;
  return html`<a href="/manifests/${document.manifest_id}">${text}, manifest ${document.manifest_number}</a>`;
}

function asWeighed(show: Show, inWeight: InWeight): SafeHtml {
  const { unit, note, is_estimate } = inWeight;
  const gross = show.typedWeight(inWeight.gross_typed, unit, inWeight.gross_ug);
  const sum = `${gross} − ${show.typedWeight(inWeight.tare_typed, unit, inWeight.tare_ug)}`;
  return html` <small>${sum}${is_estimate ? ', an estimate' : ''}${note === '' ? '' : ` · ${note}`}${fromItem(inWeight)}</small>`;
}

const fromItem = ({ item_id: id }: InWeight): SafeHtml | null =>
  id === null ? null : html` · from <a href="/items/${id}">${itemName(id)}</a>`;
/** What a load takes first, and what it is of. Folded: the ledger is asked for more often. */
function layersSection(show: Show, { bin, layers: { layers, hasMore } }: BinPageParts): SafeHtml | null {
  if (layers.length === 0) return null;
  return html`<details class="more"><summary>What is in it, oldest first</summary>
<p>A load takes the oldest first; a move or a recount changes all of it in proportion. By this the money of a ticket comes
  to the items.</p>
<div class="scroll"><table><caption>What is in ${bin.code}, oldest first</caption>
<thead><tr><th scope="col" class="day">Since</th><th scope="col">Of</th><th scope="col" class="figure">Weight</th></tr></thead>
<tbody>${layers.flatMap(({ cameOn, parts }) => parts.map((part) => layerRow(show, cameOn, part)))}</tbody></table></div>
${hasMore ? html`<p class="hint">Later material stands behind it.</p>` : null}</details>`;
}

const layerRow = (show: Show, cameOn: Day, { itemId, kindName, massUg }: LayerSaid['parts'][number]): SafeHtml =>
  html`<tr><td class="day">${show.day(cameOn)}</td><td class="wordy">${
    itemId === null ? 'no item' : html`<a href="/items/${itemId}">${itemName(itemId)}</a>, ${kindName}`
  }</td><td class="figure">${show.weight(massUg)}</td></tr>`;

/** Where the documents of a bin's ledger are taken back. */
const UNDO_PATHS: Partial<Record<DocumentKind, string>> = {
  recount: 'recounts',
  bin_transfer: 'bin-transfers',
  stripping: 'strippings',
};

function putRight(bin: BinOnHand, line: BinLedgerRow): SafeHtml | null {
  if (line.document_kind === 'in_weight')
    return html`<a class="put-right" href="/in-weights/${line.document_id}/correction">Correct</a>`;
  const path = UNDO_PATHS[line.document_kind];
  // What was stripped off stands beside its metal, and is taken back with it.
  if (path === undefined || line.other_kind === 'waste') return null;
  return html`<form method="post" action="/bins/${encodeURIComponent(bin.code)}/${path}/${line.document_id}/undo">
    ${hiddenField('requestKey', `undo-${path}-${line.document_id}`)}<button class="quiet">Undo</button></form>`;
}

function recountForm(show: Show, { bin, starting }: BinPageParts, failed?: FormState): SafeHtml {
  const state = { ...(failed ?? noProblems(starting)), idPrefix: 'recount-' };
  return html`<section class="way" id="recount"><h2>Recount</h2>
<p>Weigh what is in the bin, without its container. The difference from the book, ${show.weight(bin.mass_ug)}, is booked as
  a count difference.</p>
<form method="post" action="/bins/${encodeURIComponent(bin.code)}/recounts" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  <div class="pair">
    ${numberField({ name: 'net', label: 'Net weight in the bin' }, state)}
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
  </div>
  ${dayField({ name: 'occurredOn', label: 'Day' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}
  <button>Save the recount</button>
</form></section>`;
}

function moveForm({ bin, otherBins, starting }: BinPageParts, failed?: FormState): SafeHtml {
  const state = { ...(failed ?? noProblems(starting)), idPrefix: 'move-' };
  const choices = otherBins.map((other) => ({ value: other.code, label: `${other.code} · ${other.grade_name}` }));
  return html`<section class="way" id="move"><h2>Move to another bin</h2>
<p>For material that turned out to be another grade, or a bucket emptied into another.</p>
<form method="post" action="/bins/${encodeURIComponent(bin.code)}/transfers" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  ${choiceField({ name: 'toBin', label: 'To bin', choices, none: 'Choose a bin' }, state)}
  <div class="pair">
    ${numberField({ name: 'net', label: 'Net weight moved' }, state)}
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
  </div>
  ${dayField({ name: 'occurredOn', label: 'Day' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}
  ${state.problems.net === undefined && !state.typed.bookShortfall ? null : shortfallTick(state)}
  <button>Move it</button>
</form></section>`;
}
