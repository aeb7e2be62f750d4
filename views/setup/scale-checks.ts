import { type CheckSeen, errorOf, isWithin } from '../../server/scales/compute.ts';
import type { CheckRow, ScaleChecks } from '../../server/scales/pages.ts';
import { toleranceAt } from '../../server/scales/tolerance.ts';
import type { Scale } from '../../server/setup/queries.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { lineChart } from '../charts/line-chart.ts';
import {
  choiceField,
  dayField,
  type FormState,
  hiddenField,
  massUnitChoices,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
  tickField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { foundAt, inUnit, offText, sized } from './check-words.ts';
import { pageLinks } from './parts.ts';

/** The form for one check. Its fields have ids of their own, as the page has a second form. */
export function checkForm(_show: Show, scale: Scale, state: FormState): SafeHtml {
  return html`<p>Use a marked check weight if you can, about as heavy as what you usually weigh: a gym plate or a bag of sugar
  may itself be off. Let the scale show zero first, then put the weight in the middle of the pan.</p>
<form method="post" action="/setup/scales/${scale.id}/checks" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  <div class="pair">
    ${numberField({ name: 'weight', label: 'Check weight', hint: 'What is marked on it.', letters: true }, state)}
    ${numberField({ name: 'reading', label: 'Reading', hint: `What ${scale.name} shows.`, letters: true }, state)}
  </div>
  <div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices }, state)}
    ${dayField({ name: 'checkedOn', label: 'Day' }, state)}
  </div>
  ${tickField({ name: 'isAdjusted', label: 'The scale was adjusted after this', hint: 'From then on the scale counts as newly set, and earlier checks no longer speak for it. Check it once more afterwards.' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}
  ${state.problems.confirm === undefined ? null : tickField({ name: 'confirm', label: 'It is right: keep this check' }, state)}
  <button class="primary">Save the check</button>
</form>`;
}

/** "+0.04", "−0.02", "0.00" */
function signedFigure(show: Show, amount: Decimal, decimals: number): string {
  const size = show.figure(amount.abs(), decimals);
  const sign = /[1-9]/.test(size) ? (amount.isNegative() ? '−' : '+') : '';
  return `${sign}${size}`;
}

/** "+0.04 lb" */
const signed = (show: Show, scale: Scale, ug: number, decimals: number): string =>
  `${signedFigure(show, inUnit(scale, ug), decimals)} ${scale.unit}`;

const known = (show: Show, { check }: CheckRow): string =>
  show.typedWeight(check.weight_typed, check.unit, check.weight_ug);

/** What a check that was just written down found, or that one was taken back. */
export function addedLine(show: Show, scale: Scale, checks: ScaleChecks): SafeHtml | null {
  if (checks.isUndone) return html`<p class="saved" role="status">The check is taken back. It no longer counts.</p>`;
  const { added, decimals } = checks;
  if (added === null) return null;
  const isFine = isWithin(added.errorUg, added.toleranceUg);
  const allowed = added.toleranceUg === null ? '' : `± ${sized(show, scale, added.toleranceUg, decimals)}`;
  const verdict = isFine === null ? '' : `, ${isFine ? 'within' : 'more than'} its tolerance of ${allowed}`;
  const isOff = isFine === false && added.check.is_adjusted === 0;
  return html`<p class="saved ${isOff ? 'is-off' : ''}" role="status">Checked with ${known(show, added)}:
    ${offText(show, scale, added.errorUg, decimals)}${verdict}.${added.check.is_adjusted === 1 ? ' Adjusted after it: check it once more.' : ''}</p>
${isOff ? WEIGH_AGAIN : null}`;
}

const WEIGH_AGAIN = html`<p>Weigh it again. If it shows the same, adjust the scale as its papers say, or have it looked at. Once it is
  adjusted, say so beside the check <a href="#checks">below</a>.</p>`;

/** What the checks found so far: in a sentence, as a chart, one by one. */
export function checksFound(show: Show, scale: Scale, checks: ScaleChecks): SafeHtml {
  if (checks.list.rows.length === 0 && checks.list.page === 1) {
    return html`<section><h2>Checks with a known weight</h2><p>This scale was not checked yet.</p></section>`;
  }
  return html`<section id="checks"><h2>Checks with a known weight</h2>
${summaryText(show, scale, checks)}
${checks.drawn.length === 0 ? null : html`${bandNote(scale, checks)}${checkChart(show, scale, checks)}`}
${checkTable(show, scale, checks)}
${pageLinks(`/setup/scales/${scale.id}`, checks.list)}</section>`;
}

function summaryText(show: Show, scale: Scale, checks: ScaleChecks): SafeHtml | null {
  const { adjustedOn, largest } = checks.summary;
  if (largest === null) {
    if (adjustedOn === null) return null;
    return html`<p>It was adjusted on ${show.day(adjustedOn)} and not checked since: check it once more.${beforeText(show, scale, checks)}</p>`;
  }
  const hasTolerance = scale.tolerance !== '' || !['', 'unmarked'].includes(scale.class);
  const spread = spreadText(show, scale, checks);
  return html`<p>${errorsText(show, scale, checks, largest)}${beforeText(show, scale, checks)}</p>
${spread === '' ? null : html`<p class="hint">${spread}</p>`}
${hasTolerance ? null : toleranceOffer(show, scale, checks, Math.abs(errorOf(largest)))}`;
}

/** Whether it was right in the checks since the last adjustment, as far as they can tell. */
function errorsText(show: Show, scale: Scale, { summary, traits, decimals }: ScaleChecks, largest: CheckSeen): string {
  const { adjustedOn, count, failed } = summary;
  const since = adjustedOn === null ? '' : ` since it was adjusted on ${show.day(adjustedOn)}`;
  const checks = count === 1 ? `one check${since}` : `${count} checks${since}`;
  // By its class a scale may be off by more under a heavier load: the largest error need not be the one that is too large.
  if (failed !== null) {
    return `It was not right in ${checks}: ${foundAt(show, scale, failed, decimals)}, more than its tolerance.`;
  }
  if (isNothing(show, scale, largest, decimals)) return `It was not off in ${checks}.`;
  const most = foundAt(show, scale, largest, decimals);
  const atMost = count === 1 ? most : `at most ${most}`;
  if (toleranceAt(traits, largest.weightUg) === null) return `In ${checks} it was ${atMost}.`;
  return `It is right, as far as ${checks} can tell: ${atMost}, within its tolerance.`;
}

const isNothing = (show: Show, scale: Scale, check: CheckSeen, decimals: number): boolean =>
  offText(show, scale, errorOf(check), decimals) === 'right';

/** The mean and the scatter of several checks, in a smaller sentence of their own. */
function spreadText(show: Show, scale: Scale, { summary, decimals }: ScaleChecks): string {
  const { count, largest, meanErrorUg, repeated } = summary;
  if (count < 2 || meanErrorUg === null || largest === null) return '';
  if (isNothing(show, scale, largest, decimals)) return '';
  const mean = `On average it was ${offText(show, scale, meanErrorUg, decimals + 1)}`;
  if (repeated === null || repeated.deviationUg === 0) return `${mean}.`;
  const weight = show.weight(repeated.weightUg, scale.unit);
  const spread = sized(show, scale, repeated.deviationUg, decimals + 1);
  return `${mean}; the ${repeated.count} readings of ${weight} scatter by ${spread} (standard deviation).`;
}

/** What was found before the last adjustment, at most. */
function beforeText(show: Show, scale: Scale, { summary: { before }, decimals }: ScaleChecks): string {
  if (before === null || isNothing(show, scale, before, decimals)) return '';
  return ` Before that it was ${foundAt(show, scale, before, decimals)}.`;
}

/** Nothing is guessed silently: the figure is named, and the person writes it down or does not. */
function toleranceOffer(show: Show, scale: Scale, { traits, decimals }: ScaleChecks, largestUg: number): SafeHtml {
  // Rounded up, or the largest error would lie outside of it.
  const offered = inUnit(scale, Math.max(largestUg, traits.divisionUg ?? 0)).toDecimalPlaces(
    decimals,
    Decimal.ROUND_UP,
  );
  const here = offered.isZero() ? '' : `: ${show.figure(offered, decimals)} ${scale.unit} here`;
  return html`<p>Where its papers say nothing, you may write the largest error seen, at least one step, as its
  <a href="#f-tolerance">tolerance</a>${here}.</p>`;
}

function bandNote(scale: Scale, { drawn }: ScaleChecks): SafeHtml | null {
  if (drawn.some(({ toleranceUg }) => toleranceUg !== null)) return null;
  return html`<p class="hint">${missingText(scale)}, so no band is drawn: fill that in above.</p>`;
}

/** What would have to be known of the scale to say how far it may be off. */
function missingText(scale: Scale): string {
  if (scale.class === 'unmarked') return 'Its plate names no class, and a stated tolerance is not known';
  if (scale.division === '' && scale.class === '') return 'Its step and class, or a stated tolerance, are not known';
  return `Its ${scale.class === '' ? 'class' : 'step'}, or a stated tolerance, is not known`;
}

/** The error of every check that stands, against what the scale may be off by at that weight. */
function checkChart(show: Show, scale: Scale, { drawn, decimals }: ScaleChecks): SafeHtml {
  const days = new Map(drawn.map(({ check }) => [String(check.id), show.day(check.checked_on)]));
  // A line through an adjustment would look as if the scale had got well by and by.
  const points = (errorUg: (row: CheckRow) => number | null) =>
    drawn.flatMap((row) => {
      const ug = errorUg(row);
      const point = { x: String(row.check.id), y: ug === null ? null : inUnit(scale, ug).toFixed() };
      return row.check.is_adjusted === 1 && row !== drawn.at(-1)
        ? [point, { x: `${point.x} adjusted`, y: null }]
        : [point];
    });
  const hasBand = drawn.some(({ toleranceUg }) => toleranceUg !== null);
  return lineChart({
    id: 'checks',
    title: `How far ${scale.name} was off`,
    description: `Reading less check weight at ${drawn.length === 1 ? 'one check' : `${drawn.length} checks`}, oldest first. The table below has every check.`,
    yLabel: `Reading less check weight, ${scale.unit}`,
    zero: true,
    series: [{ name: 'Off by', mark: 'circle', points: points(({ errorUg }) => errorUg) }],
    ...(hasBand && {
      band: {
        label: 'Its tolerance',
        low: points(({ toleranceUg }) => (toleranceUg === null ? null : -toleranceUg)),
        high: points(({ toleranceUg }) => toleranceUg),
      },
    }),
    marks: drawn.flatMap(({ check }) =>
      check.is_adjusted === 1 ? [{ x: String(check.id), label: 'the scale was adjusted after this check' }] : [],
    ),
    labelOf: (x) => days.get(x) ?? '',
    formatY: (value) => signedFigure(show, new Decimal(value), decimals),
  });
}

function checkTable(show: Show, scale: Scale, { list, decimals, adjustableId }: ScaleChecks): SafeHtml {
  return html`<div class="scroll"><table class="stack">
<caption>Checks, newest first</caption>
<thead><tr><th scope="col">Day</th><th scope="col" class="figure">Check weight</th><th scope="col" class="figure">Reading</th>
  <th scope="col" class="figure">Off by</th><th scope="col">Tolerance</th><th scope="col">Note</th>
  <th scope="col"><span class="away">Take back</span></th></tr></thead>
<tbody>${list.rows.map((row) => checkLine(show, scale, row, { decimals, adjustableId }))}</tbody>
</table></div>`;
}

function checkLine(
  show: Show,
  scale: Scale,
  row: CheckRow,
  { decimals, adjustableId }: Pick<ScaleChecks, 'decimals' | 'adjustableId'>,
): SafeHtml {
  const { check, errorUg } = row;
  const isGone = check.is_undone === 1;
  const said = [check.is_adjusted === 1 ? 'adjusted afterwards' : '', check.note].filter((text) => text !== '');
  const reading = show.typedWeight(check.reading_typed, check.unit, check.reading_ug);
  return html`<tr class="${isGone ? 'undone' : ''}">
  <td class="day" data-label="Day">${show.day(check.checked_on)}</td>
  <td class="figure" data-label="Check weight">${known(show, row)}</td>
  <td class="figure" data-label="Reading">${reading}</td>
  <td class="figure" data-label="Off by">${signed(show, scale, errorUg, decimals)}</td>
  <td data-label="Tolerance">${toleranceCell(show, scale, row, decimals)}</td>
  <td data-label="Note" class="${said.length === 0 ? 'nothing' : ''}">${said.join(' · ')}</td>
  <td>${isGone ? html`<span class="said">taken back</span>` : undoForm(show, row)}${check.id === adjustableId && errorUg !== 0 ? adjustedForm(show, row) : null}</td>
</tr>`;
}

function toleranceCell(show: Show, scale: Scale, { errorUg, toleranceUg }: CheckRow, decimals: number): SafeHtml {
  if (toleranceUg === null) return html`not known`;
  const allowed = `± ${sized(show, scale, toleranceUg, decimals)}`;
  return isWithin(errorUg, toleranceUg) ? html`<span>within ${allowed}</span>` : html`<b>more than ${allowed}</b>`;
}

const undoForm = (show: Show, { check }: CheckRow) => html`<form method="post" action="/scale-checks/${check.id}/undo">
  ${hiddenField('requestKey', `undo-scale-check-${check.id}`)}
  <button class="quiet" aria-label="Take back the check of ${show.day(check.checked_on)}">Take back</button></form>`;

const adjustedForm = (
  show: Show,
  { check }: CheckRow,
) => html`<form method="post" action="/scale-checks/${check.id}/adjustment">
  ${hiddenField('requestKey', `adjusted-scale-check-${check.id}`)}
  <button class="quiet" aria-label="I adjusted it after the check of ${show.day(check.checked_on)}">I adjusted it</button></form>`;
