import { LOCAL_FIRST, type Reminder, reminders } from '../../seed/cautions.ts';
import type { LoadCaution } from '../../server/manifests/compute.ts';
import type { ShownLoad, ShownManifest } from '../../server/manifests/pages.ts';
import type { MassUnit } from '../../server/units/mass.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { noQueryText, QUERY_WEIGHT, queryNote, queryText } from '../scales/words.ts';
import { loadCautions } from './cautions.ts';
import { expectedText, quoteText } from './words.ts';

/** The manifest on paper: what leaves, what it weighs and was quoted, with boxes for what the yard says. */
export function manifestSheet(show: Show, shown: ShownManifest, cautions: readonly LoadCaution[]): SafeHtml {
  const { manifest } = shown;
  return page({
    title: `Manifest ${manifest.number}, ${manifest.yard_name}`,
    show,
    kind: 'sheet',
    body: html`<p class="no-print sheet-acts"><a class="button" href="/manifests/${manifest.id}">Back to the manifest</a>
  <button class="primary" type="button" data-print hidden>Print</button>
  <span class="hint" data-print-hint>Print this page with the browser.</span></p>
<article class="paper">
<div class="paper-head"><h1>Sheet to take along</h1>
<p>Weights in ${shown.yardUnit}, the yard’s unit. The boxes are for what the yard says; the sheet itself
  stays with you.</p></div>
${manifest.note === '' ? null : html`<p class="paper-note">Note: ${manifest.note}</p>`}
<div class="scroll" tabindex="0" role="region" aria-label="Loads">${loadTable(show, shown)}</div>
${sums(show, shown)}
${queryFootnote(shown.loads)}
${signatures()}
${cautions.length === 0 ? null : cautionList(cautions)}
${reminderLists()}
</article>`,
  });
}

/** Two rows for each load: ours above, the yard's boxes below in the same columns. Its head is on every page. */
function loadTable(show: Show, shown: ShownManifest): SafeHtml {
  const { manifest, yardUnit } = shown;
  const notLoaded = manifest.status === 'draft' ? 'draft, not loaded yet' : 'set aside, never loaded';
  const day = manifest.loaded_on === null ? notLoaded : `loaded ${show.day(manifest.loaded_on)}`;
  const unit = html`<small>${yardUnit}</small>`;
  return html`<table class="loads">
<colgroup><col class="col-label"><col class="col-what"><col span="4"><col class="col-query"><col class="col-quote"><col class="col-money"></colgroup>
<thead>
  <tr class="running"><th colspan="9" scope="colgroup"><span>Manifest ${manifest.number} · ${manifest.yard_name} · ${day}</span></th></tr>
  <tr><th scope="col">Load</th><th scope="col">Bin and grade</th>
    <th scope="col" class="figure">Gross ${unit}</th><th scope="col" class="figure">Tare ${unit}</th>
    <th scope="col" class="figure">Deduction</th><th scope="col" class="figure">Net ${unit}</th>
    <th scope="col" class="figure">Query weight ${unit}</th>
    <th scope="col" class="figure">Quote</th><th scope="col" class="figure">Expected</th></tr>
</thead>
${shown.loads.map((each) => loadRows(show, each, yardUnit))}
${blankRow()}${blankRow()}
</table>`;
}

const YARD_BOXES = ['yard gross', 'tare', 'deduction', 'net', '2nd net', 'price', 'amount'] as const;

const yardBoxes = (): SafeHtml[] => YARD_BOXES.map((name) => html`<td class="box"><small>${name}</small></td>`);

function loadRows(show: Show, shown: ShownLoad, unit: MassUnit): SafeHtml {
  const { load, reading } = shown;
  return html`<tbody>
<tr class="ours"><th scope="rowgroup" rowspan="2" class="label">${load.label}</th>
  <td rowspan="2" class="what">${what(shown)}</td>
  ${
    reading === null
      ? html`<td colspan="2" class="figure by-book">${load.weighed === 'book' ? 'by the book' : 'net only'}</td>`
      : html`<td class="figure">${show.weightFigure(reading.grossUg, unit)}</td>
  <td class="figure">${show.weightFigure(reading.tareUg, unit)}</td>`
  }
  <td></td>
  <td class="figure"><b>${show.weightFigure(shown.massUg, unit)}</b></td>
  <td class="figure query"><b>${queryText(show, shown.query, { withUnit: false })}</b>${smallNote(queryNote(show, shown.query))}</td>
  <td class="figure quote">${quoteText(show, shown.quote, { marksStale: false })}</td>
  <td class="figure">${expectedText(show, shown.quote, shown.expectedMinor)}</td></tr>
<tr class="boxes">${yardBoxes()}</tr>
</tbody>`;
}

const smallNote = (note: string | null): SafeHtml | null => (note === null ? null : html`<small>${note}</small>`);

/** For a load that the yard splits, or for what else goes onto its scale. */
const blankRow = (): SafeHtml => html`<tbody>
<tr class="boxes"><th scope="row" class="label also">also</th><td class="box-what"><small>what, from which load</small></td>${yardBoxes()}</tr>
</tbody>`;

const what = ({ load, yardGradeName }: ShownLoad): SafeHtml =>
  html`<b>${load.bin_code}</b> ${load.grade_name}${
    yardGradeName === null ? null : html`<br>yard: “${yardGradeName}”`
  }${load.container_name === null ? null : html`<br><small>in ${load.container_name}</small>`}${
    load.load_return_id === null ? null : html`<br><small>brought back</small>`
  }`;

/** What the query weight is for; and what is missing where a load has none. */
function queryFootnote(loads: readonly ShownLoad[]): SafeHtml | null {
  const reasons = new Map<string, string[]>();
  for (const { load, query } of loads) {
    const missing = noQueryText(query);
    if (missing !== null) reasons.set(missing, [...(reasons.get(missing) ?? []), load.label]);
  }
  if (loads.length === 0) return null;
  return html`<p class="query-note"><small>${QUERY_WEIGHT}${[...reasons].map(
    ([missing, labels]) => ` None for ${labels.join(', ')}: ${missing}.`,
  )}</small></p>`;
}

function sums(show: Show, { loads, totalUg, expectedMinor, yardUnit }: ShownManifest): SafeHtml {
  const unpriced = loads.filter((each) => each.expectedMinor === null).map(({ load }) => load.label);
  return html`<p class="sums">Total <b>${show.weight(totalUg, yardUnit)}</b> in ${loads.length === 1 ? '1 load' : `${loads.length} loads`}
  · expected <b>${show.money(expectedMinor)}</b>${
    unpriced.length === 0 ? null : html` without ${unpriced.join(', ')}, for which there is no price by weight`
  }</p>`;
}

/** The foot of the yard's ticket, to copy down before the paper gets lost. */
const signatures = (): SafeHtml => html`<dl class="lines">
  ${['Ticket number', 'Charges', 'Total paid', 'Paid by', 'For the yard', 'Signed', 'Day'].map(
    (name) => html`<div class="${name === 'Signed' ? 'long' : ''}"><dt>${name}</dt><dd></dd></div>`,
  )}
</dl>`;

const cautionList = (cautions: readonly LoadCaution[]): SafeHtml => html`<section class="cautions">
<div class="paper-head"><h2>With care</h2>
<p>The usual precautions for these loads. ${LOCAL_FIRST}</p></div>
${loadCautions(cautions)}
</section>`;

const reminderLists = (): SafeHtml => html`<section class="reminders">${reminders.map(reminderList)}</section>`;

const reminderList = ({ title, points, basis }: Reminder): SafeHtml => html`<div><h2>${title}</h2>
<ul>${points.map((point) => html`<li>${point}</li>`)}</ul><p><small>[${basis}]</small></p></div>`;
