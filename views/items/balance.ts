import type { MassBalance, Portion } from '../../server/items/mass-balance.ts';
import { type MassUg, massUg } from '../../server/units/mass.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

const percent = (show: Show, { share }: Portion): string =>
  share === null ? '' : `${show.figure(share.times(100), 1)} %`;

/** Where an item's weight went: bins by grade, parts kept, waste, and what is missing or too much. */
export function balanceTable(show: Show, balance: MassBalance): SafeHtml {
  const { out, missing, wholeUg } = balance;
  if (out.massUg === 0 && balance.unweighedParts === 0) {
    return html`<p>Nothing of it is written down yet.</p>${noWeight(balance)}`;
  }
  const isTooMuch = missing !== null && missing.massUg < 0;
  return html`<div class="scroll"><table class="balance">
<caption>Where its weight went, in ${show.settings.unit}</caption>
<thead><tr><th scope="col">What</th><th scope="col" class="figure">Weight</th>${wholeUg === null ? null : html`<th scope="col" class="figure">Share</th>`}</tr></thead>
<tbody>
${balance.grades.map((grade) => row(show, balance, grade.gradeName, grade))}
${balance.grades.length > 1 ? row(show, balance, 'In bins together', balance.bins) : null}
${row(show, balance, 'Parts kept', balance.parts)}
${row(show, balance, 'Waste', balance.waste)}
${missing === null ? row(show, balance, 'Came out', out) : row(show, balance, isTooMuch ? 'Too much' : 'Missing', sizeOf(missing), 'stale')}
</tbody>
${wholeUg === null ? null : html`<tfoot><tr><th scope="row">The item as it came</th><td class="figure">${show.weightFigure(wholeUg)}</td><td class="figure">100 %</td></tr></tfoot>`}
</table></div>
${noWeight(balance)}${aboutMissing(show, balance)}`;
}

/** The size of a difference: its sign stands in words before it. */
const sizeOf = ({ massUg: mass, share }: Portion): Portion => ({
  massUg: massUg(Math.abs(mass)),
  share: share?.abs() ?? null,
});

function row(show: Show, { wholeUg }: MassBalance, name: string, portion: Portion, mark = ''): SafeHtml {
  const isMarked = portion.massUg === 0 ? '' : mark;
  return html`<tr><th scope="row" class="${isMarked}">${name}</th><td class="figure">${show.weightFigure(portion.massUg)}</td>${
    wholeUg === null ? null : html`<td class="figure">${percent(show, portion)}</td>`
  }</tr>`;
}

const noWeight = ({ wholeUg }: MassBalance): SafeHtml | null =>
  wholeUg === null
    ? html`<p>Its whole weight was not written down. Without it no balance is possible: what is missing cannot be said.</p>`
    : null;

const partsNotWeighed = (count: number): string => `${count} ${count === 1 ? 'part was' : 'parts were'} not weighed`;

/** What may be behind a difference, in words. Never a guess at how much of it is what. */
function aboutMissing(show: Show, { missing, unweighedParts, recovery }: MassBalance): SafeHtml | null {
  if (missing === null) return unweighedParts === 0 ? null : html`<p>${partsNotWeighed(unweighedParts)}.</p>`;
  if (missing.massUg < 0) {
    const tooMuch = show.weight(massUg(Math.abs(missing.massUg)) as MassUg);
    return html`<p class="problem">${tooMuch} more came out than went in. One of the figures is wrong, or something of another
  item is among it. Scales that read apart can make a little of it.</p>`;
  }
  const may =
    unweighedParts === 0
      ? null
      : html` ${partsNotWeighed(unweighedParts)}, so what is missing may be ${unweighedParts === 1 ? 'that part' : 'them'}.`;
  const share = recovery === null ? null : `${show.figure(recovery.times(100), 1)} % of it is in bins.`;
  return html`<p>${share}${may}</p>`;
}
