import {
  type CheckSeen,
  type Comparison,
  errorOf,
  failedCheck,
  stretchAt,
  type Verdict,
  type Weighing,
} from '../../server/scales/compute.ts';
import type { Day } from '../../server/units/day.ts';
import { type MassUg, type MassUnit, massUg } from '../../server/units/mass.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { foundText, missingTexts } from '../scales/words.ts';

/** Load by load: how far the two scales are apart, how far two honest ones may be, and what follows. */
export function scalesSection(
  show: Show,
  comparisons: readonly (Comparison | null)[],
  unit: MassUnit,
): SafeHtml | null {
  const compared = comparisons.filter((comparison) => comparison !== null);
  if (compared.length === 0) return null;
  const known = knownThen(show, compared);
  return html`<h2 id="two-scales">What the two scales can explain</h2>
${known}
<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Loads</th><th scope="col" class="figure">Home, ${unit}</th><th scope="col" class="figure">Yard, ${unit}</th>
  <th scope="col" class="figure">Difference</th><th scope="col" class="figure">May differ by</th><th scope="col">Weighed on</th>
  <th scope="col">What it means</th></tr></thead>
<tbody>${compared.map((comparison) => comparisonRow(show, comparison, unit))}</tbody>
</table></div>
${advice(compared, known !== null)}
<p class="hint">May differ by: how far two honest scales can lie apart at that weight, from their steps and tolerances (twice the
  standard uncertainty, so one difference in twenty lies beyond it by chance alone).
  <a href="/reports/scales">How each scale did over time</a></p>`;
}

/** What checks found of the scales at home, as they were when this was weighed. */
function knownThen(show: Show, compared: readonly Comparison[]): SafeHtml | null {
  const found = new Map<string, SafeHtml>();
  for (const { side, scale, on } of compared.flatMap(({ weighings }) => weighings)) {
    if (side !== 'home' || scale === null) continue;
    const { checks, until } = stretchAt(scale.checks, on);
    const failed = failedCheck(scale.traits, checks);
    if (failed !== null) found.set(`${scale.key} ${until}`, knownLine(show, scale.name, failed, until));
  }
  return found.size === 0
    ? null
    : html`<ul class="notes">${[...found.values()].map((line) => html`<li>${line}</li>`)}</ul>`;
}

function knownLine(show: Show, name: string, failed: CheckSeen, until: Day | null): SafeHtml {
  const much = errorOf(failed) > 0 ? 'much' : 'little';
  const settled = until === null ? 'It was not adjusted since.' : `It was adjusted on ${show.day(until)}.`;
  return html`Your ${name} was <b>${foundText(show, failed)}</b> in the check of ${show.day(failed.checkedOn)}, so what it weighed here was likely too
  ${much}. ${settled} That error counts as its tolerance here, so the two may differ by more.`;
}

function comparisonRow(
  show: Show,
  { labels, homeUg, yardUg, verdict, weighings }: Comparison,
  unit: MassUnit,
): SafeHtml {
  const allowed = verdict.kind === 'unknown' ? '–' : `± ${show.weightFigure(verdict.allowedUg, unit)}`;
  return html`<tr>
  <th scope="row" data-label="Loads">${labels.join(', ')}</th>
  <td class="figure" data-label="Home, ${unit}">${show.weightFigure(homeUg, unit)}</td>
  <td class="figure" data-label="Yard, ${unit}">${show.weightFigure(yardUg, unit)}</td>
  <td class="figure" data-label="Difference">${signedWeight(show, massUg(yardUg - homeUg), unit)}</td>
  <td class="figure" data-label="May differ by">${allowed}</td>
  <td class="wordy" data-label="Weighed on"><span>${scalesText(weighings)}</span></td>
  <td class="wordy" data-label="What it means"><span>${verdictText(verdict)}</span></td>
</tr>`;
}

/** "Bench scale; Demo Yard North, Truck scale": at home first. */
function scalesText(weighings: readonly Weighing[]): string {
  const named = (side: Weighing['side']) => {
    const names = new Set(weighings.filter((one) => one.side === side).map(({ scale }) => scale?.name ?? 'not said'));
    return [...names].join(' and ');
  };
  return `${named('home')}; ${named('yard')}`;
}

const signedWeight = (show: Show, mass: MassUg, unit: MassUnit): string =>
  `${mass > 0 ? '+' : ''}${show.weightFigure(mass, unit)}`;

function verdictText(verdict: Verdict): SafeHtml {
  switch (verdict.kind) {
    case 'explained':
      return html`the two scales can explain this`;
    case 'unexplained':
      return html`<b>more than the two scales can explain</b>: ask for a second weighing, or check your scale`;
    case 'unknown':
      return html`cannot be told: ${missingTexts(verdict.missing)}`;
  }
}

/** What to do about it, and where to write down what is missing. */
function advice(compared: readonly Comparison[], isHomeKnown: boolean): SafeHtml | null {
  const isBeyond = compared.some(({ verdict }) => verdict.kind === 'unexplained');
  const missing = compared.flatMap(({ verdict }) => (verdict.kind === 'unknown' ? verdict.missing : []));
  const wants = (side: 'home' | 'yard') =>
    missing.some((each) => each.side === side && (each.kind === 'division' || each.kind === 'tolerance'));
  const isUnnamed = missing.some(({ side, kind }) => side === 'home' && kind === 'scale');
  if (!isBeyond && missing.length === 0) return null;
  return html`<ul class="notes">
  ${
    isBeyond
      ? html`<li>${
          isHomeKnown
            ? html`What your own scale was off by answers a part of it. For the rest,`
            : html`Which scale is off, one sale cannot tell. <a href="/setup/scales">Check your own scale</a> with a known weight, and`
        } next time ask for a second weighing before the load is tipped. If it keeps happening, the local
    weights-and-measures office can check a yard’s scale. Where the yard weighed on another scale, such as a truck scale,
    <a href="/setup/yards">write that down with the yard</a>.</li>`
      : null
  }
  ${
    wants('home')
      ? html`<li>Write down its step and its class or tolerance in <a href="/setup/scales">your scales</a>: then this can be told,
    also for this ticket.</li>`
      : null
  }
  ${
    isUnnamed
      ? html`<li>Next time name the scale when you weigh in and when you load. What was loaded stays as it was written down.</li>`
      : null
  }
  ${
    wants('yard')
      ? html`<li>Write down the step and the class on the plate of the yard’s scale with <a href="/setup/yards">the yard</a>:
    then this can be told, also for this ticket.</li>`
      : null
  }
</ul>`;
}
