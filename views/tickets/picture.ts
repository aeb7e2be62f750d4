import type { Load } from '../../server/manifests/queries.ts';
import { type AmountMinor, amountMinor, sumMoney } from '../../server/money/money.ts';
import type { ReconciliationGroup, StepName, TicketReconciliation } from '../../server/reconciliation/compute.ts';
import type { ReconciledTicket } from '../../server/reconciliation/queries.ts';
import type { Comparison } from '../../server/scales/compute.ts';
import type { TicketLine } from '../../server/tickets/queries.ts';
import { type MassUg, type MassUnit, massUg, sumMass } from '../../server/units/mass.ts';
import { waterfall } from '../charts/waterfall.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { howPaid } from './printed.ts';

/** A step of the picture. Loads that are on no line are a step of their own: the scales have no part in those. */
type PictureStep = StepName | 'notOnTicket';

const LABELS: Record<PictureStep, string> = {
  expected: 'Expected',
  notOnTicket: 'Not on the ticket',
  scale: 'Scales',
  deduction: 'Deduction',
  grade: 'Grade',
  price: 'Price',
  rounding: 'Rounding',
  arithmetic: 'Ticket arithmetic',
  notOnManifest: 'Not on the manifest',
  charges: 'Charges',
  tax: 'Tax',
  cashRounding: 'Cash rounding',
  paid: 'Paid',
};

/** As they are named in the middle of a sentence. */
const WORDS: Partial<Record<PictureStep, string>> = { scale: 'the two scales', arithmetic: "the ticket's arithmetic" };
const wordOf = (name: PictureStep): string => WORDS[name] ?? LABELS[name].toLowerCase();

/** These are shown also when they are nothing: that a scale agreed is worth knowing. */
const ALWAYS: readonly PictureStep[] = ['expected', 'scale', 'deduction', 'grade', 'price', 'paid'];

interface Step {
  name: PictureStep;
  amountMinor: AmountMinor;
}

const missingGroups = ({ groups }: TicketReconciliation): ReconciliationGroup[] =>
  groups.filter(({ isOnTicket }) => !isOnTicket);

/** The steps of the picture in order; they add up as the reconciliation's own do. */
function pictureSteps(reconciliation: TicketReconciliation): Step[] {
  const missingMinor = sumMoney(missingGroups(reconciliation).map(({ scaleMinor }) => scaleMinor));
  const steps = reconciliation.steps.flatMap((step): Step[] => {
    if (step.name !== 'scale') return [step];
    const scale: Step = { name: 'scale', amountMinor: amountMinor(step.amountMinor - missingMinor) };
    return [{ name: 'notOnTicket', amountMinor: missingMinor }, scale];
  });
  const isShown = ({ name, amountMinor: amount }: Step) => amount !== 0 || ALWAYS.includes(name);
  const hasMissing = missingGroups(reconciliation).length > 0;
  return steps.filter((step) => isShown(step) || (step.name === 'notOnTicket' && hasMissing));
}

export interface PictureParts {
  reconciled: ReconciledTicket;
  /** Every load of the manifest, also what came back or is on another ticket. */
  manifestLoads: readonly Load[];
  /** For each group, in order, what its two scales say; null where there are no two weights. */
  comparisons: readonly (Comparison | null)[];
  /** Unit for sums of weights. */
  unit: MassUnit;
}

/** Where every cent went: one sentence, one picture, and beneath it what each step says. */
export function ticketPicture(show: Show, parts: PictureParts): SafeHtml {
  const steps = pictureSteps(parts.reconciled.reconciliation);
  const isTotal = (name: PictureStep) => name === 'expected' || name === 'paid';
  const picture = waterfall({
    id: 'ticket',
    title: 'From expected to paid',
    description:
      'How the amount that the manifest expected became the amount that the yard paid, step by step. The list below explains each.',
    steps: steps.map((step) => ({
      label: LABELS[step.name],
      amountMinor: step.amountMinor,
      kind: isTotal(step.name) ? ('total' as const) : ('effect' as const),
    })),
    formatAmount: (minor) => show.money(amountMinor(minor)),
    formatSigned: (minor) => show.signedMoney(amountMinor(minor)),
  });
  const write = (step: Step) =>
    isTotal(step.name) ? show.money(step.amountMinor) : show.signedMoney(step.amountMinor);
  return html`<section class="where" aria-labelledby="where"><h2 id="where">Where every cent went</h2>
<p class="lead">${inOneSentence(show, steps)}</p>
${picture}
<dl class="told">${steps.map(
    (step) => html`<div><dt>${LABELS[step.name]} <b class="figure">${write(step)}</b></dt>
  <dd>${amountsWhole(sentenceOf(show, parts, step))}</dd></div>`,
  )}</dl>
</section>`;
}

/** A sign must not stand at the end of one line and its amount on the next. */
const amountsWhole = (sentence: string): SafeHtml[] =>
  sentence
    .split(/(?<= )(?=[+−])|(?<=[+−]\S+) /)
    .map((part) => (/^[+−]/.test(part) ? html`<span class="nowrap">${part}</span> ` : html`${part}`));

const list = (words: readonly string[]): string =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`;

/** "Of the $13.81 between expected and paid, $4.45 was price, …", the largest first. */
function inOneSentence(show: Show, steps: readonly Step[]): string {
  const effects = steps.slice(1, -1).filter((step) => step.amountMinor !== 0);
  const difference = sumMoney(effects.map((step) => step.amountMinor));
  const size = (step: Step) => Math.abs(step.amountMinor);
  const along = effects.filter((step) => Math.sign(step.amountMinor) === Math.sign(difference));
  const against = effects.filter((step) => !along.includes(step)).sort((a, b) => size(b) - size(a));
  along.sort((a, b) => size(b) - size(a));
  const money = (step: Step) => show.money(amountMinor(size(step)));
  const named = (those: readonly Step[]) => list(those.map((step) => `${money(step)} ${wordOf(step.name)}`));
  if (effects.length === 0) return 'Expected and paid are the same, to the cent.';
  if (difference === 0) return `Expected and paid are the same; ${named(against)} cancel each other out.`;
  const whole = show.money(amountMinor(Math.abs(difference)));
  const back = against.length === 0 ? '' : ` The other way went ${named(against)}.`;
  const direction = difference < 0 ? 'Of the' : 'More than expected was paid: of the';
  const [first, ...rest] = along;
  if (first === undefined) return '';
  const others = rest.length === 0 ? [] : [named(rest)];
  return `${direction} ${whole} between expected and paid, ${[`${money(first)} was ${wordOf(first.name)}`, ...others].join(', ')}.${back}`;
}

interface Telling extends PictureParts {
  show: Show;
  /** "−$2.06" */
  amount: string;
}

/** One plain sentence for each step. */
function sentenceOf(show: Show, parts: PictureParts, step: Step): string {
  const { reconciled } = parts;
  const telling: Telling = { ...parts, show, amount: show.signedMoney(step.amountMinor) };
  const { total } = reconciled;
  switch (step.name) {
    case 'expected':
      return tellExpected(telling);
    case 'notOnTicket':
      return `No line pays for ${loadsIn(reconciled, missingGroups(reconciled.reconciliation))}: ${telling.amount}.`;
    case 'scale':
      return tellScale(telling);
    case 'deduction':
      return tellDeduction(telling, step.amountMinor);
    case 'grade':
      return tellGrade(telling);
    case 'price':
      return tellPrice(telling);
    case 'rounding':
      return `Each line is rounded to the cent; together that makes ${telling.amount}.`;
    case 'arithmetic':
      return `The ticket's own sums come to something else than it prints: ${telling.amount}. The lines below say where.`;
    case 'notOnManifest':
      return `Money for what was not on the manifest, on ${lineNumbers(reconciled.reconciliation.notOnManifest.lineNos)}: ${telling.amount}.`;
    case 'charges':
      return `What the yard charged: ${telling.amount}.`;
    case 'tax':
      return `Tax on the ticket: ${telling.amount}.`;
    case 'cashRounding':
      return `Rounded because it was paid in cash: ${telling.amount}.`;
    case 'paid':
      return total === null
        ? 'The sum of the lines; the foot of the ticket was not entered yet.'
        : `The ticket's total, paid ${howPaid(total.paid_by)}.`;
  }
}

function tellExpected({ show, reconciled, manifestLoads }: Telling): string {
  const others = manifestLoads.filter(({ id }) => !reconciled.loads.some((load) => load.id === id));
  const back = others.filter((load) => load.load_return_id !== null);
  const elsewhere = others.filter((load) => load.load_return_id === null);
  const named = (those: readonly Load[]) =>
    `${those.length === 1 ? 'load' : 'loads'} ${list(those.map(({ label }) => label))}`;
  const verb = (those: readonly Load[]) => (those.length === 1 ? 'is' : 'are');
  const without = [
    ...(back.length === 0 ? [] : [`${named(back)} came back since and ${verb(back)} no longer in it`]),
    ...(elsewhere.length === 0 ? [] : [`${named(elsewhere)} ${verb(elsewhere)} on another ticket`]),
  ].join('; ');
  const printed = `What the manifest printed when it was loaded, ${show.day(reconciled.ticket.loaded_on)}: home weights at the yard's quotes.`;
  return without === '' ? printed : `${printed} ${without.charAt(0).toUpperCase()}${without.slice(1)}.`;
}

const lineNumbers = (lineNos: readonly number[]): string =>
  `${lineNos.length === 1 ? 'line' : 'lines'} ${list(lineNos.map(String))}`;

/** "load E", "loads C, D and E" */
function loadsIn({ loads }: Pick<ReconciledTicket, 'loads'>, groups: readonly ReconciliationGroup[]): string {
  const labels = groups.flatMap(({ loadIds }) => loadIds.map((id) => labelOf(loads, id)));
  return `${labels.length === 1 ? 'load' : 'loads'} ${list(labels)}`;
}

const labelOf = (loads: readonly Load[], id: number): string => loads.find((load) => load.id === id)?.label ?? '';

const weighedGroups = ({ reconciliation }: ReconciledTicket): ReconciliationGroup[] =>
  reconciliation.groups.filter(({ isOnTicket, comparedByWeight }) => isOnTicket && comparedByWeight);

/** Sum of a difference over groups, for people, without its sign. */
const sizeOf = (show: Show, masses: readonly MassUg[], unit: MassUnit): string =>
  show.weight(massUg(Math.abs(sumMass(masses))), unit);

const tellScale = (telling: Telling): string => `${tellReadings(telling)}${tellVerdicts(telling)}`;

/** Whether two honest scales can lie that far apart; nothing where that cannot be told of any load. */
function tellVerdicts({ comparisons }: Telling): string {
  const known = comparisons.flatMap((each) => (each === null || each.verdict.kind === 'unknown' ? [] : [each]));
  if (known.length === 0) return '';
  const beyond = known.filter(({ verdict }) => verdict.kind === 'unexplained').flatMap(({ labels }) => labels);
  const isAll = known.length === comparisons.filter((each) => each !== null).length;
  if (beyond.length > 0) return ` On ${list(beyond)} that is more than the two scales can explain.`;
  return isAll
    ? ' The two scales can explain that.'
    : ` On ${list(known.flatMap(({ labels }) => labels))} the two scales can explain it.`;
}

function tellReadings({ show, reconciled, unit, amount }: Telling): string {
  const groups = weighedGroups(reconciled);
  if (groups.length === 0) return 'Nothing was compared by weight.';
  const off = (group: ReconciliationGroup): MassUg => massUg(group.yardUg - group.homeUg);
  const less = groups.filter((group) => off(group) < 0);
  const more = groups.filter((group) => off(group) > 0);
  const part = (those: readonly ReconciliationGroup[]) => sizeOf(show, those.map(off), unit);
  if (less.length === 0 && more.length === 0) return 'Both scales read the same.';
  if (more.length === 0) return `The yard's scale read ${part(less)} less than yours in all: ${amount}.`;
  if (less.length === 0) return `The yard's scale read ${part(more)} more than yours in all: ${amount}.`;
  return `The yard's scale read ${part(less)} less than yours on ${loadsIn(reconciled, less)} and ${part(more)} more on ${loadsIn(reconciled, more)}: ${amount}.`;
}

function tellDeduction({ show, reconciled, unit, amount }: Telling, money: AmountMinor): string {
  const off = (group: ReconciliationGroup): MassUg => massUg(group.paidUg - group.yardUg);
  const changed = weighedGroups(reconciled).filter((group) => off(group) !== 0);
  if (changed.length === 0) return 'Nothing was deducted.';
  const where = loadsIn(reconciled, changed);
  const all = sumMass(changed.map(off));
  if (all > 0 || money > 0) return `The nets are above gross less tare on ${where}: ${amount}.`;
  return `The yard took ${sizeOf(show, changed.map(off), unit)} off ${where}, for dirt, moisture or attachments: ${amount}.`;
}

/** Lines that were paid as another grade than that of the bins they came from. */
function regraded({ lines, loads }: ReconciledTicket): TicketLine[] {
  const gradeOf = (id: number) => loads.find((load) => load.id === id)?.grade_id;
  return lines.filter((line) => line.loadIds.some((id) => gradeOf(id) !== line.grade_id));
}

function tellGrade({ show, reconciled, amount, unit }: Telling): string {
  const lines = regraded(reconciled);
  if (lines.length === 0) return 'Every load was paid as the grade of its bin.';
  const parts = lines.map((line) => {
    const own = reconciled.loads.filter(({ id }) => line.loadIds.includes(id));
    const others = own.filter((load) => load.grade_id !== line.grade_id);
    const labels = list(others.map(({ label }) => label));
    // Where only some of its loads are of another grade, the line's net is not theirs: they have their home weight.
    const home = sumMass(others.map((load) => load.mass_ug as MassUg));
    if (others.length < own.length) return `${labels}, ${show.weight(home, unit)} at home, as ${line.grade_name}`;
    return `${show.digits(line.net)} ${line.unit === 'each' ? 'pieces' : line.unit} of ${labels} as ${line.grade_name}`;
  });
  return `Paid as another grade: ${list(parts)}. That makes ${amount}.`;
}

function tellPrice({ show, reconciled, amount }: Telling): string {
  const { groups } = reconciled.reconciliation;
  const off = groups.filter(({ isOnTicket, priceMinor }) => isOnTicket && priceMinor !== 0);
  if (off.length === 0) return 'Every price was as quoted.';
  const parts = off.map((group) => `${show.signedMoney(group.priceMinor)} on ${loadsIn(reconciled, [group])}`);
  const direction = off.every(({ priceMinor }) => priceMinor < 0)
    ? 'below the quote'
    : off.every(({ priceMinor }) => priceMinor > 0)
      ? 'above the quote'
      : 'off the quote';
  return `Paid ${direction}: ${list(parts)}${off.length > 1 ? `, ${amount} in all` : ''}.`;
}
