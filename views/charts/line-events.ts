import { html, type SafeHtml } from '../html.ts';
import { type ChartSize, place } from './drawing.ts';
import type { Plot } from './line-plot.ts';

/** What happened at a period: a line through the plot with a figure on top, and the words in a list beneath. */
export interface PlotEvent {
  period: string;
  labels: string[];
}

const RADIUS = 9.5;
/** From one figure to the next, so that they do not touch. */
const APART = 22;

/** In the order of the periods; what happened at one period is one event. What names no period of the chart is left out. */
export function toEvents(marks: readonly { x: string; label: string }[], periods: readonly string[]): PlotEvent[] {
  const labels = Map.groupBy(marks, (mark) => mark.x);
  return periods.flatMap((period) => {
    const here = labels.get(period);
    return here === undefined ? [] : [{ period, labels: here.map((mark) => mark.label) }];
  });
}

/** Figures stand in one row, and in more only where they could not lie side by side. */
const rowsFor = (events: readonly PlotEvent[], size: ChartSize): number =>
  Math.ceil((events.length * APART) / (size.width * 0.7));

export const eventHeadroom = (events: readonly PlotEvent[], size: ChartSize): number => rowsFor(events, size) * APART;

export function drawEventLines(events: readonly PlotEvent[], plot: Plot, size: ChartSize): SafeHtml[] {
  return placed(events, plot, size).map(({ x, figureX, figureY }) => {
    const bend = `M${place(figureX)} ${place(figureY)}L${place(x)} ${plot.top}V${plot.bottom}`;
    return html`<path class="chart-event" d="${bend}"/>`;
  });
}

export function drawEventFigures(events: readonly PlotEvent[], plot: Plot, size: ChartSize): SafeHtml[] {
  return placed(events, plot, size).map(
    ({ figureX, figureY }, index) =>
      html`<circle class="chart-event chart-paper" cx="${place(figureX)}" cy="${place(figureY)}" r="${RADIUS}"/><text
 class="chart-event-figure" x="${place(figureX)}" y="${place(figureY + 4.5)}" text-anchor="middle">${index + 1}</text>`,
  );
}

/** The figures above their lines, moved aside where the lines are closer together than the figures are wide. */
function placed(
  events: readonly PlotEvent[],
  plot: Plot,
  size: ChartSize,
): { x: number; figureX: number; figureY: number }[] {
  const rows = rowsFor(events, size);
  const lines = events.map(({ period }) => plot.x(period) ?? 0);
  const inRows = Array.from({ length: rows }, (_, row) =>
    spread(
      lines.filter((_, index) => index % rows === row),
      plot.start + RADIUS,
      plot.width - RADIUS - 1,
    ),
  );
  return lines.map((x, index) => ({
    x,
    figureX: inRows[index % rows]?.[Math.floor(index / rows)] ?? x,
    figureY: plot.top - APART * (rows - (index % rows)) + 7,
  }));
}

/** Moves ascending places apart, to both sides alike, and keeps them between two ends. */
function spread(places: readonly number[], from: number, to: number): number[] {
  const right = pushed(places, Number.NEGATIVE_INFINITY);
  const left = pulled(places, Number.POSITIVE_INFINITY);
  const between = right.map((at, index) => (at + (left[index] ?? at)) / 2);
  return pushed(pulled(between, to), from);
}

/** Each at least so far to the right of the one before. */
function pushed(places: readonly number[], from: number): number[] {
  let free = from;
  return places.map((at) => {
    const moved = Math.max(at, free);
    free = moved + APART;
    return moved;
  });
}

const pulled = (places: readonly number[], to: number): number[] =>
  pushed(
    places.toReversed().map((at) => -at),
    -to,
  )
    .map((at) => -at)
    .toReversed();

/** What the figures stand for, with the period, as not every period has its label at the axis. */
export function eventList(events: readonly PlotEvent[], labelOf: (period: string) => string): SafeHtml | null {
  if (events.length === 0) return null;
  return html`<ol class="chart-events">${events.map(
    ({ period, labels }) => html`<li>${labelOf(period)}: ${labels.join('; ')}</li>`,
  )}</ol>`;
}
