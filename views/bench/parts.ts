import { Decimal } from '../../server/units/decimal.ts';
import { unitRatio } from '../../server/units/mass.ts';
import type { FormState } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

export const backToBench = html`<p class="way-back"><a href="/bench">Bench</a></p>`;
export const backToWire = html`<p class="way-back"><a href="/bench">Bench</a> / <a href="/bench/wire">Strip or sell</a></p>`;

/** Beside every form for wire that was stripped. */
export const STRIP_WITH_CARE = html`<p class="hint">Usual care: cut away from yourself, with cut-resistant gloves; edges and strands cut too (common practice,
  no published source). Never burn insulation off.</p>`;

/** What could not be read in the address of a question, above its form. */
export function questionProblems({ problems, idPrefix = '' }: FormState): SafeHtml | null {
  const entries = Object.entries(problems);
  if (entries.length === 0) return null;
  return html`<div class="problems" role="alert" tabindex="-1" autofocus>
  <p>${entries.length === 1 ? 'One thing to put right before there is an answer.' : 'Some things to put right before there is an answer.'}</p>
  <ul>${entries.map(([name, sentence]) =>
    name === '' ? html`<li>${sentence}</li>` : html`<li><a href="#f-${idPrefix}${name}">${sentence}</a></li>`,
  )}</ul>
</div>`;
}

/** "38.4 %" */
export const percentOf = (show: Show, share: Decimal): string => `${show.figure(share.times(100), 1)} %`;

/** What is stripped in an hour, in the ledger's unit: "4.39 lb". A mistyped sample may make it larger than any mass. */
export function weightAnHour(show: Show, ugPerHour: number): string {
  const { unit } = show.settings;
  return `${show.figure(new Decimal(ugPerHour).div(unitRatio(unit, 'g').times(1_000_000)), 2)} ${unit}`;
}

/** A figure that is no mass and no money, with a number of decimals: "8.53". */
export const plain = (show: Show, value: number, decimals: number): string => show.figure(new Decimal(value), decimals);
