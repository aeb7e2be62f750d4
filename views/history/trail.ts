import { localTime } from '../../server/clock.ts';
import { readChange } from '../../server/history/change.ts';
import type { actKinds } from '../../server/history/compute.ts';
import type { DocumentLink, TrailEvent } from '../../server/history/queries.ts';
import type { ListAddresses } from '../../server/web.ts';
import { choiceField, dayField, type FormState, hiddenField, problemSummary } from '../common/form.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { putBackForm } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

export interface TrailPageParts extends ListAddresses {
  events: readonly TrailEvent[];
  /** The pages of the documents, by "kind id". */
  links: ReadonlyMap<string, DocumentLink>;
  /** The document that the trail is of; null for the whole trail, and for one that is gone. */
  about: DocumentLink | null;
  devices: readonly string[];
  /** Something was put back a moment ago. */
  isDone: boolean;
  state: FormState;
}

/** What was done, when and from which device, newest first; with the way to put it back. */
export function trailPage(show: Show, parts: TrailPageParts): SafeHtml {
  const { about, events } = parts;
  const title = about === null ? 'Trail' : `Trail of ${about.name}`;
  return page({
    title,
    show,
    body: html`<h1>${title}</h1>
<p>What was done, when, and from which device. Nothing is ever taken off this list: what is put back is one more line.</p>
${about === null ? null : html`<p><a href="${about.href}">Back to ${about.name}</a> · <a href="/trail">The whole trail</a></p>`}
${parts.isDone ? html`<p class="saved" role="status">Put back. The newest line says what.</p>` : null}
${Object.hasOwn(parts.state.problems, '') ? problemSummary(parts.state) : null}
${filters(parts)}
${events.length === 0 ? html`<p>${parts.isFiltered ? 'No line fits this filter.' : 'Nothing was done in this ledger yet.'}</p>` : trailTable(show, parts)}
${newerAndOlder(parts, 'lines')}`,
  });
}

const KIND_NAMES: Record<keyof typeof actKinds, string> = {
  items: 'Items',
  weighings: 'Weighings',
  bins: 'Bins, recounts, moves',
  prices: 'Prices',
  manifests: 'Manifests',
  tickets: 'Tickets',
  scales: 'Scales and checks',
  wire: 'Wire and its samples',
  'set-up': 'Set-up',
  photos: 'Photos and papers',
  files: 'Files',
  devices: 'Devices and the passphrase',
};

function filters({ devices, state }: TrailPageParts): SafeHtml {
  const kinds = Object.entries(KIND_NAMES).map(([value, label]) => ({ value, label }));
  const document = state.typed.document ?? '';
  return html`<form method="get" action="/trail" class="filters" role="search" aria-label="Lines of the trail">
  ${document === '' ? null : hiddenField('document', document)}
  ${choiceField({ name: 'kind', label: 'What', choices: kinds, none: 'Everything' }, state)}
  ${choiceField({ name: 'device', label: 'Device', choices: devices.map((name) => ({ value: name, label: name })), none: 'Every device' }, state)}
  ${dayField({ name: 'from', label: 'From' }, state)}
  ${dayField({ name: 'to', label: 'To' }, state)}
  <button>Show</button>
</form>`;
}

const trailTable = (show: Show, parts: TrailPageParts): SafeHtml => html`<div class="scroll"><table class="stack trail">
<caption>Newest first; the times are those of the computer that keeps the ledger</caption>
<thead><tr><th scope="col">When</th><th scope="col">What</th><th scope="col">Device</th><th scope="col">Put right</th></tr></thead>
<tbody>${parts.events.map((event) => trailRow(show, parts, event))}</tbody>
</table></div>`;

function trailRow(show: Show, { links }: TrailPageParts, event: TrailEvent): SafeHtml {
  const { day, time } = localTime(event.recorded_at);
  const link = links.get(`${event.document_kind} ${event.document_id}`);
  const act = event.act.charAt(0).toUpperCase() + event.act.slice(1);
  return html`<tr>
  <td class="day" data-label="When"><span>${show.day(day)}, ${time}</span></td>
  <td class="wordy" data-label="What"><span>${act}${link === undefined ? null : html`: <a href="${link.href}">${link.name}</a>`}${
    event.detail === '' || event.detail === link?.name ? null : html`<small class="below">${event.detail}</small>`
  }</span></td>
  <td data-label="Device">${event.who}</td>
  <td data-label="Put right">${putRight(event, link)}</td>
</tr>`;
}

/** The button that puts a line back; else where its document is put right. */
function putRight(event: TrailEvent, link: DocumentLink | undefined): SafeHtml {
  const change = readChange(event.change);
  if (change === null)
    return link === undefined ? html`–` : html`<a class="put-right" href="${link.href}">on its page</a>`;
  if ('rows' in change) return html`${putBackForm(event.id, 'Take it all back')}`;
  if ('quotesTakenBack' in change) return html`${putBackForm(event.id, 'Let them count again')}`;
  if (change.before === null) return html`${putBackForm(event.id, 'Remove it again')}`;
  return html`${putBackForm(event.id, change.after === null ? 'Add it again' : 'Put it back as it was')}`;
}
