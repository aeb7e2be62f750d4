import { html, type SafeHtml } from '@remix-run/html-template';
import { type ScaleLinear, type ScalePoint, scaleLinear, scalePoint } from 'd3-scale';
import {
  curveLinear,
  curveStepAfter,
  line,
  type SymbolType,
  symbol,
  symbolCircle,
  symbolDiamond,
  symbolSquare,
  symbolTriangle,
} from 'd3-shape';
import { Decimal } from '../../server/units/decimal.ts';

export type ChartMark = 'circle' | 'square' | 'triangle' | 'diamond';

export interface LineSeries {
  name: string;
  mark: ChartMark;
  /** Oldest first. */
  points: readonly LinePoint[];
}

export interface LinePoint {
  /** The period's label. */
  x: string;
  /** The digits of a decimal; null leaves a gap, as a left-out period does. */
  y: string | null;
  /** Whether something was seen there. Points that only carry on what stood before have no mark; the newest has one. */
  isSeen?: boolean;
}

export interface LineChart {
  /** Unique on the page; without it the title serves. */
  id?: string;
  title: string;
  /** For those who cannot see the chart: what it shows, in a sentence. */
  description: string;
  /** Written above the axis: what is measured, with its unit. */
  yLabel: string;
  /** Up to four can be told apart. */
  series: readonly LineSeries[];
  /** Steps, for a figure that stands until the next one; otherwise straight from point to point. */
  isStepped?: boolean;
  formatY: (value: number) => string;
}

/**
 * A chart is drawn twice, and the stylesheet shows the one that fits the room: text in an SVG shrinks with it, so one
 * drawing cannot be legible on a phone and still look right on a wide page or on paper.
 */
export interface ChartSize {
  name: 'narrow' | 'wide';
  width: number;
}
export const chartSizes: readonly ChartSize[] = [
  { name: 'narrow', width: 360 },
  { name: 'wide', width: 720 },
];

/** Font size in the drawing's own units; the stylesheet sets the same. */
export const TEXT_SIZE = 14;
/** Room a text takes, a little generously: the font is the reader's own and cannot be measured here. */
export const textWidth = (text: string, fontSize = TEXT_SIZE): number => text.length * fontSize * 0.58;
/** Coordinates to a tenth: what is finer cannot be seen and only makes the page longer. */
export const place = (coordinate: number): number => Math.round(coordinate * 10) / 10;
/** A text as the id of an element. */
export const chartId = (text: string): string => `chart-${text.toLowerCase().replace(/[^a-z0-9]+/g, '-')}`;

export function chartFigure(title: string, content: (SafeHtml | null)[]): SafeHtml {
  return html`<figure class="chart"><figcaption>${title}</figcaption>${content}</figure>`;
}

export interface Drawing {
  id: string;
  size: ChartSize;
  height: number;
  title: string;
  description: string;
}

export function chartSvg(drawing: Drawing, body: SafeHtml[]): SafeHtml {
  const { size, title, description } = drawing;
  const id = `${drawing.id}-${size.name}`;
  return html`<svg class="chart-${size.name}" viewBox="0 0 ${size.width} ${place(drawing.height)}" role="img"
 aria-labelledby="${id}-title ${id}-desc"><title id="${id}-title">${title}</title><desc id="${id}-desc">${description}</desc
>${body}</svg>`;
}

interface Point {
  period: string;
  value: number | null;
  isSeen: boolean;
}
interface Line {
  name: string;
  mark: ChartMark;
  /** 0 to 3: which colour class and dash. */
  style: number;
  points: Point[];
}
interface Plot {
  width: number;
  top: number;
  bottom: number;
  periods: readonly string[];
  x: ScalePoint<string>;
  y: ScaleLinear<number, number>;
  ticks: { value: number; label: string }[];
}

const DASHES = ['none', '7 4', '2 3', '10 3 2 3'] as const;
const SYMBOLS: Record<ChartMark, SymbolType> = {
  circle: symbolCircle,
  square: symbolSquare,
  triangle: symbolTriangle,
  diamond: symbolDiamond,
};
const MARK_AREA = 46;
const PLOT_HEIGHT = 190;
const MOST_PERIOD_LABELS = 8;

/** One line for each series over the same periods; a period without a figure is a gap, never a bridge and never zero. */
export function lineChart(options: LineChart): SafeHtml {
  const periods = [...new Set(options.series.flatMap((series) => series.points.map((point) => point.x)))];
  const lines = options.series.map((series, index) => toLine(series, index, periods));
  const values = lines.flatMap((one) => one.points.flatMap((point) => (point.value === null ? [] : [point.value])));
  if (values.length === 0) {
    return chartFigure(options.title, [
      html`<p class="chart-note">There is nothing to draw yet: no period here has a figure.</p>`,
    ]);
  }
  return chartFigure(options.title, [
    html`<ul class="chart-legend">${lines.map(legendEntry)}</ul>`,
    ...chartSizes.map((size) => drawLines(options, size, lines, layOut(size, periods, values, options.formatY))),
  ]);
}

function toLine(series: LineSeries, index: number, periods: readonly string[]): Line {
  const byPeriod = new Map(series.points.map((point) => [point.x, point]));
  return {
    name: series.name,
    mark: series.mark,
    style: index % DASHES.length,
    points: periods.map((period) => {
      const { y: digits = null, isSeen = true } = byPeriod.get(period) ?? {};
      // A float is good enough for a place on the paper; nothing is computed from it.
      return { period, value: digits === null ? null : new Decimal(digits).toNumber(), isSeen };
    }),
  };
}

/** The axis need not begin at zero, as positions are compared and not lengths, but does when zero is not far. */
function valueRange(values: readonly number[]): [number, number] {
  const low = Math.min(...values);
  const high = Math.max(...values);
  if (low === high) return [low - (Math.abs(low) * 0.1 || 1), high + (Math.abs(high) * 0.1 || 1)];
  return [low > 0 && low < high * 0.4 ? 0 : low, high];
}

/** Fewer ticks until no two read the same: prices that lie close together all print as "3.42" otherwise. */
function chooseTicks(values: readonly number[], formatY: LineChart['formatY']): Pick<Plot, 'y' | 'ticks'> {
  for (const count of [5, 4, 3, 2, 1]) {
    const y = scaleLinear(valueRange(values), [0, 1]).nice(count);
    const ticks = y.ticks(count).map((value) => ({ value, label: formatY(value) }));
    if (new Set(ticks.map((tick) => tick.label)).size === ticks.length) return { y, ticks };
  }
  return { y: scaleLinear(valueRange(values), [0, 1]), ticks: [] };
}

function layOut(
  size: ChartSize,
  periods: readonly string[],
  values: readonly number[],
  formatY: LineChart['formatY'],
): Plot {
  const { y, ticks } = chooseTicks(values, formatY);
  const top = 36;
  const bottom = top + PLOT_HEIGHT;
  const left = Math.max(0, ...ticks.map((tick) => textWidth(tick.label))) + 10;
  const halfLabel = Math.max(...periods.map((period) => textWidth(period))) / 2;
  const x = scalePoint(periods, [left + 8, size.width - Math.max(12, halfLabel)]).padding(0.2);
  return { width: size.width, top, bottom, periods, x, y: y.range([bottom, top]), ticks };
}

function drawLines(options: LineChart, size: ChartSize, lines: readonly Line[], plot: Plot): SafeHtml {
  const { title, description } = options;
  const drawing = { id: chartId(options.id ?? title), size, height: plot.bottom + 28, title, description };
  return chartSvg(drawing, [
    html`<text class="chart-soft" x="0" y="14">${options.yLabel}</text>`,
    ...plot.ticks.map((tick) => drawTick(tick, plot)),
    ...drawPeriods(plot),
    ...lines.map((one) => drawLine(one, plot, options)),
  ]);
}

function drawTick(tick: Plot['ticks'][number], plot: Plot): SafeHtml {
  const y = place(plot.y(tick.value));
  const start = place(plot.x.range()[0] - 8);
  return html`<line class="chart-rule" x1="${start}" x2="${plot.width}" y1="${y}" y2="${y}"/>
<text class="chart-soft" x="${place(start - 8)}" y="${place(y + 5)}" text-anchor="end">${tick.label}</text>`;
}

/** Counted back from the newest period, which therefore always has its label. */
function drawPeriods({ periods, x, width, bottom }: Plot): SafeHtml[] {
  const room = Math.max(...periods.map((period) => textWidth(period))) + 12;
  const [start, end] = x.range();
  const most = Math.max(1, Math.min(MOST_PERIOD_LABELS, Math.floor((end - start) / room)));
  const every = Math.ceil(periods.length / most);
  return periods.flatMap((period, index) => {
    if ((periods.length - 1 - index) % every !== 0) return [];
    const tick = place(x(period) ?? 0);
    const half = textWidth(period) / 2;
    const middle = place(Math.min(Math.max(tick, half), width - half));
    return [
      html`<line class="chart-tick" x1="${tick}" x2="${tick}" y1="${bottom}" y2="${bottom + 5}"/>
<text class="chart-soft" x="${middle}" y="${bottom + 22}" text-anchor="middle">${period}</text>`,
    ];
  });
}

function drawLine(one: Line, plot: Plot, { formatY, isStepped = false }: LineChart): SafeHtml {
  const path = line<Point>()
    .defined((point) => point.value !== null)
    .x((point) => place(plot.x(point.period) ?? 0))
    .y((point) => place(plot.y(point.value ?? 0)))
    .curve(isStepped ? curveStepAfter : curveLinear);
  const marked = markedPoints(one.points, Math.max(1, Math.ceil(16 / (plot.x.step() || 16))));
  const marks = one.points.flatMap(({ period, value }, index) => {
    if (value === null || !marked.has(index)) return [];
    const at = `translate(${place(plot.x(period) ?? 0)} ${place(plot.y(value))})`;
    return [html`<g transform="${at}">${markPath(one, `${one.name}, ${period}: ${formatY(value)}`)}</g>`];
  });
  return html`<g class="series-${one.style + 1}"><path class="chart-line" stroke-dasharray="${DASHES[one.style]}"
 d="${path(one.points) ?? ''}"/>${marks}</g>`;
}

/**
 * The points that carry a mark: where something was seen and, where those lie too close, only some of them. The ends of
 * a stretch always do, a point alone is one.
 */
function markedPoints(points: readonly Point[], every: number): Set<number> {
  const marked = new Set<number>();
  let free = 0;
  for (const [index, { isSeen }] of points.entries()) {
    const isEnd = [points[index - 1], points[index + 1]].some((next) => (next?.value ?? null) === null);
    if (!isEnd && !(isSeen && index >= free)) continue;
    marked.add(index);
    free = index + every;
  }
  return marked;
}

function markPath(one: Line, hint: string | null): SafeHtml {
  const outline = symbol(SYMBOLS[one.mark], MARK_AREA)() ?? '';
  const filling = one.style % 2 === 0 ? 'chart-mark' : 'chart-mark chart-paper';
  return html`<path class="${filling}" d="${outline}">${hint === null ? null : html`<title>${hint}</title>`}</path>`;
}

function legendEntry(one: Line): SafeHtml {
  return html`<li class="series-${one.style + 1}"><svg class="chart-sample" viewBox="0 0 46 16" width="46" height="16"
 aria-hidden="true"><line class="chart-line" stroke-dasharray="${DASHES[one.style]}" x1="0" x2="46" y1="8" y2="8"
/><g transform="translate(23 8)">${markPath(one, null)}</g></svg><span>${one.name}</span></li>`;
}
