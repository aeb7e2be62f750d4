import { fileAddress } from '../../server/attachments/compute.ts';
import type { Attachment, DocumentName } from '../../server/attachments/queries.ts';
import { type FormState, problemSummary, requestKeyField, textField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { nameOf, putBackForm } from './section.ts';

export interface PhotoPageParts {
  attachment: Attachment;
  document: DocumentName;
}

/** One photo or paper: to be looked at, given another caption, taken off its document. */
export function photoPage(show: Show, { attachment, document }: PhotoPageParts, state: FormState): SafeHtml {
  const name = nameOf(show, attachment);
  return page({
    title: name,
    show,
    body: html`<p class="way-back"><a href="${document.path}#photos">Back to ${document.name}</a></p>
<h1>${name}</h1>
${problemSummary(state)}
${attachment.is_kept === 1 ? null : html`<p class="saved" role="status">Taken off ${document.name}.</p>`}
${picture(attachment, name)}
<p class="hint">${about(show, attachment)}</p>
${attachment.is_kept === 1 ? null : putBackForm(attachment)}
${captionForm(attachment, state)}
${attachment.is_kept === 1 ? removal(attachment, document) : null}`,
  });
}

function picture(attachment: Attachment, name: string): SafeHtml {
  const address = fileAddress(attachment);
  const { width, height } = attachment;
  if (width === null || height === null) {
    return html`<p><a class="button primary" href="${address}">Open the PDF</a></p>`;
  }
  return html`<a class="photo-whole" href="${address}"><img src="${address}" alt="${name}" width="${String(width)}" height="${String(height)}"></a>`;
}

function about(show: Show, { content, file_name: file, byte_count: bytes, kept_on: on, who }: Attachment): string {
  const size = bytes < 100_000 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
  const sent = file === '' ? '' : `Sent as “${file}”. `;
  const kind = content === 'photo' ? 'without the place and the camera’s notes' : 'as it came';
  return `${sent}Kept ${show.day(on)} from ${who}, ${kind}: ${size}.`;
}

const captionForm = ({ id }: Attachment, state: FormState): SafeHtml =>
  html`<form method="post" action="/photos/${id}/captions">
  ${requestKeyField(state)}
  ${textField({ name: 'caption', label: 'Caption' }, state)}
  <button>Save the caption</button>
</form>`;

/** A key of its own: the page has another form, and each must post once for itself. */
const removal = ({ id }: Attachment, document: DocumentName): SafeHtml => html`<h2>Not this one?</h2>
<form method="post" action="/photos/${id}/removal">${requestKeyField({ typed: {}, problems: {} })}
  <p class="hint">It leaves the page of ${document.name} and can be put back there at any time.</p>
  <button class="quiet">Take it off</button>
</form>`;
