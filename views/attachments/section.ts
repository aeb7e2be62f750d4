import { fileAddress, previewAddress, previewSize } from '../../server/attachments/compute.ts';
import type { Attachment } from '../../server/attachments/queries.ts';
import type { AttachedTo } from '../../server/attachments/table.ts';
import { type FormState, problemSummary, requestKeyField, textField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

export interface PhotosParts {
  kind: AttachedTo;
  /** Where the form is posted to. */
  action: string;
  photos: readonly Attachment[];
  /** What was taken off, to be put back. */
  takenOff: readonly Attachment[];
  /** Addresses of the photos before and after these, or null. */
  newer: string | null;
  older: string | null;
  /** What was just done; '' for nothing. */
  said: string;
  state: FormState;
}

/** The photos and papers of a document, on its page. */
export function photosSection(show: Show, parts: PhotosParts): SafeHtml {
  const { photos, newer, older, said } = parts;
  const isBare = photos.length === 0 && newer === null;
  return html`<section id="photos" class="photos-part ${isBare ? 'no-print' : ''}" aria-labelledby="photos-title">
<h2 id="photos-title">Photos and papers</h2>
${said === '' ? null : html`<p class="saved" role="status">${said}</p>`}
${isBare ? null : html`<ul class="photos">${photos.map((photo) => html`<li>${photoLink(show, photo)}</li>`)}</ul>`}
${newer === null && older === null ? null : turnLinks(parts)}
${addForm(parts)}
${takenOffList(show, parts)}
</section>`;
}

const turnLinks = ({ newer, older }: PhotosParts) => html`<p class="pages">
  ${newer === null ? null : html`<a class="button" href="${newer}">Newer ones</a>`}
  ${older === null ? null : html`<a class="button" href="${older}">Older ones</a>`}
</p>`;

/** A photo without a caption is named by the day on which it was kept. */
export const nameOf = (show: Show, { caption, content, kept_on: on }: Attachment): string =>
  caption !== '' ? caption : `${content === 'photo' ? 'Photo' : 'PDF'}, kept ${show.day(on)}`;

/** The preview; the text beside it says what it is, so it is silent to a screen reader. */
function preview(photo: Attachment): SafeHtml {
  const size = previewSize(photo);
  if (size === null) return html`<span class="photo-pdf" aria-hidden="true">PDF</span>`;
  return html`<img src="${previewAddress(photo)}" alt="" width="${String(size[0])}" height="${String(size[1])}" loading="lazy">`;
}

const photoLink = (show: Show, photo: Attachment): SafeHtml =>
  html`<a class="photo" href="/photos/${photo.id}">${preview(photo)}<span>${nameOf(show, photo)}</span></a>`;

const WHAT_FOR: Record<AttachedTo, string> = {
  ticket: 'For example the yard’s ticket itself.',
  manifest: 'For example what was loaded, or the yard’s ticket before it is typed: it then stands beside the form.',
  bin: 'For example proof of where the material came from.',
  item: 'For example the thing as it stood there, a receipt, or a note from whoever gave it.',
};

/** Folded away unless it came back with something to put right. The files come last: the fields are read before them. */
function addForm({ kind, action, state: given }: PhotosParts): SafeHtml {
  const state = { ...given, idPrefix: 'photo-' };
  const problem = state.problems.photos;
  const isOpen = Object.keys(state.problems).length > 0;
  return html`<details class="more" ${isOpen ? html`open` : null}><summary>Add photos or papers</summary>
<form method="post" action="${action}" enctype="multipart/form-data">
  ${problemSummary(state)}${requestKeyField(state)}
  ${textField({ name: 'caption', label: 'Caption', hint: 'May stay empty.' }, state)}
  <div class="field ${problem === undefined ? '' : 'has-problem'}">
    <label for="f-photo-photos">Photos (JPEG or PNG) or PDFs</label>
    <input type="file" id="f-photo-photos" name="photos" multiple accept="image/jpeg,image/png,application/pdf"
      aria-describedby="f-photo-photos-hint${problem === undefined ? '' : ' f-photo-photos-problem'}" ${problem === undefined ? null : html`aria-invalid="true"`}>
    <p class="hint" id="f-photo-photos-hint">${WHAT_FOR[kind]} Up to 10 at a time, 12 MB each. The place where a photo
      was taken is not kept; a PDF is kept as it is.</p>
    ${problem === undefined ? null : html`<p class="problem" id="f-photo-photos-problem">${problem}</p>`}
  </div>
  <button>Keep them here</button>
</form></details>`;
}

function takenOffList(show: Show, { takenOff }: PhotosParts): SafeHtml | null {
  if (takenOff.length === 0) return null;
  return html`<details class="more no-print"><summary>Taken off (${String(takenOff.length)})</summary>
<ul class="photos">${takenOff.map((photo) => html`<li>${photoLink(show, photo)}${putBackForm(photo)}</li>`)}</ul></details>`;
}

/** Puts back what was taken off, from its document's page or its own. */
export const putBackForm = (photo: Attachment): SafeHtml =>
  html`<form method="post" action="/photos/${photo.id}/removal/undo">${requestKeyField({ typed: {}, problems: {} })}
  <button class="quiet" aria-label="Put back: ${photo.caption === '' ? photo.file_name : photo.caption}">Put back</button></form>`;

/** Photos that are kept with another document than the page's, such as those of a ticket with its manifest. */
export function photosElsewhere(
  show: Show,
  photos: readonly Attachment[],
  { name, href }: { name: string; href: string },
): SafeHtml | null {
  if (photos.length === 0) return null;
  return html`<h3>Kept with <a href="${href}">${name}</a></h3>
<ul class="photos">${photos.map((photo) => html`<li>${photoLink(show, photo)}</li>`)}</ul>`;
}

/** Photos to type from, each opened in a tab of its own so that the form beside it stays as it is. */
export function photosBeside(show: Show, photos: readonly Attachment[]): SafeHtml | null {
  if (photos.length === 0) return null;
  return html`<section class="photos-beside no-print" aria-labelledby="beside-title">
<h2 id="beside-title">Photos and papers to type from</h2>
<ul class="photos">${photos.map(
    (
      photo,
    ) => html`<li><a class="photo" href="${fileAddress(photo)}" target="_blank" rel="noopener">${preview(photo)}<span>${nameOf(show, photo)}
  <small>(${photo.content === 'photo' ? 'new tab' : 'download'})</small></span></a></li>`,
  )}</ul></section>`;
}
