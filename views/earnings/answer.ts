import type { Answer, TeardownEdges } from '../../server/earnings/answer.ts';
import type { Option, Part } from '../../server/earnings/worth.ts';
import { optionPerHour } from '../../server/earnings/worth.ts';
import { Decimal } from '../../server/units/decimal.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { countOf, doing, likelySaid, major, majorRange, minutesSaid, optionName } from './words.ts';
import type { WorthPage } from './worth.ts';

type AnswerParts = WorthPage & { answer: Answer };

/** The answer in a sentence, with what would change it, then the options side by side and what they rest on. */
export const answerSection = (
  show: Show,
  parts: AnswerParts,
): SafeHtml => html`<section class="answer" aria-label="Answer">
${sentence(show, parts)}
${beforeHand(parts)}
${parts.answer.edges === null ? null : edgesSaid(show, parts.answer.edges, parts.wage)}
</section>
${optionTable(show, parts)}
${parts.answer.options.map((option) => yieldTable(show, parts, option))}
${notes(show, parts)}`;

const isRule = ({ key }: Option): boolean => key === 'rule';
const RULE_NOTE = html`<strong class="estimate">Rule of thumb only</strong>`;

/** Taking apart comes only after what needs a licence, and the answer says so in the same breath. */
const onceDone = ({ cautions }: AnswerParts, { key }: Option): string =>
  ['coarse', 'fine', 'rule'].includes(key) && cautions.some(({ licence, isGeneral }) => licence !== '' && !isGeneral)
    ? ', once what needs licensed practice is done'
    : '';

function sentence(show: Show, parts: AnswerParts): SafeHtml {
  const { answer, wage } = parts;
  const { best, next, lead, isClose } = answer;
  if (best === null) return html`<p class="lead">Not enough is known to compare. The table says what is missing.</p>`;
  const { option } = best;
  const counted = wage === null ? '' : `, your time counted at ${major(show, wage)} an hour`;
  const more =
    next === null || lead === null
      ? html` Nothing else can be compared with it yet.`
      : html` That is ${major(show, lead)} more than to ${doing(next.option.key)}${counted}.`;
  return html`<p class="lead"><b>Best${onceDone(parts, option)}: ${doing(option.key)}.</b> ${bringsSaid(show, option)}${more}</p>
${isRule(option) ? html`<p>${RULE_NOTE}: none of this kind was taken apart and weighed here yet.</p>` : null}
${isClose ? html`<p>It is close: past teardowns differ so much that it may well be the other way round.</p>` : null}`;
}

/** Money is not what comes first. */
function beforeHand({ cautions }: AnswerParts): SafeHtml {
  const special = cautions.filter(({ isGeneral }) => !isGeneral);
  return html`${
    special.length === 0
      ? null
      : html`<ul class="first">${special.map(
          ({ title, licence }) =>
            html`<li><b>${title}.</b> ${licence === '' ? null : html`Licensed practice: ${licence}`}</li>`,
        )}</ul>`
  }
<p>This is about money and time only. Local codes and licensed practice go first:
  <a href="#with-care">read what to mind</a> before taking anything apart.</p>`;
}

function bringsSaid(show: Show, option: Option): string {
  const { money, minutes } = option;
  if (money === null) return '';
  const about = isRule(option) || option.learned !== null ? 'about ' : '';
  const brings = money.isNegative()
    ? `It costs ${about}${major(show, money.negated())}`
    : `It brings ${about}${major(show, money)}`;
  if (minutes === null) return `${brings}; how long it takes is not known.`;
  if (minutes.isZero()) return `${brings}, no time counted.`;
  const perHour = optionPerHour(option);
  return `${brings} in ${about}${minutesSaid(show, minutes)}${perHour === null ? '' : `, ${major(show, perHour)} an hour`}.`;
}

/** "worth taking apart while copper is above X, or below Y minutes" */
function edgesSaid(show: Show, edges: TeardownEdges, wage: Decimal | null): SafeHtml {
  const { own, isBest, minutes } = edges;
  const name = `${own.option.key === 'rule' ? 'Taking it apart' : `Taking it apart (${own.option.key})`}`;
  return html`<ul class="edges">
  ${edges.dearest === null ? null : html`<li>${priceSaid(show, name, edges)}</li>`}
  ${
    minutes === null
      ? null
      : html`<li>${name} is ${isBest ? '' : 'only '}worth it in less than <b>${minutesSaid(show, minutes.at)}</b>${
          own.option.minutes === null ? '' : ` (now about ${minutesSaid(show, own.option.minutes)})`
        }: ${
          minutes.by === 'wage' && wage !== null
            ? `then it beats the choice to ${doing(minutes.with)} at ${major(show, wage)} an hour.`
            : `then it brings more for an hour than to ${doing(minutes.with)}.`
        }</li>`
  }
  ${minutes === null && wage !== null && own.option.minutes !== null && !isBest ? html`<li>No time is short enough to make it the better choice at these prices.</li>` : null}
  ${edges.extra === null ? null : html`<li>The additional time brings ${major(show, edges.extra.perHour)} an hour over the choice to ${doing(edges.extra.over.key)}.</li>`}
</ul>`;
}

function priceSaid(show: Show, name: string, { price, dearest }: TeardownEdges): SafeHtml {
  if (price === null) return html`No quote for ${dearest} alone would make ${name.toLowerCase()} the best choice.`;
  const { grade, above, below } = price;
  const quoted = (at: Decimal) => show.price(at.toDecimalPlaces(4, Decimal.ROUND_HALF_UP), grade.per);
  const today = `(today ${show.price(grade.price, grade.per)}, the other prices as they are)`;
  if (above === null && below === null) return html`${name} is the best choice at any quote for ${grade.gradeName}.`;
  const low = above === null ? null : html`above <b>${quoted(above.at)}</b>`;
  const high = below === null ? null : html`below <b>${quoted(below.at)}</b>`;
  const other = above === null ? (below === null ? '' : doing(below.with)) : doing(above.with);
  return html`${name} is worth it while ${grade.gradeName} is quoted ${low}${low && high ? ' and ' : ''}${high} ${today}; else ${other}.`;
}

interface StackedTable {
  id: string;
  title: string;
  hint: string;
  content: SafeHtml;
}

/** A table under its heading, on a phone a card for each row. */
const stackedTable = ({ id, title, hint, content }: StackedTable): SafeHtml => html`<h2 id="${id}">${title}</h2>
<p class="hint">${hint}</p>
<div class="scroll" role="region" aria-labelledby="${id}" tabindex="0"><table class="stack" aria-labelledby="${id}">
${content}
</table></div>`;

function optionTable(show: Show, { answer, wage }: AnswerParts): SafeHtml {
  return stackedTable({
    id: 'options',
    title: 'Side by side',
    hint: 'At today’s best quotes times the share of quotes that was realised so far.',
    content: html`<thead><tr><th scope="col">What to do</th><th scope="col" class="figure">Money</th>
  <th scope="col" class="figure">Minutes</th><th scope="col" class="figure">Per hour</th>
  ${wage === null ? null : html`<th scope="col" class="figure">After your time</th>`}</tr></thead>
<tbody>${answer.options.map((option) => optionRow(show, option, wage))}</tbody>`,
  });
}

function optionRow(show: Show, option: Option, wage: Decimal | null): SafeHtml {
  const { money, minutes, range, hourRange } = option;
  const name = html`<td class="name">${optionName(option)}${isRule(option) && money !== null ? html` ${RULE_NOTE}` : null}</td>`;
  if (money === null) {
    return html`<tr>${name}<td colspan="${wage === null ? 3 : 4}" data-label=""><span class="hint">${missingSaid(option)}</span></td></tr>`;
  }
  const perHour = optionPerHour(option);
  const between = (low: number, high: number) => html`<small>likely ${majorRange(show, low, high)}</small>`;
  const after = minutes === null || wage === null ? null : money.minus(wage.times(minutes).div(60));
  return html`<tr class="${isRule(option) ? 'is-estimate' : ''}">${name}
  <td class="figure" data-label="Money"><span><b>${major(show, money)}</b>${range === null ? noRange(option) : between(range.low, range.high)}</span></td>
  <td class="figure" data-label="Minutes"><span>${minutesCell(show, option)}</span></td>
  <td class="figure" data-label="Per hour"><span>${perHour === null ? '–' : major(show, perHour)}${hourRange === null ? null : between(hourRange.low, hourRange.high)}</span></td>
  ${wage === null ? null : html`<td class="figure" data-label="After your time">${after === null ? html`<span class="hint">${option.key === 'whole' ? 'type its minutes' : 'no minutes kept'}</span>` : major(show, after)}</td>`}</tr>`;
}

function noRange({ learned, noInterval }: Option): SafeHtml | null {
  if (learned === null) return null;
  return html`<small>${noInterval === 'equal' ? 'all alike' : `${countOf(learned.count, 'teardown')}: too few for a range`}</small>`;
}

function minutesCell(show: Show, { minutes, learned, key }: Option): SafeHtml {
  if (minutes === null) return html`not known`;
  if (minutes.isZero()) return html`none counted`;
  const said = show.figure(minutes, minutes.lt(10) ? 1 : 0);
  if (learned?.meanMinutes == null) return html`${said}${key === 'rule' ? html`<small>rule of thumb</small>` : null}`;
  return html`${said}<small>by weight; the ${learned.timed} timed took ${show.figure(new Decimal(learned.meanMinutes), 0)} on average</small>`;
}

function missingSaid({ missing, key, learned, parts }: Option): string {
  if (missing === 'no price') return 'Type a price below to compare it.';
  if (missing === 'no grade') return 'No grade is named that a yard takes this kind as. Name one at the kind.';
  if (missing === 'no quote') {
    const what =
      key === 'as is'
        ? `No yard quotes ${parts.length === 0 ? 'it' : 'its grade'} by weight`
        : 'No yard quotes any grade it gives';
    return `${what}: enter a price first.`;
  }
  if (key === 'rule')
    return 'No history and no rule of thumb: take one apart, weigh it and what it gives, and it shows here.';
  return learned === null ? 'No history to this depth yet.' : '';
}

/** What it would give, grade by grade. */
function yieldTable(show: Show, { gradeNames }: AnswerParts, option: Option): SafeHtml | null {
  if (option.key === 'as is' || option.parts.length === 0) return null;
  const { learned } = option;
  const from =
    learned === null
      ? 'Shares by rule of thumb: estimates, nothing was weighed. What the rule does not name counts as waste.'
      : `From ${countOf(learned.count, 'finished teardown')}${learned.count < 3 ? ': too few to say how far they spread' : ''}.`;
  return stackedTable({
    id: `gives-${option.key}`,
    title: `${optionName(option)}: what it would give`,
    hint: from,
    content: html`<thead><tr><th scope="col">Grade</th><th scope="col" class="figure">Share</th>
  <th scope="col" class="figure">Weight</th><th scope="col">Likely price</th><th scope="col" class="figure">Money</th></tr></thead>
<tbody class="${learned === null ? 'is-estimate' : ''}">${option.parts.map((part) => partRow(show, part, gradeNames))}
${learned !== null && learned.partsShare > 0 ? html`<tr><td class="name">Parts kept</td><td class="figure" data-label="Share">${share(show, learned.partsShare)}</td><td class="nothing"></td><td class="nothing"></td><td class="figure" data-label="Money">not counted</td></tr>` : null}
<tr><td class="name">Waste</td><td class="figure" data-label="Share">${learned === null ? null : share(show, learned.wasteShare)}</td>
  <td class="figure" data-label="Weight">${show.weight(option.wasteUg)}</td><td class="nothing"></td>
  <td class="figure" data-label="Money">${option.wasteMoney.isZero() ? '–' : major(show, option.wasteMoney.negated())}</td></tr></tbody>`,
  });
}

const share = (show: Show, of: number): string => `${show.figure(new Decimal(of).times(100), 1)} %`;

function partRow(show: Show, part: Part, gradeNames: ReadonlyMap<number, string>): SafeHtml {
  const { interval, price, money } = part;
  const range =
    interval === null
      ? null
      : html`<small>likely ${share(show, Math.max(0, interval.low))} to ${share(show, Math.min(1, interval.high))}</small>`;
  return html`<tr><td class="name">${gradeNames.get(part.gradeId) ?? ''}</td>
  <td class="figure" data-label="Share"><span>${share(show, part.share)}${range}</span></td>
  <td class="figure" data-label="Weight">${show.weight(part.massUg)}</td>
  <td data-label="Likely price"><span>${price === null ? 'no quote' : likelySaid(show, price)}</span></td>
  <td class="figure" data-label="Money">${money === null ? 'not counted' : major(show, money)}</td></tr>`;
}

function notes(show: Show, { answer, waste, wage, unweighed, partsSold }: AnswerParts): SafeHtml {
  const isTooMuch = answer.options.some(({ learned }) => learned?.isTooMuch === true);
  const unquoted = answer.options.some(
    ({ money, parts }) => money !== null && parts.some((part) => part.money === null),
  );
  const sentences = [
    wage === null
      ? 'No wage is aimed at, so this compares by money alone.'
      : `What is best is the money less ${major(show, wage)} for each hour it takes.`,
    waste === null
      ? 'No cost of waste is set, so throwing it away counts as free.'
      : `Waste costs ${show.price(waste.price, waste.per)}.`,
    unquoted ? 'A grade without a quote counts as nothing, so the money is at least what is shown.' : '',
    partsSold.netMinor === 0
      ? ''
      : `Parts sold for reuse brought ${show.money(partsSold.netMinor)} in ${countOf(partsSold.teardowns, 'teardown')}: they are not counted above.`,
    unweighed === 0 ? '' : `${countOf(unweighed, 'teardown')} had no whole weight and could not be learned from.`,
    isTooMuch ? 'Past teardowns gave more than their items weighed: look through their weighings.' : '',
  ].filter((text) => text !== '');
  return html`<p class="hint">${sentences.join(' ')} Both are set in <a href="/setup/ledger">This ledger</a>.</p>`;
}
