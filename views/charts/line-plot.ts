import { type ScaleLinear, type ScalePoint, scaleLinear, scalePoint } from 'd3-scale';
import { html, type SafeHtml } from '../html.ts';
import { aroundOne, type ChartSize, distinctTicks, keepInside, place, type Tick, textWidth } from './drawing.ts';

/** The ground that a line chart is drawn on: where each period and each figure lies. */
export interface Plot {
  width: number;
  /** Left end of what lies across the plot. */
  start: number;
  top: number;
  bottom: number;
  periods: readonly string[];
  labelOf: (period: string) => string;
  x: ScalePoint<string>;
  y: ScaleLinear<number, number>;
  ticks: readonly Tick[];
}

/** What the axis has to reach. */
export interface Reach {
  /** Figures of the lines, and zero where it has to be on the axis. */
  values: readonly number[];
  /** Limits and bands: the axis goes a little beyond them, so that they do not lie on the edge of the plot. */
  bounds: readonly number[];
}

export interface Ground {
  periods: readonly string[];
  labelOf: (period: string) => string;
  reach: Reach;
  formatY: (value: number) => string;
  /** Room above the plot for what is marked there. */
  headroom: number;
}

const TOP = 36;
const PLOT_HEIGHT = 190;
const MOST_PERIOD_LABELS = 8;

export function layOut(size: ChartSize, { periods, labelOf, reach, formatY, headroom }: Ground): Plot {
  const { scale: y, ticks } = distinctTicks(5, (count) => scaleLinear(valueRange(reach), [0, 1]).nice(count), formatY);
  const top = TOP + headroom;
  const bottom = top + PLOT_HEIGHT;
  const start = Math.max(0, ...ticks.map((tick) => textWidth(tick.label))) + 10;
  // A long label of the newest period may lie beside its tick instead of taking the room from the plot.
  const halfLabel = Math.min(longestLabel({ periods, labelOf }) / 2, size.width / 8);
  const x = scalePoint(periods, [start + 8, size.width - Math.max(12, halfLabel)]).padding(0.2);
  return { width: size.width, start, top, bottom, periods, labelOf, x, y: y.range([bottom, top]), ticks };
}

const longestLabel = ({ periods, labelOf }: Pick<Plot, 'periods' | 'labelOf'>): number =>
  Math.max(...periods.map((period) => textWidth(labelOf(period))));

/** The axis need not begin at zero, as positions are compared and not lengths, but does when zero is not far. */
function valueRange({ values, bounds }: Reach): [number, number] {
  const low = Math.min(...values, ...bounds);
  const high = Math.max(...values, ...bounds);
  if (low === high) return aroundOne(low);
  const room = (high - low) * 0.08;
  const from = bounds.includes(low) ? (low >= 0 ? Math.max(0, low - room) : low - room) : low;
  const to = bounds.includes(high) ? (high <= 0 ? Math.min(0, high + room) : high + room) : high;
  return [from > 0 && from < to * 0.4 ? 0 : from, to];
}

export function drawTick(tick: Tick, plot: Plot): SafeHtml {
  const y = place(plot.y(tick.value));
  return html`<line class="chart-rule" x1="${place(plot.start)}" x2="${plot.width}" y1="${y}" y2="${y}"/>
<text class="chart-soft" x="${place(plot.start - 8)}" y="${place(y + 5)}" text-anchor="end">${tick.label}</text>`;
}

export function drawZero(plot: Plot): SafeHtml {
  const y = place(plot.y(0));
  return html`<line class="chart-zero" x1="${place(plot.start)}" x2="${plot.width}" y1="${y}" y2="${y}"/>`;
}

/** Counted back from the newest period, which therefore always has its label. */
export function drawPeriods(plot: Plot): SafeHtml[] {
  const { periods, labelOf, x, width, bottom } = plot;
  const every = labelEvery(plot);
  const labelled = periods.filter((_, index) => (periods.length - 1 - index) % every === 0);
  let free = Number.POSITIVE_INFINITY;
  const labels = labelled.toReversed().flatMap((period) => {
    const label = labelOf(period);
    // A period without a name only parts two stretches.
    if (label === '') return [];
    const tick = place(x(period) ?? 0);
    const middle = keepInside(tick, label, width);
    // At the edges a label moves inwards, and may then come to lie on its neighbour.
    if (middle + textWidth(label) / 2 > free) return [];
    free = middle - textWidth(label) / 2 - 6;
    return [
      html`<line class="chart-tick" x1="${tick}" x2="${tick}" y1="${bottom}" y2="${bottom + 5}"/>
<text class="chart-soft" x="${place(middle)}" y="${bottom + 22}" text-anchor="middle">${label}</text>`,
    ];
  });
  return labels.toReversed();
}

/** As many labels as have room, but evenly, so that the first of them is near the oldest period. */
function labelEvery(plot: Plot): number {
  const steps = plot.periods.length - 1;
  const least = Math.max(
    Math.ceil((longestLabel(plot) + 12) / (plot.x.step() || 1)),
    Math.ceil(steps / (MOST_PERIOD_LABELS - 1)),
    1,
  );
  return Math.max(1, Math.floor(steps / Math.max(1, Math.floor(steps / least))));
}
