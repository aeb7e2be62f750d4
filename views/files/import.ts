import type { ImportReport } from '../../server/files/acts.ts';
import type { FileProblem } from '../../server/files/csv.ts';
import type { FileNote, ImportKind } from '../../server/files/imports/rows.ts';
import { choiceField, type FormState, hiddenField, problemSummary, requestKeyField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { putBackForm } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

export interface ImportPageParts {
  kinds: readonly ImportKind[];
  state: FormState;
  /** The file that was checked, and its bytes as they are carried to the second step. */
  checked: { report: ImportReport; content: string } | null;
  /** What was imported a moment ago: "12 in-weights". */
  imported: string | null;
  /** The line of the trail by which it can be taken back; 0 without one. */
  trailId: number;
  largestFile: string;
}

const MOST_SHOWN = 200;

/** Two steps: the file is checked and shown first, and only then imported. */
export function importPage(show: Show, parts: ImportPageParts): SafeHtml {
  const { checked, imported } = parts;
  return page({
    title: 'Import a file',
    show,
    body: html`<h1>Import a file</h1>
${imported === null ? null : html`<div class="saved" role="status"><p>${imported} imported. <a href="/">To the bins</a></p>${putBackForm(parts.trailId, 'Take the whole file back')}</div>`}
${checked === null ? wholeProblem(parts.state) : checkedFile(checked.report, checked.content, parts.state)}
${checked === null ? null : html`<h2>${checked.report.problems.length > 0 ? 'Put it right, or choose it again' : 'Another file'}</h2>`}
${importBox(parts)}
<p><a class="alone" href="/setup/files">All files</a></p>`,
  });
}

/** Why the file could not even be checked. */
const wholeProblem = (state: FormState): SafeHtml | null =>
  Object.hasOwn(state.problems, '') ? problemSummary(state) : null;

/** The form of the first step. Works on its own on the page of all files. */
export function importBox({
  kinds,
  state,
  largestFile,
}: Omit<ImportPageParts, 'checked' | 'imported' | 'trailId'>): SafeHtml {
  const choices = kinds.map(({ name }) => ({ value: name, label: name }));
  const { typed } = state;
  return html`<form method="post" action="/import" enctype="multipart/form-data">
  ${Object.hasOwn(state.problems, '') ? null : problemSummary(state)}
  ${choiceField({ name: 'kind', label: 'What is in it', choices, none: 'Choose' }, state)}
  <div class="field">
    <label for="f-file">File</label>
    <input type="file" id="f-file" name="file" accept=".csv,text/csv,text/plain" aria-describedby="f-file-hint">
    <p class="hint" id="f-file-hint">CSV, commas between the cells, at most ${largestFile}.</p>
  </div>
  <div class="field wide ${state.problems.text === undefined ? '' : 'has-problem'}">
    <label for="f-text">or its text</label>
    <textarea id="f-text" name="text" rows="6" spellcheck="false" class="file-text">${typed.text ?? ''}</textarea>
    ${state.problems.text === undefined ? null : html`<p class="problem">${state.problems.text}</p>`}
  </div>
  <button class="primary">Check the file</button>
  <p class="hint">Nothing is stored yet: you see first what is in it, and what is wrong with it.</p>
</form>
${columnsTable(kinds)}`;
}

const columnsTable = (kinds: readonly ImportKind[]) => html`<details class="more">
<summary>What each file holds</summary>
<p>The first line names the columns, in any order. Decimals have a point, days are written like 2025-03-08. To fill an
empty ledger, import in this order.</p>
<div class="scroll"><table class="kinds">
  <thead><tr><th>File</th><th>Columns</th><th>What it is</th></tr></thead>
  <tbody>${kinds.map(
    (kind) => html`<tr>
    <th scope="row">${kind.name}</th>
    <td>${kind.columns.join(', ')}${
      kind.optional.length === 0 ? null : html`<br><small>may be left out: ${kind.optional.join(', ')}</small>`
    }</td>
    <td>${kind.sentence}</td>
  </tr>`,
  )}</tbody>
</table></div>
</details>`;

function checkedFile(report: ImportReport, content: string, state: FormState): SafeHtml {
  const body = report.problems.length > 0 ? problemList(report.problems) : readyToImport(report, content, state);
  return html`<section>${body}${preview(report)}</section>`;
}

const more = (count: number) => (count > MOST_SHOWN ? html`<p>and ${String(count - MOST_SHOWN)} more.</p>` : null);
const where = ({ line, column }: { line: number; column: string }) =>
  [line === 0 ? null : `line ${line}`, column === '' ? null : column].filter(Boolean).join(', ');

function problemList(problems: readonly FileProblem[]): SafeHtml {
  const count = problems.length;
  return html`<div class="problems" role="alert" tabindex="-1" autofocus>
  <p>${count === 1 ? 'One thing is' : `${count} things are`} wrong with this file. Nothing of it was stored.</p>
  <ul>${problems.slice(0, MOST_SHOWN).map((problem) => {
    const at = where(problem);
    return html`<li>${at === '' ? null : html`<b>${at}:</b> `}${problem.sentence}</li>`;
  })}</ul>
  ${more(count)}
</div>`;
}

function readyToImport({ kind, rows, counted, notes }: ImportReport, content: string, state: FormState): SafeHtml {
  if (rows === 0)
    return html`<p class="saved" role="status">The file names its columns and has no rows: nothing to import.</p>`;
  const hasRepeats = notes.some(({ isRepeat }) => isRepeat);
  const found = hasRepeats ? 'all readable, but not all new' : 'nothing wrong';
  return html`<p class="saved" role="status">${counted}, ${found}. Nothing is stored yet.</p>
${noteList(notes)}
<form method="post" action="/import" enctype="multipart/form-data">
  ${problemSummary(state)}
  ${hiddenField('step', 'import')}
  ${hiddenField('kind', kind.name)}
  ${hiddenField('content', content)}
  ${requestKeyField(state)}
  <button class="primary">${hasRepeats ? 'Import every row, those too' : `Import ${counted}`}</button>
</form>`;
}

function noteList(notes: readonly FileNote[]): SafeHtml | null {
  if (notes.length === 0) return null;
  return html`<p>Worth knowing before you do:</p>
<ul>${notes.slice(0, MOST_SHOWN).map((note) => html`<li><b>line ${String(note.line)}:</b> ${note.sentence}</li>`)}</ul>
${more(notes.length)}`;
}

function preview({ header, preview: rows, rows: count }: ImportReport): SafeHtml | null {
  if (rows.length === 0) return null;
  return html`<h2>${count > rows.length ? `The first ${rows.length} rows` : 'Its rows'}</h2>
<div class="scroll"><table class="cells">
  <thead><tr><th>Line</th>${header.map((column) => html`<th>${column}</th>`)}</tr></thead>
  <tbody>${rows.map(
    ({ line, cells }) =>
      html`<tr><td class="figure">${String(line)}</td>${cells.map((cell) => html`<td>${shortCell(cell)}</td>`)}</tr>`,
  )}</tbody>
</table></div>`;
}

const shortCell = (cell: string): string => (cell.length > 60 ? `${cell.slice(0, 60)}…` : cell);
