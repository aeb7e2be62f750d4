import {
  type HomeStretch,
  likelyCause,
  type OpenShift,
  openShifts,
  type WatchedScale,
} from '../../server/scales/whose.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { foundText } from '../scales/words.ts';
import { nameAtHome, sinceText, sizeOf } from './scales-at-home.ts';

/** What the sales say of the scales, as far as it is known. */
export interface ScaleFindings {
  readonly stretches: readonly HomeStretch[];
  readonly watched: readonly WatchedScale[];
}

/** What was found, before the pictures: a line for each scale that something can be said of; one that says so for none. */
export function findingLines(show: Show, { stretches, watched }: ScaleFindings): SafeHtml[] {
  const lasting = openShifts(watched);
  const told = new Set(lasting.map(({ scale }) => scale.key));
  const lines = [
    ...lasting.map((open) => lastingLine(show, open, { stretches, watched })),
    ...stretches.flatMap((stretch) => stretchLine(show, stretch, told) ?? []),
  ];
  return lines.length === 0 ? [nothingLine(stretches)] : lines;
}

export const inShort = (show: Show, findings: ScaleFindings): SafeHtml =>
  html`<section class="next" aria-labelledby="in-short"><h2 id="in-short">In short</h2>
<ul>${findingLines(show, findings).map((line) => html`<li>${line}</li>`)}</ul></section>`;

const nothingLine = (stretches: readonly HomeStretch[]): SafeHtml =>
  stretches.every(({ finding }) => finding.kind === 'too few')
    ? html`Too few sales to say anything yet: it takes three loads over one yard’s scale.`
    : html`Nothing stands out: no scale differs steadily from the others.`;

function lastingLine(show: Show, { scale, shift }: OpenShift, { stretches, watched }: ScaleFindings): SafeHtml {
  const who = {
    home: 'Your own scale is the likelier cause: another yard or your own check says the same.',
    yard: `No other yard has: ask for a second weighing there.${shift.isWithinTolerance ? ' Both scales may still be within their tolerances, so it is a reason to ask and not to accuse.' : ''}`,
    unknown: 'Nothing was sold elsewhere in that time to compare with: check your own scale first.',
  }[likelyCause(shift, watched, stretches) ?? 'unknown'];
  return html`<b>${scale.name}</b> has shown <b>${sizeOf(show, shift.ratio)} ${shift.direction}</b> than your scales ${sinceText(show, shift)}. ${who}`;
}

/** @param told the yards’ scales that were spoken of already */
function stretchLine(show: Show, stretch: HomeStretch, told: ReadonlySet<string>): SafeHtml | null {
  const { finding, until, foundOff } = stretch;
  const yours = nameAtHome(stretch);
  if (finding.kind === 'home') {
    const much = `${sizeOf(show, finding.ratio)} too ${finding.direction === 'less' ? 'much' : 'little'}`;
    return until === null
      ? html`${sentenceCase(yours)} likely reads <b>${much}</b>: every yard shows it. ${foundOff === null ? 'Check it with a known weight.' : 'Your own check found the same: adjust it, or have it looked at.'}`
      : html`Until it was adjusted on ${show.day(until)}, ${yours} likely read <b>${much}</b>: every yard showed it.`;
  }
  if (foundOff !== null) {
    return until === null
      ? html`${sentenceCase(yours)} was <b>${foundText(show, foundOff)}</b> when it was checked on ${show.day(foundOff.checkedOn)}. Settle that
  first.`
      : html`Until it was adjusted on ${show.day(until)}, ${yours} was <b>${foundText(show, foundOff)}</b>.`;
  }
  if (finding.kind === 'unclear') {
    return html`The yards differ from ${yours}, and not all in the same way: check it with a known weight first.`;
  }
  if (!('yard' in finding) || told.has(finding.yard.scale.key) || until !== null) return null;
  const ratio = sizeOf(show, finding.yard.estimate.ratio);
  return html`<b>${finding.yard.scale.name}</b> showed <b>${ratio} ${finding.direction}</b> than ${yours}${
    finding.kind === 'yard' ? ' and stands apart' : ', and it is not clear yet whose scale it is'
  }.`;
}

const sentenceCase = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
