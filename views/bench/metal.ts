import { HANDBOOK_DOUBT, TELLING } from '../../server/bench/density.ts';
import type { MetalAnswer, MetalQuestion } from '../../server/bench/metal-question.ts';
import type { Metal } from '../../server/bench/metals.ts';
import type { HandTest, Parting } from '../../server/bench/parting.ts';
import { type Choice, choiceField, type FormState, massUnitChoices, numberField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backToBench, plain, questionProblems } from './parts.ts';

const DEGREES: readonly Choice[] = ['°C', '°F'].map((value) => ({ value, label: value }));

/** Which metal is it: two weighings as a form that the address holds, and what they may mean. */
export function metalPage(show: Show, question: MetalQuestion): SafeHtml {
  const { typed, problems, scales, answer } = question;
  const filled = Object.fromEntries(Object.entries(typed).filter(([, value]) => value.trim() !== ''));
  const scale = scales.find(({ id }) => String(id) === typed.scale);
  const usual = { unit: scale?.unit ?? show.settings.unit, temperature: '20', temperatureUnit: '°C' };
  const state: FormState = { typed: { ...usual, ...filled }, problems };
  return page({
    title: 'Which metal',
    show,
    body: html`${backToBench}<h1>Which metal is it?</h1>
${questionProblems(state)}
${answer === null ? null : answerSection(show, answer)}
${answer === null ? null : html`<h2>What was weighed</h2>`}
<p>Weigh the piece dry. Then let it hang from a thin thread, wholly under water and clear of the bottom, with the scale
  carrying the thread, and weigh again. The water carries a part of it, and that part tells how dense it is.</p>
<form method="get" action="/bench/metal">
  <div class="pair">
    ${numberField({ name: 'dry', label: 'Dry', letters: true }, state)}
    ${numberField({ name: 'submerged', label: 'In water, hanging', letters: true }, state)}
  </div>
  ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
  <div class="pair">
    ${numberField({ name: 'temperature', label: 'Water temperature', hint: 'It hardly matters; 20 °C (68 °F) will do.' }, state)}
    ${choiceField({ name: 'temperatureUnit', label: 'In', choices: DEGREES }, state)}
  </div>
  <div class="pair">
    ${choiceField({ name: 'scale', label: 'Scale', choices: scales.map(({ id, name }) => ({ value: String(id), label: name })), none: 'None of these' }, state)}
    ${numberField({ name: 'division', label: 'Or its smallest step', hint: 'In the unit above. A typed step goes before the scale’s own.', letters: true }, state)}
  </div>
  <button class="primary">Which metal?</button>
</form>
${spoilers}`,
  });
}

const spoilers = html`<section><h2>What spoils it</h2>
<ul>
  <li>Air: bubbles on the piece, hollows, blind holes, pores of a casting. It then seems lighter than it is. Shake it under water, and wet it with a drop of washing-up liquid.</li>
  <li>Other metal: steel inserts, screws, brass bushings, solder. The result lies between the two.</li>
  <li>Plating and paint: colour and magnet tell of the skin, not of what is inside.</li>
  <li>Wet insulation, paper or rust that soaks up water: weigh metal only.</li>
  <li>A thick string, or a piece that touches the bottom or the wall.</li>
</ul></section>`;

function answerSection(show: Show, answer: MetalAnswer): SafeHtml {
  const { candidates, nearest } = answer.matches;
  const { standard } = answer.density;
  return html`<section class="way" id="answer"><h2>${densitySaid(show, answer)}</h2>
<p>${show.weight(answer.dryUg, answer.unit)} dry, ${show.weight(answer.submergedUg, answer.unit)} in water of ${plain(show, answer.celsius, 1)} °C.</p>
${doubtSaid(show, answer)}
${candidates.length === 0 ? noneFits(standard) : html`<h3>${candidates.length === 1 ? 'It may be' : 'It may be one of these'}</h3>${metalList(show, candidates)}`}
${cautions(candidates.length === 0 ? nearest : candidates)}
${candidates.length > 1 ? partingSection(answer) : null}
<h3>${candidates.length === 0 ? 'Nearest in the table' : 'Nearest beyond that'}</h3>${metalList(show, nearest)}
<p class="hint">Densities of handbooks at about 20 °C, each counted as ± ${plain(show, HANDBOOK_DOUBT * 100, 1)} %, since tables of one metal differ by so much. A density alone proves no alloy. What is marked “from memory” was not looked up.</p>
</section>`;
}

function densitySaid(show: Show, { density: { gramsPerCm3, standard } }: MetalAnswer): string {
  if (standard === null) return `${plain(show, gramsPerCm3, 2)} g/cm³`;
  const decimals = 2 * standard < 0.01 ? 3 : 2 * standard < 1 ? 2 : 1;
  return `${plain(show, gramsPerCm3, decimals)} ± ${plain(show, 2 * standard, decimals)} g/cm³`;
}

const noneFits = (standard: number | null): SafeHtml | null =>
  standard === null
    ? null
    : html`<p>Nothing in the table fits. Mixed metal, or air in it? See what spoils it, below.</p>`;

/** Whether the weighing was fine enough, and what to do when it was not. */
function doubtSaid(show: Show, answer: MetalAnswer): SafeHtml {
  const { gramsPerCm3, standard, displacedDivisions } = answer.density;
  if (standard === null || displacedDivisions === null) {
    return html`<p>How sure this is cannot be told without the smallest step of the scale. Choose the scale, or type its step.</p>`;
  }
  const carried = `The water carries ${plain(show, displacedDivisions, displacedDivisions < 10 ? 1 : 0)} steps of the scale`;
  if (2 * standard <= TELLING * gramsPerCm3) {
    return html`<p>${carried}. The ± holds in about 95 of 100 weighings.</p>`;
  }
  const needed = `it should carry ${answer.needed} or more`;
  const why =
    displacedDivisions < answer.needed
      ? `${carried}; ${needed}.`
      : `${carried}, which is enough, but the scale itself may be off by too much.`;
  return html`<p class="stale">Too coarse to tell much: use a finer scale or a bigger piece. ${why}</p>`;
}

const metalList = (show: Show, list: readonly Metal[]): SafeHtml =>
  html`<ul class="rows">${list.map(
    (metal) => html`<li><span class="row-main">${metal.name}<small>${metal.source}; ${metal.status}</small></span>
  <span class="figure">${show.digits(metal.density)}${metal.upTo === null ? '' : ` to ${show.digits(metal.upTo)}`} g/cm³</span></li>`,
  )}</ul>`;

const TESTS: Record<HandTest, string> = {
  magnet: 'A magnet',
  mark: 'The colour of a fresh file mark',
  file: 'How it takes a file',
  make: 'How it was made',
  hand: 'Its weight in the hand, for its size',
};

/** The tests that part the candidates, what no test here parts, and what is left to others. */
function partingSection({ tests, unparted }: MetalAnswer): SafeHtml {
  return html`<h3>What parts them</h3>
<p>Weight in water alone does not tell these apart. These tests are common practice, with no published source:</p>
${tests.length === 0 ? null : html`${tests.map(testEntry)}`}
${unparted.map((group) => html`<p>Nothing here parts these: ${listed(group)}. Only an analyser does. Until then sort it with the one that pays less.</p>`)}
<p class="hint">The spark test is only named here: it needs a grinder with its guard, eye protection and practice.</p>`;
}

const testEntry = ({ test, answers }: Parting): SafeHtml => html`<p><b>${TESTS[test]}</b></p>
<ul>${answers.map(({ shows, metals }) => html`<li>${shows}: ${listed(metals)}</li>`)}</ul>`;

/** Names hold commas of their own, so they are parted by semicolons. */
const listed = (list: readonly Metal[]): string => list.map(({ name }) => name).join('; ');

/** What may hurt in the tests, with its published basis. */
function cautions(candidates: readonly Metal[]): SafeHtml | null {
  const has = (word: RegExp) => candidates.some(({ name }) => word.test(name));
  return html`${has(/magnesium|titanium/) ? html`<p class="stale">Do not file, grind or drill it: fine magnesium and titanium burn (combustible metals, NFPA 484; from memory).</p>` : null}
${has(/lead|Sn-Pb|solder 50/) ? html`<p>It may hold lead: wear gloves, make no dust, wash your hands (OSHA 29 CFR 1910.1025; from memory).</p>` : null}`;
}
