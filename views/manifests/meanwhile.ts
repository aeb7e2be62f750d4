import type { Meanwhile, TypedInVain } from '../../server/manifests/meanwhile.ts';
import { html, type SafeHtml } from '../html.ts';

const meanwhileBy = (who: string | null): string => (who === null ? 'Meanwhile' : `Meanwhile on ${who}`);

/** Beside a load: how somebody else weighed it since the form was made. */
export function loadMeanwhile({ loads }: Meanwhile, lineId: number): SafeHtml | null {
  const other = loads.get(lineId);
  if (other === undefined) return null;
  const { said, who, isTaken } = other;
  return isTaken
    ? html`<p class="hint">Taken over${who === null ? '' : ` from ${who}`}: ${said}.</p>`
    : html`<p class="problem">${meanwhileBy(who)}: ${said}.</p>`;
}

/** Above the loads: which of them came and went. */
export function linesMeanwhile({ loads, added, removed }: Meanwhile, manifestId: number): SafeHtml | null {
  if (loads.size + added.length + removed.length === 0) return null;
  return html`<div class="meanwhile">
  ${added.map(({ label, binCode, who }) => html`<p>${meanwhileBy(who)}: load ${label} (${binCode}) was added.</p>`)}
  ${removed.map(({ label, typed, who }) => {
    const lost = typed === null ? '' : ` You had typed for it: ${typed}.`;
    return html`<p>${meanwhileBy(who)}: load ${label} was taken off.${lost}</p>`;
  })}
  <p><a class="put-right" href="/manifests/${manifestId}">Leave mine, and show what is saved</a></p>
</div>`;
}

/** On a manifest that does not change any more: what was typed here and came too late. */
export function typedMeanwhile({ who, loads }: TypedInVain, isLoaded: boolean): SafeHtml | null {
  if (loads.length === 0) return null;
  return html`<section class="meanwhile"><h2>What you had typed</h2>
<p>${meanwhileBy(who)} the manifest was ${isLoaded ? 'loaded' : 'set aside'}, so this was not saved:</p>
<ul>${loads.map(({ label, binCode, typed }) => html`<li>${label} (${binCode}): ${typed}</li>`)}</ul></section>`;
}
