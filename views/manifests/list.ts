import type { ManifestSummary } from '../../server/manifests/queries.ts';
import type { Grade, Yard } from '../../server/setup/queries.ts';
import type { ListAddresses } from '../../server/web.ts';
import { choiceField, dayField, type FormState, textField } from '../common/form.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { dayOf, statusOf, statusWords } from './words.ts';

export interface ManifestListParts extends ListAddresses {
  manifests: ManifestSummary[];
  yards: Yard[];
  grades: Grade[];
  /** The filters as the address has them. */
  state: FormState;
}

/** Every manifest, newest first. */
export function manifestList(show: Show, parts: ManifestListParts): SafeHtml {
  return page({
    title: 'Manifests',
    show,
    body: html`<div class="head">
  <h1>Manifests</h1>
  <p class="acts"><a class="button primary" href="/manifests/new">New manifest</a></p>
</div>
${filterForm(parts)}
${parts.manifests.length === 0 ? html`<p>${parts.isFiltered ? 'No manifest fits this filter.' : 'Nothing was loaded yet.'}</p>` : table(show, parts)}
${newerAndOlder(parts, 'manifests')}`,
  });
}

function filterForm({ state, yards, grades }: ManifestListParts): SafeHtml {
  const choices = (rows: readonly { id: number; name: string }[]) =>
    rows.map(({ id, name }) => ({ value: String(id), label: name }));
  const statusChoices = Object.entries(statusWords).map(([value, label]) => ({ value, label }));
  return html`<form method="get" action="/manifests" class="filters" role="search" aria-label="Manifests">
  ${textField({ name: 'number', label: 'Manifest number' }, state)}
  ${choiceField({ name: 'yard', label: 'Yard', choices: choices(yards), none: 'Every yard' }, state)}
  ${choiceField({ name: 'grade', label: 'Grade on it', choices: choices(grades), none: 'Every grade' }, state)}
  ${choiceField({ name: 'status', label: 'Status', choices: statusChoices, none: 'Any' }, state)}
  ${dayField({ name: 'from', label: 'From' }, state)}
  ${dayField({ name: 'to', label: 'To' }, state)}
  <button>Show</button>
</form>`;
}

function table(show: Show, { manifests }: ManifestListParts): SafeHtml {
  return html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Number</th><th scope="col">Yard</th><th scope="col">Day</th><th scope="col" class="figure">Loads</th>
  <th scope="col" class="figure">Weight, ${show.settings.unit}</th><th scope="col" class="figure">Expected</th>
  <th scope="col">Status</th></tr></thead>
<tbody>${manifests.map((manifest) => row(show, manifest))}</tbody>
</table></div>`;
}

function row(show: Show, manifest: ManifestSummary): SafeHtml {
  const { id, loaded_on: loadedOn, mass_ug: massUg, expected_minor: expectedMinor } = manifest;
  // A draft may have some weights already, but what it comes to is only known once it is loaded.
  const isLoaded = loadedOn !== null;
  return html`<tr>
  <td data-label="Number"><a href="/manifests/${id}">Manifest ${manifest.number}</a></td>
  <td data-label="Yard">${manifest.yard_name}</td>
  <td data-label="Day" class="day">${dayOf(show, manifest)}</td>
  <td data-label="Loads" class="figure">${manifest.loads}</td>
  <td data-label="Weight, ${show.settings.unit}" class="figure">${isLoaded && massUg !== null ? show.weightFigure(massUg) : '–'}</td>
  <td data-label="Expected" class="figure">${isLoaded && expectedMinor !== null ? show.money(expectedMinor) : '–'}</td>
  <td data-label="Status"><span>${statusOf(manifest)}${manifest.status === 'loaded' ? html` · <a href="/tickets/new?manifest=${id}">enter the ticket</a>` : null}</span></td>
</tr>`;
}
