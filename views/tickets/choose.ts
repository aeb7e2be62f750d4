import type { ManifestAtYard } from '../../server/tickets/queries.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

/** Which manifest the ticket is for. `said` tells why the one asked for will not do. */
export function chooseManifestPage(show: Show, manifests: readonly ManifestAtYard[], said: string): SafeHtml {
  return page({
    title: 'Enter a ticket',
    show,
    body: html`<h1>Enter a ticket</h1>
${said === '' ? null : html`<p class="saved" role="status">${said}</p>`}
${
  manifests.length === 0
    ? html`<p>No load is waiting for its ticket.</p>`
    : html`<p>Which manifest is it for?</p>
<ul class="rows">${manifests.map((manifest) => manifestRow(show, manifest))}</ul>`
}
<h2>Sold without a manifest?</h2>
<p>Make the manifest first, also afterwards, and load it for the day it left. Then what was sold leaves its bins, and the
  ticket has something to be held against.</p>
<p><a class="button" href="/manifests/new">New manifest</a></p>`,
  });
}

const manifestRow = (
  show: Show,
  { id, number, yard_name, loaded_on, labels, expected_minor }: ManifestAtYard,
) => html`<li>
  <span class="row-main"><b>${number}</b> to ${yard_name}
    <small>loaded ${show.day(loaded_on)}, ${labels.includes(',') ? 'loads' : 'load'} ${labels}, expected ${show.money(expected_minor)}</small></span>
  <a class="button primary" href="/tickets/new?manifest=${id}">Enter its ticket</a>
</li>`;
