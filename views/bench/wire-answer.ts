import { writeGauge } from '../../server/bench/conductor.ts';
import type { RecoveryFound } from '../../server/bench/recovery.ts';
import type { PriceUsed, WireAnswer, WireQuestion } from '../../server/bench/wire-question.ts';
import { roundToMinor } from '../../server/money/money.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { percentOf } from './parts.ts';

/** The answer in one sentence, what it rests on, and how sure it is; what is missing where there is none. */
export function answerSection(show: Show, question: WireQuestion): SafeHtml | null {
  const { answer, missing } = question;
  if (answer === null) {
    if (missing.length === 0) return null;
    return html`<section class="way"><h2>Still missing</h2><ul>${missing.map((sentence) => html`<li>${sentence}</li>`)}</ul></section>`;
  }
  return html`<section class="way" id="answer"><h2>${headline(answer)}</h2>
<p><b>${sentenceOf(show, answer)}</b></p>
<p>${breakEvens(show, answer)}</p>
<p>${certainty(show, answer)}</p>
${answer.wage === null ? null : html`<p>${labourSentence(show, answer)}</p>`}
<h3>What it rests on</h3>
<ul>
  <li>As it is: ${priceSaid(show, question.insulated)}</li>
  <li>Bare: ${priceSaid(show, question.bare)}</li>
  <li>Metal: ${foundSaid(show, answer.found)}</li>
  ${answer.waste.isZero() ? null : html`<li>Waste costs ${show.price(answer.waste, answer.unit)}</li>`}
  ${answer.perHour === null ? html`<li>How much is stripped in an hour is not known</li>` : html`<li>${rateSaid(show, answer)} of wire an hour, ${answer.isRateTyped ? 'as typed' : 'by the samples with a time'}</li>`}
</ul></section>`;
}

function headline({ verdict, found }: WireAnswer): string {
  const estimate = found.by === 'figure' ? ' (by an estimate)' : '';
  if (verdict.advice === 'even') return `It makes no difference${estimate}`;
  return `${verdict.advice === 'strip' ? 'Strip it' : 'Sell it as it is'}${estimate}`;
}

const rateSaid = (show: Show, { perHour, unit }: WireAnswer): string =>
  `${show.figure(perHour ?? new Decimal(0), 2)} ${unit}`;

/** Money for one unit of weight, to a tenth of a cent. */
const perWeight = (show: Show, amount: Decimal, { unit }: WireAnswer): string =>
  show.price(amount.abs().toDecimalPlaces(3, Decimal.ROUND_HALF_UP), unit);

/** More than any hour brings: one of the figures was meant for another unit. */
const MOST_AN_HOUR = 1_000_000;

const hourly = (show: Show, amount: Decimal): string =>
  amount.abs().gt(MOST_AN_HOUR)
    ? 'more than can be right, so check the units,'
    : show.money(roundToMinor(amount.abs(), show.settings.currency));

/** "Stripping brings $0.34 per lb of wire more than selling it as it is, $5.10 an hour." */
function sentenceOf(show: Show, answer: WireAnswer): string {
  const { gainBeforeLabour: gain, perHour } = answer.verdict;
  if (gain.isZero()) return 'Stripping and selling it as it is bring the same.';
  const more = gain.gt(0) ? 'more' : 'less';
  const hour =
    perHour === null ? '' : `, ${hourly(show, perHour)} an hour ${more} at ${rateSaid(show, answer)} an hour`;
  const before = answer.wage === null ? '' : ' Your time is not in this yet.';
  return `Stripping brings ${perWeight(show, gain, answer)} of wire ${more} than selling it as it is${hour}.${before}`;
}

function labourSentence(show: Show, answer: WireAnswer): string {
  const { wage, verdict } = answer;
  if (wage === null) return '';
  const wanted = hourly(show, wage);
  if (verdict.gain.isZero()) return `With ${wanted} for an hour of yours it comes out even.`;
  const left = perWeight(show, verdict.gain, answer);
  return verdict.gain.gt(0)
    ? `With ${wanted} for each hour of yours, ${left} is left over.`
    : `With ${wanted} for each hour of yours it falls short by ${left}: sell it as it is.`;
}

/** From which recovery and which price of the metal on stripping pays. */
function breakEvens(show: Show, { verdict, wage, unit }: WireAnswer): string {
  const { breakEvenRecovery: recovery, breakEvenBare: bare } = verdict;
  const time = wage === null ? '' : ' Your time is counted in both.';
  if (recovery === null) return 'At these prices the bare metal brings nothing, whatever the recovery.';
  const atPrice =
    bare === null
      ? ''
      : ` With this wire it pays while the bare metal is above ${show.price(bare.toDecimalPlaces(3, Decimal.ROUND_HALF_UP), unit)}.`;
  if (recovery.gt(1))
    return `At these prices no wire is worth stripping, not even one that were all metal.${atPrice}${time}`;
  return `Stripping pays from a recovery of ${percentOf(show, recovery)} on.${atPrice}${time}`;
}

/** How far the recovery can be trusted, and whether that settles the question. */
function certainty(show: Show, { found, verdict }: WireAnswer): string {
  const { range } = found.recovery;
  if (found.by === 'figure')
    return 'The recovery is an estimate. Strip and weigh a piece or two before you strip a heap.';
  if (range === null) return found.by === 'samples' ? whyNoInterval(found) : '';
  const span = `between ${percentOf(show, range.low)} and ${percentOf(show, range.high)}`;
  const whose =
    found.by === 'samples'
      ? `Your ${found.said.count} samples put the metal ${span} (95 % interval).`
      : `The metal lies ${span}.`;
  if (verdict.isSettled === null) return whose;
  if (verdict.isSettled) return `${whose} The answer is the same at both ends.`;
  const more =
    found.by === 'samples'
      ? 'Your samples do not settle it yet: measure more.'
      : 'That does not settle it: strip and weigh a piece.';
  return `${whose} The break-even lies within that. ${more}`;
}

function whyNoInterval({ said }: Extract<RecoveryFound, { by: 'samples' }>): string {
  if (said.recovery?.noInterval === 'few') {
    const count = said.count === 1 ? 'One sample says' : 'Two samples say';
    return `${count} nothing of how far the next may be off: from three on there is an interval.`;
  }
  return 'The samples are all alike, so there is no interval. Did each have its own weighing?';
}

function priceSaid(show: Show, used: PriceUsed | null): SafeHtml | string {
  if (used === null) return '';
  const price = show.price(used.price.price, used.price.per);
  if (used.quote === null) return `${price}, as typed`;
  const { quote, gradeName, yardName } = used.quote;
  const age = show.age(quote.seen_on);
  return html`${price}, the best quote for ${gradeName}: ${yardName}, ${
    show.isStale(quote.seen_on) ? html`<span class="stale">${age}, look it up again</span>` : age
  }`;
}

function foundSaid(show: Show, found: RecoveryFound): string {
  const share = percentOf(show, found.recovery.ratio);
  if (found.by === 'figure') return `${share}, an estimate as typed`;
  if (found.by === 'samples')
    return `${share}, by ${found.said.count === 1 ? 'one sample' : `${found.said.count} samples together`}`;
  const { piece, copper, weightUg } = found;
  const size =
    piece.size.unit === 'AWG'
      ? `${writeGauge(piece.size.gauge)} AWG`
      : `${show.figure(new Decimal(piece.size.areaMm2), 2)} mm²`;
  const mass = show.weight(massUg(Math.round(copper.grams * 1_000_000)));
  const note =
    piece.size.unit === 'mm²'
      ? ' A size in mm² is nominal (IEC 60228): there may be so much less metal.'
      : piece.stranding === 'fine strands'
        ? ' Fine strands may hold up to 6 % more than solid wire (ASTM B8, from memory); 2 % is taken.'
        : '';
  return `${share}: ${mass} of copper in ${show.weight(weightUg)}, by ${piece.conductors} × ${size}, ${piece.stranding} (ASTM B258, 8.89 g/cm³).${note}`;
}
