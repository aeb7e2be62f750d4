import { type HomeStretch, likelyCause, type Shift, type WatchedScale } from '../../server/scales/whose.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { nameAtHome, sizeOf } from './scales-at-home.ts';

/** What the page found, before the pictures: one line for each scale that something can be said of. */
export function inShort(show: Show, stretches: readonly HomeStretch[], watched: readonly WatchedScale[]): SafeHtml {
  const lasting = watched.flatMap(({ scale, shifts }) =>
    shifts.filter(({ until }) => until === null).map((shift) => ({ scale, shift })),
  );
  const told = new Set(lasting.map(({ scale }) => scale.key));
  const lines = [
    ...lasting.map(({ scale, shift }) => lastingLine(show, scale.name, shift, watched)),
    ...stretches.flatMap((stretch) => stretchLine(show, stretch, told) ?? []),
  ];
  return html`<section class="next" aria-labelledby="in-short"><h2 id="in-short">In short</h2>
${
  lines.length === 0
    ? html`<p>${nothingLine(stretches)}</p>`
    : html`<ul>${lines.map((line) => html`<li>${line}</li>`)}</ul>`
}</section>`;
}

const nothingLine = (stretches: readonly HomeStretch[]): string =>
  stretches.every(({ finding }) => finding.kind === 'too few')
    ? 'Too few sales to say anything yet: it takes three at one yard’s scale.'
    : 'Nothing stands out: no scale differs steadily from the others.';

function lastingLine(show: Show, name: string, shift: Shift, watched: readonly WatchedScale[]): SafeHtml {
  const cause = likelyCause(shift, watched);
  const who = {
    home: 'Another yard has too, so your own scale is the likelier cause.',
    yard: 'No other yard has: ask for a second weighing there.',
    unknown: 'Nothing was sold elsewhere to compare with: check your own scale first.',
  }[cause ?? 'unknown'];
  return html`<b>${name}</b> has shown <b>${sizeOf(show, shift.ratio)} ${shift.direction}</b> than your scales since about
  ${show.day(shift.began.soldOn)}. ${who}`;
}

/** @param told the yards’ scales that were spoken of already */
function stretchLine(show: Show, stretch: HomeStretch, told: ReadonlySet<string>): SafeHtml | null {
  const { finding, until } = stretch;
  const yours = nameAtHome(stretch);
  switch (finding.kind) {
    case 'home': {
      const much = `${sizeOf(show, finding.ratio)} too ${finding.direction === 'less' ? 'much' : 'little'}`;
      return until === null
        ? html`${sentenceCase(yours)} likely reads <b>${much}</b>: every yard shows it. Check it with a known weight.`
        : html`Until it was adjusted on ${show.day(until)}, ${yours} likely read <b>${much}</b>: every yard showed it.`;
    }
    case 'yard':
    case 'perhaps a yard':
    case 'one yard': {
      if (told.has(finding.yard.scale.key)) return null;
      const ratio = sizeOf(show, finding.yard.estimate.ratio);
      return html`<b>${finding.yard.scale.name}</b> showed <b>${ratio} ${finding.direction}</b> than ${yours}${
        finding.kind === 'yard' ? ' and stands apart from the others' : ''
      }.`;
    }
    case 'unclear':
      return html`The yards differ from ${yours}, and not all in the same way: check it with a known weight first.`;
    default:
      return null;
  }
}

const sentenceCase = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
