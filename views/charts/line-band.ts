import { area, curveLinear, curveStepAfter } from 'd3-shape';
import { html, type SafeHtml } from '../html.ts';
import { place, toFloatOrNull } from './drawing.ts';
import type { LineBand, LinePoint } from './line-chart.ts';
import type { Plot } from './line-plot.ts';

/** The band at one period. */
export interface Span {
  period: string;
  low: number;
  high: number;
}

/** Stretches of periods that have both a low and a high; between them the band has a gap. */
export function toStretches({ low, high }: LineBand, periods: readonly string[]): Span[][] {
  const lows = byPeriod(low);
  const highs = byPeriod(high);
  const stretches: Span[][] = [[]];
  for (const period of periods) {
    const span = { period, low: lows.get(period) ?? null, high: highs.get(period) ?? null };
    if (isWhole(span)) stretches.at(-1)?.push(span);
    else stretches.push([]);
  }
  return stretches.filter((stretch) => stretch.length > 0);
}

const byPeriod = (points: readonly LinePoint[]): Map<string, number | null> =>
  new Map(points.map((point) => [point.x, toFloatOrNull(point.y)]));

const isWhole = (span: { period: string; low: number | null; high: number | null }): span is Span =>
  span.low !== null && span.high !== null;

/** With an outline, so that it is seen without its shade. */
export function drawBand(stretches: readonly Span[][], plot: Plot, isStepped: boolean): SafeHtml[] {
  const shape = area<Span & { at: number }>()
    .x((span) => place(span.at))
    .y0((span) => place(plot.y(span.low)))
    .y1((span) => place(plot.y(span.high)))
    .curve(isStepped ? curveStepAfter : curveLinear);
  return stretches.map((stretch) => html`<path class="chart-band" d="${shape(widened(stretch, plot)) ?? ''}"/>`);
}

/** Each stretch goes a little beyond its ends: one of a single period would else have no width. */
function widened(stretch: readonly Span[], plot: Plot): (Span & { at: number })[] {
  const beyond = Math.min(plot.x.step() / 2, 10);
  const spans = stretch.map((span) => ({ ...span, at: plot.x(span.period) ?? 0 }));
  const before = spans.slice(0, 1).map((span) => ({ ...span, at: span.at - beyond }));
  const after = spans.slice(-1).map((span) => ({ ...span, at: span.at + beyond }));
  return [...before, ...spans, ...after];
}

export function bandLegend(label: string): SafeHtml {
  return html`<li><svg class="chart-sample" viewBox="0 0 46 16" width="46" height="16" aria-hidden="true"><rect
 class="chart-band" x="1" y="1" width="44" height="14"/></svg><span>${label}</span></li>`;
}
