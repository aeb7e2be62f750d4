import { type SymbolType, symbol, symbolCircle, symbolDiamond, symbolSquare, symbolTriangle } from 'd3-shape';
import { html, type SafeHtml } from '../html.ts';

export type ChartMark = 'circle' | 'square' | 'triangle' | 'diamond';

const SYMBOLS: Record<ChartMark, SymbolType> = {
  circle: symbolCircle,
  square: symbolSquare,
  triangle: symbolTriangle,
  diamond: symbolDiamond,
};

/** Size of a mark that has room. */
export const MARK_AREA = 46;
const LEAST_MARK_AREA = 10;

/** Points that stand alone all have to be marked; where there are many, the marks are smaller. */
export const markArea = (count: number, width: number): number =>
  Math.round(Math.min(MARK_AREA, Math.max(LEAST_MARK_AREA, (width / Math.max(1, count)) ** 2 / 2)));

interface MarkStyle {
  mark: ChartMark;
  /** Every other line has hollow marks. */
  isHollow: boolean;
  area: number;
}

export function markPath({ mark, isHollow, area }: MarkStyle, hint: string | null = null): SafeHtml {
  const outline = symbol(SYMBOLS[mark], area).digits(1)() ?? '';
  const filling = isHollow ? 'chart-mark chart-paper' : 'chart-mark';
  return html`<path class="${filling}" d="${outline}">${hint === null ? null : html`<title>${hint}</title>`}</path>`;
}

/** A marked point: where it is, and what a mouse over it is told. */
export interface Marked {
  x: number;
  y: number;
  hint: string;
}

/** More marks than this stand too close to choose one, and their hints would be most of the page's weight. */
const MOST_WITH_HINTS = 24;

/**
 * The marks of one line. On a phone, where nothing hovers, and where there are many, the shape is written once and put
 * on every point; the table beside the chart has the figures.
 * @param id unique on the page
 */
export function drawMarks(points: readonly Marked[], style: MarkStyle, id: string, hasHints: boolean): SafeHtml {
  if (points.length === 0) return html``;
  if (hasHints && points.length <= MOST_WITH_HINTS) {
    return html`${points.map(({ x, y, hint }) => html`<g transform="translate(${x} ${y})">${markPath(style, hint)}</g>`)}`;
  }
  const way = `M${points.map(({ x, y }) => `${x},${y}`).join('L')}`;
  return html`<marker id="${id}" markerUnits="userSpaceOnUse" viewBox="-10 -10 20 20" markerWidth="20" markerHeight="20">${markPath(style)}</marker
><path class="chart-marks" d="${way}" marker-start="url(#${id})" marker-mid="url(#${id})" marker-end="${points.length > 1 ? `url(#${id})` : 'none'}"/>`;
}
