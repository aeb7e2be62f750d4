import { type ScaleLinear, scaleLinear } from 'd3-scale';
import {
  type ChartSize,
  distinctTicks,
  keepInside,
  LINE_HEIGHT,
  NOTE_SIZE,
  TEXT_SIZE,
  type Tick,
  textWidth,
  wrap,
} from './drawing.ts';
import type { Figure } from './interval-range.ts';

export interface Row extends Figure {
  label: string;
  note: string;
  text: string;
}
export interface Reference {
  value: number;
  label: string;
}
interface PlacedText {
  text: string;
  baseline: number;
  className: string;
}
export interface PlacedRow extends Row {
  /** Where the point and its interval lie. */
  middle: number;
  /** Label and note, from the left edge. */
  left: PlacedText[];
  /** The figure in words, to the right edge. */
  right: PlacedText[];
  bottom: number;
}
export interface Plot {
  size: ChartSize;
  start: number;
  end: number;
  top: number;
  bottom: number;
  /** Whether the axis is written above the rows as well. */
  isAxisTwice: boolean;
  rows: PlacedRow[];
  x: ScaleLinear<number, number>;
  ticks: Tick[];
}

/** Room at the ends of the axis: for half a label on a narrow page, where the edge of the plot is that of the drawing. */
const INSET = { narrow: 22, wide: 10 };
const ROW_HEIGHT = 32;
const WHISKER_ROOM = 32;
const TEXT_GAP = 16;
/** From so many rows on, the axis is written above them as well. */
const MANY_ROWS = 9;
const MOST_LABEL_WIDTH = 200;
const MOST_TEXT_WIDTH = 210;

export interface Ground {
  size: ChartSize;
  /** All rows of the chart: its parts have the same columns. */
  all: readonly Row[];
  range: readonly [number, number];
  reference: Reference | null;
  formatX: (value: number) => string;
}

/** A wide page has the labels, the plot and the texts side by side; a narrow one has the words above each interval. */
export function layOut(rows: readonly Row[], { size, all, range, reference, formatX }: Ground): Plot {
  const isWide = size.name === 'wide';
  const labelWidth = columnWidth(all, ({ label, note }) => labelRoom(label, note), MOST_LABEL_WIDTH);
  const figureWidth = columnWidth(all, ({ text }) => textWidth(text), MOST_TEXT_WIDTH);
  const start = isWide ? labelWidth + TEXT_GAP : 0;
  const end = isWide ? size.width - figureWidth - TEXT_GAP : size.width;
  const scale = scaleLinear(range, [start + INSET[size.name], end - INSET[size.name]]);
  const { scale: x, ticks } = distinctTicks(
    isWide ? 5 : 4,
    () => scale,
    formatX,
    (some) => areApart(some, scale, size.width),
  );
  const isAxisTwice = rows.length >= MANY_ROWS;
  const top = 22 + (reference === null ? 0 : 24) + (isAxisTwice ? 22 : 0);
  let bottom = top;
  const placed = rows.map((row) => {
    const one = isWide ? besidePlot(row, bottom, { labelWidth, figureWidth }) : abovePlot(row, bottom, size.width);
    bottom = one.bottom;
    return one;
  });
  return { size, start, end, top, bottom, isAxisTwice, rows: placed, x, ticks };
}

function areApart(ticks: readonly Tick[], scale: ScaleLinear<number, number>, width: number): boolean {
  const middles = ticks.map(({ value, label }) => keepInside(scale(value), label, width));
  return ticks.every(({ label }, index) => {
    const before = ticks[index - 1];
    if (before === undefined) return true;
    const room = (textWidth(label) + textWidth(before.label)) / 2 + 8;
    return (middles[index] ?? 0) - (middles[index - 1] ?? 0) >= room;
  });
}

const labelRoom = (label: string, note: string): number => Math.max(textWidth(label), textWidth(note, NOTE_SIZE));

const columnWidth = (rows: readonly Row[], widthOf: (row: Row) => number, most: number): number =>
  Math.min(most, Math.max(...rows.map(widthOf)));

function besidePlot(row: Row, top: number, widths: { labelWidth: number; figureWidth: number }): PlacedRow {
  const middle = top + ROW_HEIGHT / 2;
  const left = labelLines(row, widths.labelWidth, middle + 5);
  const figure = wrap(row.text, widths.figureWidth, TEXT_SIZE);
  const right = stack(figure, '', middle + 5);
  const lines = Math.max(left.length, right.length, 1);
  return { ...row, middle, left, right, bottom: top + ROW_HEIGHT + (lines - 1) * LINE_HEIGHT };
}

/** The figure in words stands at the end of the first line that has room for it, else below the label. */
function abovePlot(row: Row, top: number, width: number): PlacedRow {
  const first = top + 18;
  const left = labelLines(row, width, first);
  const beside = left.findIndex(({ text }) => textWidth(text.trim()) + TEXT_GAP + textWidth(row.text) <= width);
  const line = beside < 0 ? left.length : beside;
  const right = stack(wrap(row.text, width, TEXT_SIZE), '', first + line * LINE_HEIGHT);
  const words = first + (Math.max(left.length, line + right.length, 1) - 1) * LINE_HEIGHT;
  const hasPoint = row.point !== null;
  return { ...row, middle: words + 15, left, right, bottom: words + (hasPoint ? WHISKER_ROOM : 8) };
}

function labelLines({ label, note }: Row, width: number, baseline: number): PlacedText[] {
  const lines = stack(wrap(label, width, TEXT_SIZE), 'chart-step-label', baseline);
  const below = baseline + lines.length * LINE_HEIGHT - 1;
  return [...lines, ...stack(wrap(note, width, NOTE_SIZE), 'chart-step-note', below)];
}

const stack = (lines: readonly string[], className: string, baseline: number): PlacedText[] =>
  lines.map((text, index) => ({ text, className, baseline: baseline + index * LINE_HEIGHT }));
