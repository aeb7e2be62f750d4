import type { ExportFile } from '../../server/files/exports/export.ts';
import type { ImportKind } from '../../server/files/imports/rows.ts';
import { noProblems } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { importBox } from './import.ts';

export interface FilesPageParts {
  ledgerExports: readonly ExportFile[];
  reportExports: readonly ExportFile[];
  journal: { readonly name: string; readonly fileName: string; readonly sentence: string };
  kinds: readonly ImportKind[];
  largestFile: string;
}

/** Everything that goes in and out as a file. */
export function filesPage(show: Show, { ledgerExports, reportExports, journal, ...box }: FilesPageParts): SafeHtml {
  return page({
    title: 'Files',
    show,
    body: html`<h1>Files</h1>
<p>Every file but the journal is plain CSV that any spreadsheet opens. They hold what stands: what was taken back,
corrected or replaced stays in the ledger only.</p>
<h2>Take the ledger out</h2>
<p>Imported into an empty ledger in this order, these files give the same files again.</p>
<p><b>They are not a full copy.</b> Not in them are recounts and moves between bins, so that a bin that had one comes out
with another weight; containers, full marks and which weights were estimates; the yards’ own names for grades; drafts;
photos and papers; and the notes of grades, yards, manifests and tickets. A full copy is a backup or the
archive: <a href="/setup/backups">Set-up → Backups</a>.</p>
${fileList(ledgerExports)}
<h2>Take reports out</h2>
${fileList(reportExports)}
<h2>Take a journal out</h2>
<ul class="rows files">${fileRow(journal, journal.fileName)}</ul>
<h2>Bring a file in</h2>
${importBox({ ...box, state: noProblems({}) })}`,
  });
}

const fileList = (files: readonly ExportFile[]) =>
  html`<ul class="rows files">${files.map((file) => fileRow(file, `${file.name}.csv`))}</ul>`;

const fileRow = ({ name, sentence }: { name: string; sentence: string }, fileName: string) =>
  html`<li>
  <span class="row-main"><b>${name}</b><small>${sentence}</small></span>
  <a class="button quiet" href="/export/${fileName}" download aria-label="Export ${name}">Export</a>
</li>`;
