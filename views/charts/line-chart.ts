import { curveLinear, curveStepAfter, line } from 'd3-shape';
import { html, type SafeHtml } from '../html.ts';
import {
  type ChartSize,
  chartFigure,
  chartId,
  chartSizes,
  chartSvg,
  type Drawing,
  place,
  toFloat,
  toFloatOrNull,
} from './drawing.ts';
import { bandLegend, drawBand, type Span, toStretches } from './line-band.ts';
import { drawEventFigures, drawEventLines, eventHeadroom, eventList, type PlotEvent, toEvents } from './line-events.ts';
import { drawLimitLabels, drawLimitLines, type Limit, type Spot, spotsBetween } from './line-limits.ts';
import { type ChartMark, drawMarks, MARK_AREA, type Marked, markArea, markPath } from './line-marks.ts';
import { drawPeriods, drawTick, drawZero, layOut, type Plot } from './line-plot.ts';

export interface LineSeries {
  name: string;
  mark: ChartMark;
  /** Oldest first. */
  points: readonly LinePoint[];
}

export interface LinePoint {
  /** The period, unique within its series; also its label, unless the chart has `labelOf`. */
  x: string;
  /** The digits of a decimal; null leaves a gap, as a left-out period does. */
  y: string | null;
  /** Whether something was seen there. Points that only carry on what stood before have no mark; the newest has one. */
  isSeen?: boolean;
}

/** A shaded band between two lines over the periods of the series, for example what a tolerance allows. */
export interface LineBand {
  low: readonly LinePoint[];
  high: readonly LinePoint[];
  label: string;
}

export interface LineChart {
  /** Unique on the page; without it the title serves. */
  id?: string;
  title: string;
  /** For those who cannot see the chart: what it shows, in a sentence. The limits are added to it. */
  description: string;
  /** Written above the axis: what is measured, with its unit. */
  yLabel: string;
  /** Up to four can be told apart. */
  series: readonly LineSeries[];
  /** Steps, for a figure that stands until the next one; otherwise straight from point to point. The band as well. */
  isStepped?: boolean;
  formatY: (value: number) => string;
  /** Lines across the plot at a value (the digits of a decimal), each with its label. */
  limits?: readonly { value: string; label: string }[];
  /** What happened at a period of the series: a figure on top of a line through the plot, and a list of them beneath. */
  marks?: readonly { x: string; label: string }[];
  band?: LineBand;
  /** Whether zero is always on the axis, with a line of its own. */
  zero?: boolean;
  /** What people read for a period, where `x` is a key or too long for the axis. */
  labelOf?: (x: string) => string;
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
/** What is drawn, read from the options. */
interface Content {
  periods: readonly string[];
  lines: readonly Line[];
  limits: readonly Limit[];
  events: readonly PlotEvent[];
  band: readonly Span[][];
}

const DASHES = ['none', '7 4', '2 3', '10 3 2 3'] as const;

/** One line for each series over the same periods; a period without a figure is a gap, never a bridge and never zero. */
export function lineChart(options: LineChart): SafeHtml {
  const content = readContent(options);
  const values = valuesOf(content.lines);
  if (values.length === 0) {
    return chartFigure(options.title, [
      html`<p class="chart-note">There is nothing to draw yet: no period here has a figure.</p>`,
    ]);
  }
  const { limits, events, band, periods } = content;
  const labelOf = options.labelOf ?? ((period) => period);
  const reach = {
    values: options.zero === true ? [...values, 0] : values,
    bounds: [...limits.map(({ value }) => value), ...band.flat().flatMap(({ low, high }) => [low, high])],
  };
  const bandEntry = options.band === undefined || band.length === 0 ? null : bandLegend(options.band.label);
  return chartFigure(options.title, [
    html`<ul class="chart-legend">${content.lines.map(legendEntry)}${bandEntry}</ul>`,
    ...chartSizes.map((size) => {
      const ground = { periods, labelOf, reach, formatY: options.formatY, headroom: eventHeadroom(events, size) };
      return drawChart(options, size, content, layOut(size, ground));
    }),
    eventList(events, labelOf),
  ]);
}

function readContent({ series, limits = [], marks = [], band }: LineChart): Content {
  const periods = [...new Set(series.flatMap(({ points }) => points.map((point) => point.x)))];
  return {
    periods,
    lines: series.map((one, index) => toLine(one, index, periods)),
    limits: limits.map(({ value, label }) => ({ value: toFloat(value), label })),
    events: toEvents(marks, periods),
    band: band === undefined ? [] : toStretches(band, periods),
  };
}

function toLine(series: LineSeries, index: number, periods: readonly string[]): Line {
  const byPeriod = new Map(series.points.map((point) => [point.x, point]));
  return {
    name: series.name,
    mark: series.mark,
    style: index % DASHES.length,
    points: periods.map((period) => {
      const { y = null, isSeen = true } = byPeriod.get(period) ?? {};
      return { period, value: toFloatOrNull(y), isSeen };
    }),
  };
}

const valuesOf = (lines: readonly Line[]): number[] =>
  lines.flatMap((one) => one.points.flatMap((point) => (point.value === null ? [] : [point.value])));

/** From the back to the front: grid, band, limits, events, lines; and words over all of them. */
function drawChart(options: LineChart, size: ChartSize, content: Content, plot: Plot): SafeHtml {
  const { lines, limits, events, band } = content;
  const { title, isStepped = false } = options;
  const description = [options.description, ...limits.map((limit) => tellLimit(limit, options))].join(' ');
  const drawing = { id: chartId(options.id ?? title), size, height: plot.bottom + 28, title, description };
  return chartSvg(drawing, [
    html`<text class="chart-soft" x="0" y="14">${options.yLabel}</text>`,
    ...plot.ticks.map((tick) => drawTick(tick, plot)),
    ...drawBand(band, plot, isStepped),
    options.zero === true ? drawZero(plot) : null,
    ...drawPeriods(plot),
    ...drawLimitLines(limits, plot),
    ...drawEventLines(events, plot, size),
    ...lines.map((one) => drawLine(one, plot, options, drawing)),
    ...drawEventFigures(events, plot, size),
    ...drawLimitLabels(limits, plot, spotsOf(content, plot, isStepped)),
  ]);
}

const tellLimit = ({ value, label }: Limit, { formatY }: LineChart): string =>
  `A line at ${formatY(value)} is marked: ${label}.`;

/** What the lines and the events pass over, for the labels to keep off. */
function spotsOf({ lines, events }: Content, plot: Plot, isStepped: boolean): Spot[] {
  const onLines = lines.flatMap(({ points }) =>
    points.flatMap((point, index) => {
      const spot = spotOf(point, plot);
      const next = spotOf(points[index + 1], plot);
      if (spot === null || next === null) return spot === null ? [] : [spot];
      const corner: Spot = [next[0], spot[1]];
      return isStepped ? [...spotsBetween(spot, corner), ...spotsBetween(corner, next)] : spotsBetween(spot, next);
    }),
  );
  const onEvents = events.flatMap(({ period }) => {
    const x = plot.x(period) ?? 0;
    return spotsBetween([x, plot.top], [x, plot.bottom]);
  });
  return [...onLines, ...onEvents];
}

const spotOf = (point: Point | undefined, plot: Plot): Spot | null =>
  point === undefined || point.value === null ? null : [plot.x(point.period) ?? 0, plot.y(point.value)];

function drawLine(one: Line, plot: Plot, options: LineChart, { id, size }: Drawing): SafeHtml {
  const path = line<Point>()
    .defined((point) => point.value !== null)
    .x((point) => place(plot.x(point.period) ?? 0))
    .y((point) => place(plot.y(point.value ?? 0)))
    .curve(options.isStepped === true ? curveStepAfter : curveLinear);
  const marked = markedOn(one, plot, options);
  const [start, end] = plot.x.range();
  const style = { ...markStyle(one), area: markArea(marked.length, end - start) };
  const marks = drawMarks(marked, style, `${id}-${size.name}-mark-${one.style}`, size.name === 'wide');
  return html`<g class="series-${one.style + 1}"><path class="chart-line" stroke-dasharray="${DASHES[one.style]}"
 d="${path(one.points) ?? ''}"/>${marks}</g>`;
}

const markStyle = ({ mark, style }: Line) => ({ mark, isHollow: style % 2 === 1, area: MARK_AREA });

/** The points of a line that carry a mark, in their places. */
function markedOn(one: Line, plot: Plot, { formatY }: LineChart): Marked[] {
  const marked = markedPoints(one.points, Math.max(1, Math.ceil(16 / (plot.x.step() || 16))));
  return one.points.flatMap(({ period, value }, index) => {
    if (value === null || !marked.has(index)) return [];
    const hint = `${one.name}, ${plot.labelOf(period)}: ${formatY(value)}`;
    return [{ x: place(plot.x(period) ?? 0), y: place(plot.y(value)), hint }];
  });
}

/**
 * The points that carry a mark: where something was seen and, where those lie too close, only some of them. The ends of
 * a stretch always do, a point alone is one.
 */
function markedPoints(points: readonly Point[], every: number): Set<number> {
  const marked = new Set<number>();
  let free = 0;
  for (const [index, { isSeen, value }] of points.entries()) {
    if (value === null) continue;
    const isEnd = [points[index - 1], points[index + 1]].some((next) => (next?.value ?? null) === null);
    if (!isEnd && !(isSeen && index >= free)) continue;
    marked.add(index);
    free = index + every;
  }
  return marked;
}

function legendEntry(one: Line): SafeHtml {
  return html`<li class="series-${one.style + 1}"><svg class="chart-sample" viewBox="0 0 46 16" width="46" height="16"
 aria-hidden="true"><line class="chart-line" stroke-dasharray="${DASHES[one.style]}" x1="0" x2="46" y1="8" y2="8"
/><g transform="translate(23 8)">${markPath(markStyle(one))}</g></svg><span>${one.name}</span></li>`;
}
