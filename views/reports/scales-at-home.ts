import { errorOf } from '../../server/scales/compute.ts';
import type { Direction, HomeStretch, YardRatio } from '../../server/scales/whose.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg, sumMass } from '../../server/units/mass.ts';
import { intervalChart } from '../charts/interval-chart.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

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
export function stretchSection(show: Show, stretch: HomeStretch, index: number): SafeHtml {
  const id = `home-${index + 1}`;
  return html`<section aria-labelledby="${id}"><h3 id="${id}">${titleOf(show, stretch)}</h3>
<p><b>${findingText(show, stretch)}</b>${checkText(show, stretch)}</p>
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

const salesText = ({ sales }: YardRatio): string => (sales.length === 1 ? '1 sale' : `${sales.length} sales`);

function titleOf(show: Show, { scale, from, until }: HomeStretch): string {
  const name = scale?.name ?? 'Several scales, or none that was named';
  if (from === null && until === null) return name;
  if (from === null) return `${name}, before ${show.day(until ?? ('' as never))}`;
  if (until === null) return `${name}, since it was adjusted on ${show.day(from)}`;
  return `${name}, adjusted on ${show.day(from)}, until ${show.day(until)}`;
}

export const nameAtHome = ({ scale }: HomeStretch): string => (scale === null ? 'your scales' : `your ${scale.name}`);
const reads: Record<Direction, string> = { less: 'read too much', more: 'read too little' };

function findingText(show: Show, stretch: HomeStretch): string {
  const { finding } = stretch;
  const yours = nameAtHome(stretch);
  switch (finding.kind) {
    case 'home':
      return `Every yard showed ${finding.direction} than ${yours}, and by about as much: ${sizeOf(show, finding.ratio)}. Your own scale is the likelier cause; it may ${reads[finding.direction]}.${whatToDo(show, stretch)}`;
    case 'yard':
      return `${apart(show, finding, yours)} and stands apart: the others agree with you. That can be its scale, or how its loads travel. Ask for a second weighing there.`;
    case 'perhaps a yard':
      return `${apart(show, finding, yours)}. The others agree with you, but their ranges still overlap with it: not clear yet.`;
    case 'one yard':
      return `${apart(show, finding, yours)}. With one yard alone it cannot be told which of the two scales is off: check yours with a known weight.`;
    case 'unclear':
      return `The yards differ from ${yours}, and not all in the same way. Check yours with a known weight first; then the yards can be told apart.`;
    case 'nothing':
      return 'Nothing stands out: no yard differs by more than its sales vary.';
    case 'too few':
      return noRangeText(stretch);
  }
}

const apart = (show: Show, { yard, direction }: { yard: YardRatio; direction: Direction }, yours: string): string =>
  `${yard.scale.name} showed ${sizeOf(show, yard.estimate.ratio)} ${direction} than ${yours}`;

/** An adjustment was the answer already; else a check with a known weight is. */
const whatToDo = (show: Show, { until }: HomeStretch): string =>
  until === null ? ' Check it with a known weight.' : ` It was adjusted on ${show.day(until)}.`;

const noRangeText = ({ ratios }: HomeStretch): string =>
  ratios.some(({ estimate }) => estimate.noInterval === 'equal')
    ? 'The sales here are all alike, so they show no range in which the difference may lie.'
    : 'Too few sales to say anything: it takes three at one yard’s scale.';

/** What the newest check of that time found. */
function checkText(show: Show, { scale, checks }: HomeStretch): string {
  const last = checks.at(-1);
  if (scale === null) return '';
  if (last === undefined) return ' It was not checked with a known weight in this time.';
  const error = errorOf(last);
  const weight = show.weight(last.weightUg);
  const found =
    error === 0
      ? `right at ${weight}`
      : `${show.weight(massUg(Math.abs(error)))} too ${error > 0 ? 'high' : 'low'} at ${weight}`;
  return ` The check of ${show.day(last.checkedOn)} found it ${found}.`;
}

function ratioTable(show: Show, ratios: readonly YardRatio[]): SafeHtml {
  const unit = show.settings.unit;
  return html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Yard’s scale</th><th scope="col" class="figure">Sales</th><th scope="col" class="figure">Home, ${unit}</th>
  <th scope="col" class="figure">Yard, ${unit}</th><th scope="col" class="figure">Difference</th><th scope="col" class="figure">Likely between</th></tr></thead>
<tbody>${ratios.map(
    (yard) => html`<tr><th scope="row" data-label="Yard’s scale">${yard.scale.name}</th>
  <td class="figure" data-label="Sales">${yard.sales.length}</td>
  <td class="figure" data-label="Home, ${unit}">${show.weightFigure(sumMass(yard.sales.map(({ homeUg }) => homeUg)))}</td>
  <td class="figure" data-label="Yard, ${unit}">${show.weightFigure(sumMass(yard.sales.map(({ yardUg }) => yardUg)))}</td>
  <td class="figure" data-label="Difference"><b>${offBy(show, yard.estimate.ratio)}</b></td>
  <td class="figure" data-label="Likely between">${rangeText(show, yard)}</td></tr>`,
  )}</tbody>
</table></div>`;
}

function rangeText(show: Show, { estimate }: YardRatio): string {
  if (estimate.interval === null) return estimate.noInterval === 'few' ? 'too few sales' : 'sales alike';
  return `${signed(show, percentOf(estimate.interval.low))} to ${offBy(show, estimate.interval.high)}`;
}
