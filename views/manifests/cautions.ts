import { LOCAL_FIRST } from '../../seed/cautions.ts';
import type { LoadCaution } from '../../server/manifests/compute.ts';
import { html, type SafeHtml } from '../html.ts';

/** The cautions of loads with the loads that each is about, on paper and on the manifest's page. */
export const loadCautions = (cautions: readonly LoadCaution[]): SafeHtml =>
  html`<ul>${cautions.map(
    ({
      caution,
      labels,
      outOf,
    }) => html`<li><b>${caution.title} (${labels.length === 1 ? 'load' : 'loads'} ${labels.join(', ')}${
      outOf.length === 0 ? null : html`, of ${outOf.join(', ').toLowerCase()}`
    }).</b>
  ${caution.onSheet} <small>[${caution.basis}]</small></li>`,
  )}</ul>`;

/** What to mind before this leaves, its titles at once and the rest folded; nothing where nothing is known of. */
export const cautionsBeforeLoading = (cautions: readonly LoadCaution[]): SafeHtml | null =>
  cautions.length === 0
    ? null
    : html`<details class="more" id="with-care"><summary>With care: ${cautions
        .map(({ caution }) => caution.title.toLowerCase())
        .join(' · ')}</summary>
<p>The usual precautions for these loads. ${LOCAL_FIRST}</p>${loadCautions(cautions)}</details>`;
