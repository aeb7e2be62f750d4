import { errorOf, failedCheck } from '../../server/scales/compute.ts';
import type { Direction, HomeStretch, OpenShift, Shift, WhoseScale, YardRatio } from '../../server/scales/whose.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { sumMass } from '../../server/units/mass.ts';
import { intervalChart } from '../charts/interval-chart.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { foundText } from '../scales/words.ts';

/** A ratio as a signed difference in percent: 0.99 is "−1.0 %". */
export const offBy = (show: Show, ratio: number): string => `${signed(show, percentOf(ratio))} %`;

const percentOf = (ratio: number): Decimal => new Decimal(ratio).minus(1).times(100);
const signed = (show: Show, percent: Decimal): string => {
  const figure = show.figure(percent, 1);
  return percent.isPositive() && !/^[0.,]*$/.test(figure) ? `+${figure}` : figure;
};
/** The same without its sign: "1.0 %". */
export const sizeOf = (show: Show, ratio: number): string => `${show.figure(percentOf(ratio).abs(), 1)} %`;

/** One scale at home in a time in which it was not adjusted: what is likely, the picture, the figures. */
export function stretchSection(show: Show, stretch: HomeStretch, index: number, open: readonly OpenShift[]): SafeHtml {
  const id = `home-${index + 1}`;
  return html`<section aria-labelledby="${id}"><h3 id="${id}">${titleOf(show, stretch)}</h3>
<p><b>${findingText(show, stretch, open)}</b>${checkText(show, stretch)}</p>
${intervalChart({
  id,
  title: `The yards’ weights against ${nameAtHome(stretch)}`,
  description:
    'For each scale of a yard, by how many percent it showed more or less than yours. The table below has every figure.',
  xLabel: 'percent more or less than your scale',
  rows: stretch.ratios.map((yard) => ({
    label: yard.scale.name,
    note: salesText(yard),
    point: percentOf(yard.estimate.ratio).toFixed(),
    low: yard.estimate.interval === null ? null : percentOf(yard.estimate.interval.low).toFixed(),
    high: yard.estimate.interval === null ? null : percentOf(yard.estimate.interval.high).toFixed(),
    text: offBy(show, yard.estimate.ratio),
  })),
  reference: { value: '0', label: 'the same' },
  formatX: (value) => `${signed(show, new Decimal(value))} %`,
})}
${ratioTable(show, stretch.ratios)}
</section>`;
}

const salesText = ({ sales }: YardRatio): string => (sales.length === 1 ? '1 load' : `${sales.length} loads`);

function titleOf(show: Show, { scale, from, until }: HomeStretch): string {
  const name = scale?.name ?? 'Several scales, or none that was named';
  if (from === null && until === null) return name;
  if (from === null) return `${name}, before ${show.day(until ?? ('' as never))}`;
  if (until === null) return `${name}, since it was adjusted on ${show.day(from)}`;
  return `${name}, adjusted on ${show.day(from)}, until ${show.day(until)}`;
}

export const nameAtHome = ({ scale }: HomeStretch): string => (scale === null ? 'your scales' : `your ${scale.name}`);
const reads: Record<Direction, string> = { less: 'read too much', more: 'read too little' };

/** Since when a difference lasts; where it was there from the first sale on, it may be older. */
export const sinceText = (show: Show, { began, isFromStart }: Shift): string =>
  isFromStart ? `since the first of these sales, ${show.day(began.soldOn)}` : `since about ${show.day(began.soldOn)}`;

function findingText(show: Show, stretch: HomeStretch, open: readonly OpenShift[]): string {
  const { finding, foundOff } = stretch;
  const yours = nameAtHome(stretch);
  if (finding.kind === 'home') {
    return `Every yard showed ${finding.direction} than ${yours}, and by about as much: ${sizeOf(show, finding.ratio)}. Your own scale is the likelier cause; it may ${reads[finding.direction]}.${whatToDo(show, stretch)}`;
  }
  if (finding.kind === 'nothing') return 'Nothing stands out: what each yard shows scatters around yours.';
  if (finding.kind === 'too few') return noRangeText(stretch);
  if (foundOff !== null) {
    const settled = stretch.until === null ? 'Settle that first, then the yards can be told apart.' : '';
    return `The yards differ from ${yours}, and your own check answers it: on ${show.day(foundOff.checkedOn)} it was ${foundText(show, foundOff)}. ${settled}`;
  }
  if (finding.kind === 'unclear') {
    return `The yards differ from ${yours}, and not all in the same way. Check yours with a known weight first; then the yards can be told apart.`;
  }
  return yardText(show, stretch, finding, open);
}

type YardFinding = Extract<WhoseScale, { yard: YardRatio }>;

/** One yard is off. Where it is known since when, the whole of this time says less than that does. */
function yardText(show: Show, stretch: HomeStretch, finding: YardFinding, open: readonly OpenShift[]): string {
  const { yard, direction, kind } = finding;
  const showed = `${yard.scale.name} showed ${sizeOf(show, yard.estimate.ratio)} ${direction} than ${nameAtHome(stretch)}`;
  const others = stretch.ratios.filter((other) => other !== yard && other.estimate.interval !== null);
  const agreeing = others.length === 1 ? `${others[0]?.scale.name} agrees` : 'the others agree';
  const shift = open.find(({ scale }) => scale.key === yard.scale.key)?.shift;
  if (shift !== undefined && shift.direction === direction && stretch.until === null) {
    return `${showed} over all of this time; ${sinceText(show, shift)} it has been ${sizeOf(show, shift.ratio)}, as “sale after sale” below shows.`;
  }
  if (kind === 'yard') {
    return `${showed} and stands apart: ${agreeing} with you. That can be its scale, or how its loads travel. Ask for a second weighing there.`;
  }
  if (kind === 'perhaps a yard') {
    return `${showed}, and ${agreeing} with you, but not so clearly that it stands apart. More sales will tell.`;
  }
  return `${showed}. With one yard alone it cannot be told which of the two scales is off: check yours with a known weight.`;
}

/** An adjustment was the answer already; else a check with a known weight is. */
function whatToDo(show: Show, { until, foundOff }: HomeStretch): string {
  const found =
    foundOff === null ? '' : ` Your check of ${show.day(foundOff.checkedOn)} found it ${foundText(show, foundOff)}.`;
  if (until !== null) return `${found} It was adjusted on ${show.day(until)}.`;
  return foundOff === null ? ' Check it with a known weight.' : `${found} Adjust it, or have it looked at.`;
}

const noRangeText = ({ ratios }: HomeStretch): string =>
  ratios.some(({ estimate }) => estimate.noInterval === 'equal')
    ? 'The sales here are all alike, so they show no range in which the difference may lie.'
    : 'Too few loads to say anything: it takes three over one yard’s scale.';

/** What the newest check of that time found, unless the finding has said so. */
function checkText(show: Show, { scale, lastCheck, foundOff, finding }: HomeStretch): string {
  if (scale === null) return '';
  if (lastCheck === null) return NOT_CHECKED;
  const isSaid = finding.kind !== 'nothing' && finding.kind !== 'too few' && lastCheck === foundOff;
  if (isSaid) return '';
  const isFailed = failedCheck(scale.traits, [lastCheck]) !== null;
  const within = errorOf(lastCheck) === 0 ? '' : isFailed ? ', more than its tolerance' : ', within its tolerance';
  return ` The check of ${show.day(lastCheck.checkedOn)} found it ${foundText(show, lastCheck)}${within}.`;
}

const NOT_CHECKED = ' It was not checked with a known weight in this time.';

function ratioTable(show: Show, ratios: readonly YardRatio[]): SafeHtml {
  const unit = show.settings.unit;
  return html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Yard’s scale</th><th scope="col" class="figure">Loads</th><th scope="col" class="figure">Home, ${unit}</th>
  <th scope="col" class="figure">Yard, ${unit}</th><th scope="col" class="figure">Difference</th><th scope="col" class="figure">Likely between</th></tr></thead>
<tbody>${ratios.map(
    (yard) => html`<tr><th scope="row" data-label="Yard’s scale">${yard.scale.name}</th>
  <td class="figure" data-label="Loads">${yard.sales.length}</td>
  <td class="figure" data-label="Home, ${unit}">${show.weightFigure(sumMass(yard.sales.map(({ homeUg }) => homeUg)))}</td>
  <td class="figure" data-label="Yard, ${unit}">${show.weightFigure(sumMass(yard.sales.map(({ yardUg }) => yardUg)))}</td>
  <td class="figure" data-label="Difference"><b>${offBy(show, yard.estimate.ratio)}</b></td>
  <td class="figure" data-label="Likely between">${rangeText(show, yard)}</td></tr>`,
  )}</tbody>
</table></div>`;
}

function rangeText(show: Show, { estimate }: YardRatio): string {
  if (estimate.interval === null) return estimate.noInterval === 'few' ? 'too few loads' : 'sales alike';
  return `${signed(show, percentOf(estimate.interval.low))} to ${offBy(show, estimate.interval.high)}`;
}
