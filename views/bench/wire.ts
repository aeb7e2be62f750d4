import type { PriceUsed, WireQuestion } from '../../server/bench/wire-question.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { type Choice, choiceField, type FormState, massUnitChoices, numberField, textField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backToBench, percentOf, questionProblems } from './parts.ts';
import { answerSection } from './wire-answer.ts';

const plainChoices = (values: readonly string[]): Choice[] => values.map((value) => ({ value, label: value }));
const perChoices: readonly Choice[] = massUnitChoices.map(({ value }) => ({ value, label: `per ${value}` }));

const SOURCES: readonly Choice[] = [
  { value: 'samples', label: 'samples of this kind' },
  { value: 'conductor', label: 'the conductor, below' },
  { value: 'figure', label: 'a figure, below' },
];

/** Strip or sell: the question as a form that the address holds, and its answer. */
export function wirePage(
  show: Show,
  question: WireQuestion,
  address: (changes: Readonly<Record<string, string>>) => string,
): SafeHtml {
  const state = stateOf(show, question);
  const { answer } = question;
  return page({
    title: 'Strip or sell',
    show,
    body: html`${backToBench}<h1>Strip or sell</h1>
${questionProblems(state)}
${answerSection(show, question)}
${answer === null ? null : html`<h2>What was asked</h2>`}
<form method="get" action="/bench/wire">
  ${choiceField({ name: 'kind', label: 'Kind of wire', choices: kindChoices(question), none: 'None', hint: kindHint(question) }, state)}
  ${pricesPart(show, question, state)}
  ${recoveryPart(show, question, state, address)}
  ${timePart(show, question, state)}
  <button class="primary">Show the answer</button>
</form>
<p><a class="alone" href="/bench/wire">Begin anew</a></p>`,
  });
}

/** The form as the address has it, the units filled in. */
function stateOf({ settings }: Show, { typed, problems, source }: WireQuestion): FormState {
  const { unit } = settings;
  const usual = { insulatedPer: unit, barePer: unit, wastePer: unit, pieceUnit: unit, rateUnit: unit };
  const size = { sizeUnit: 'AWG', stranding: 'solid', conductors: '1', lengthUnit: 'ft', by: source ?? '' };
  const filled = Object.fromEntries(Object.entries(typed).filter(([, value]) => value.trim() !== ''));
  return { typed: { ...usual, ...size, ...filled }, problems };
}

const kindChoices = ({ kinds }: WireQuestion): Choice[] =>
  kinds.map(({ id, name }) => ({ value: String(id), label: name }));

const kindHint = ({ kinds, kind }: WireQuestion): SafeHtml =>
  kind === null
    ? html`With a kind, its samples and the quotes of its two grades are used. <a href="/bench/wire/kinds">${kinds.length === 0 ? 'Add a kind of wire' : 'Kinds of wire'}</a>`
    : html`Sold as ${kind.grade_name}, its metal as ${kind.bare_grade_name}. <a href="/bench/wire/kinds/${kind.id}">Its samples</a>`;

/** Where a price comes from when none is typed. */
function quoteHint(show: Show, used: PriceUsed | null): SafeHtml | string {
  if (used === null) return 'What a yard pays.';
  if (used.quote === null) return 'As typed. Empty, the best quote of the kind’s grade is taken.';
  const { quote, yardName } = used.quote;
  const age = show.age(quote.seen_on);
  return html`Empty, the best quote counts: ${show.price(quote.price, quote.per)}, ${yardName}, ${
    show.isStale(quote.seen_on) ? html`<span class="stale">${age}, look it up again</span>` : age
  }.`;
}

const pricesPart = (show: Show, { insulated, bare }: WireQuestion, state: FormState): SafeHtml => html`<fieldset>
<legend>Prices</legend>
<div class="pair">
  ${numberField({ name: 'insulated', label: 'As it is' }, state)}
  ${choiceField({ name: 'insulatedPer', label: 'For', choices: perChoices }, state)}
</div>
<p class="hint">With its insulation on. ${quoteHint(show, insulated)}</p>
<div class="pair">
  ${numberField({ name: 'bare', label: 'Bare' }, state)}
  ${choiceField({ name: 'barePer', label: 'For', choices: perChoices }, state)}
</div>
<p class="hint">Its metal alone. ${quoteHint(show, bare)}</p>
<div class="pair">
  ${numberField({ name: 'waste', label: 'Cost of waste' }, state)}
  ${choiceField({ name: 'wastePer', label: 'For', choices: perChoices }, state)}
</div>
<p class="hint">What it costs you to be rid of the insulation; empty: nothing. Never burn it off: that gives
  off dioxins and metal fumes, is forbidden in many places, and yards refuse burnt wire (Saskatchewan Ministry of Environment, copper wire recycling sheet).
  Local codes have the last word.</p></fieldset>`;

type Address = (changes: Readonly<Record<string, string>>) => string;

function recoveryPart(show: Show, question: WireQuestion, state: FormState, address: Address): SafeHtml {
  const isOpen = (source: string) => (question.source === source ? html`open` : null);
  return html`<fieldset><legend>How much of it is metal</legend>
${choiceField({ name: 'by', label: 'Taken from', choices: SOURCES, none: 'Choose', hint: samplesHint(show, question) }, state)}
<details ${isOpen('conductor')}><summary>By the conductor</summary>
<p class="hint">For copper only: aluminium and copper-clad aluminium weigh less than half. Scratch an end: copper is red right through.</p>
<div class="pair">
  ${textField({ name: 'size', label: 'Size', hint: 'Printed on the cable: 14, 1/0 to 4/0, or 2.5 for mm².' }, state)}
  ${choiceField({ name: 'sizeUnit', label: 'In', choices: plainChoices(['AWG', 'mm²']) }, state)}
</div>
<div class="pair">
  ${numberField({ name: 'conductors', label: 'Conductors', hint: 'Bare ground wire counted too.' }, state)}
  ${choiceField({ name: 'stranding', label: 'Each is', choices: plainChoices(['solid', 'stranded', 'fine strands']) }, state)}
</div>
<div class="pair">
  ${numberField({ name: 'length', label: 'Length of a piece' }, state)}
  ${choiceField({ name: 'lengthUnit', label: 'In', choices: plainChoices(['ft', 'in', 'm', 'cm']) }, state)}
</div>
<div class="pair">
  ${numberField({ name: 'piece', label: 'Weight of that piece', letters: true }, state)}
  ${choiceField({ name: 'pieceUnit', label: 'Unit', choices: massUnitChoices }, state)}
</div></details>
<details ${isOpen('figure')}><summary>By a figure of your own</summary>
${numberField({ name: 'recovery', label: 'Metal in percent', hint: 'It counts as an estimate.' }, state)}
</details>
${question.said.count > 0 ? null : rulesOfThumb(address)}</fieldset>`;
}

function samplesHint(show: Show, { kind, said }: WireQuestion): string {
  if (kind === null) return 'Samples belong to a kind of wire.';
  if (said.recovery === null)
    return `There is no sample of ${kind.name} yet. Strip and weigh a piece: nothing else is as good.`;
  const ratio = percentOf(show, new Decimal(said.recovery.ratio));
  return `${said.count === 1 ? '1 sample says' : `${said.count} samples say`} ${ratio}.`;
}

/** Offered only while there is no sample, and only as what they are. */
const rulesOfThumb = (
  address: Address,
): SafeHtml => html`<p class="hint">No sample yet? Common practice, with no published source:
  <a class="button" href="${address({ by: 'figure', recovery: '40' })}">appliance cord, about 40 %</a>
  <a class="button" href="${address({ by: 'figure', recovery: '60' })}">single-insulated wire, about 60 %</a>
  Both are estimates, and are marked so in the answer.</p>`;

function timePart(show: Show, { said }: WireQuestion, state: FormState): SafeHtml {
  const measured =
    said.ugPerHour === null
      ? 'With the minutes of samples it is known by itself.'
      : 'Empty, the minutes of the samples count.';
  return html`<fieldset><legend>Your time</legend>
<div class="pair">
  ${numberField({ name: 'rate', label: 'Wire stripped in an hour', hint: measured, letters: true }, state)}
  ${choiceField({ name: 'rateUnit', label: 'Unit', choices: massUnitChoices }, state)}
</div>
${numberField({ name: 'wage', label: `An hour of yours is to bring, in ${show.settings.currency}`, hint: 'May stay empty: then your time is not counted.' }, state)}
</fieldset>`;
}
