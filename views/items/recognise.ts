import { groupByFamily } from '../../server/ledger/families.ts';
import type { Grade } from '../../server/setup/queries.ts';
import type { Show } from '../common/show.ts';
import { swatch } from '../common/tag.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

/** The tests that need no more than what lies on a bench; all common practice, no published source. */
const TESTS: readonly (readonly [name: string, says: string])[] = [
  [
    'Magnet',
    'Holds at once: steel or iron. Not at all: copper, brass, aluminium, lead, zinc, most stainless. Weakly: some stainless. Try every side: a steel screw inside pulls too.',
  ],
  [
    'File or scratch',
    'The colour below the skin counts: red is copper, pink is red brass, clear yellow is yellow brass, silver-white and soft is aluminium, grey and crumbly is zinc. Chrome, lacquer and plating hide it.',
  ],
  [
    'Windings',
    'Enamel makes aluminium look like copper. Windings may be aluminium: scratch each one. About half of small appliance motors turn out so.',
  ],
  [
    'Weight in hand',
    'Aluminium is a third of the weight of copper or brass of the same size; zinc lies between; lead is heavier than all.',
  ],
  [
    'Colour of a fresh cut',
    'Cut a wire: red through and through is copper, white is aluminium, white with a red skin is copper-clad aluminium.',
  ],
  [
    'Insulation',
    'One thin layer around a thick conductor holds most metal. A second jacket, paper or many fine strands hold less.',
  ],
  ['Break', 'Cast metal breaks grainy where sheet bends: grey is cast iron, white is aluminium or zinc.'],
];

/** How a grade is told and what spoils it, folded beside its name; null where nobody wrote anything down. */
export function recognitionHelp(grade: Pick<Grade, 'name' | 'recognise' | 'spoiled_by'>): SafeHtml | null {
  if (grade.recognise === '' && grade.spoiled_by === '') return null;
  return html`<details class="recognise"><summary>How to tell <span class="aside">${grade.name}</span></summary>
${recognitionText(grade)}</details>`;
}

const recognitionText = ({ recognise, spoiled_by: spoiledBy }: Pick<Grade, 'recognise' | 'spoiled_by'>): SafeHtml =>
  html`${recognise === '' ? null : html`<p>${recognise}</p>`}${
    spoiledBy === '' ? null : html`<p><b>Spoiled by:</b> ${spoiledBy}</p>`
  }`;

/** All grades with how each is told, beside the bench: the tests first, then family by family. */
export const recognisePage = (show: Show, grades: readonly Grade[]): SafeHtml =>
  page({
    title: 'Telling grades apart',
    show,
    body: html`<h1>Telling grades apart</h1>
<p>What can be told with a magnet, a file and the hand. Common practice, no published source; the yard has the last word.
  What is written of each grade is changed in <a href="/setup/grades">its set-up</a>.</p>
<dl class="tests">${TESTS.map(([name, says]) => html`<div><dt>${name}</dt><dd>${says}</dd></div>`)}</dl>
${grades.length === 0 ? html`<p>There are no grades in this ledger yet.</p>` : null}
${groupByFamily([...grades]).map(
  ({ family, rows }) => html`<section class="family"><h2>${swatch(family)} ${family}</h2>
<dl class="telling">${rows.map(
    (grade) =>
      html`<div><dt><a href="/prices/grades/${grade.id}">${grade.name}</a></dt><dd>${
        grade.recognise === '' && grade.spoiled_by === '' ? 'Nothing is written down.' : recognitionText(grade)
      }</dd></div>`,
  )}</dl></section>`,
)}`,
  });
