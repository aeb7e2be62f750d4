import { symbol, symbolCircle } from 'd3-shape';
import { html, type SafeHtml } from '../html.ts';
import { chartFigure, chartId, chartSizes, chartSvg, keepInside, place, textLine, toFloatOrNull } from './drawing.ts';
import { layOut, type PlacedRow, type Plot, type Reference, type Row } from './interval-plot.ts';
import { endsOf, intervalRange } from './interval-range.ts';

export interface IntervalRow {
  label: string;
  /** A few words below the label. */
  note?: string;
  /** Digits of decimals. Without a point there is only the text, without both ends of the interval only the point. */
  point: string | null;
  low: string | null;
  high: string | null;
  /** The figure in words, for example "−1.0 % (−1.3 to −0.7)". */
  text: string;
}

export interface IntervalChart {
  /** Unique on the page; without it the title serves. */
  id?: string;
  title: string;
  /** For those who cannot see the chart: what it shows, in a sentence. The page has a table with the figures. */
  description: string;
  /** Written above: what is measured, with its unit. */
  xLabel: string;
  /** From the top down. */
  rows: readonly IntervalRow[];
  /** What the rows are held against: a line from top to bottom at a value (the digits of a decimal). */
  reference: { value: string; label: string } | null;
  formatX: (value: number) => string;
}

/** Half the height of what ends an interval. */
const CAP = 5;
const POINT = symbol(symbolCircle, 60)() ?? '';
/** More rows are drawn in parts, so that each has its axis at hand and paper can part them between two pages. */
const MOST_ROWS = 20;

/** Figures with their intervals, one row each on a common axis, beside what they are held against. */
export function intervalChart(options: IntervalChart): SafeHtml {
  const rows = options.rows.map(toRow);
  if (rows.every(({ point }) => point === null)) {
    const none = rows.length === 0 ? 'there are no rows.' : 'no row here has a figure.';
    return chartFigure(options.title, [html`<p class="chart-note">There is nothing to draw yet: ${none}</p>`]);
  }
  const reference = readReference(options);
  const range = intervalRange(rows, reference?.value ?? null);
  const says = explain(rows, range);
  const parts = toParts(rows);
  return chartFigure(options.title, [
    ...parts.flatMap((part, index) =>
      chartSizes.map((size) => {
        const plot = layOut(part, { size, all: rows, range, reference, formatX: options.formatX });
        return drawPart(options, plot, { number: index + 1, of: parts.length, reference });
      }),
    ),
    says === '' ? null : html`<p class="chart-note">${says}</p>`,
  ]);
}

/** Parts of about the same number of rows. */
function toParts(rows: readonly Row[]): Row[][] {
  const each = Math.ceil(rows.length / Math.ceil(rows.length / MOST_ROWS));
  return Array.from({ length: Math.ceil(rows.length / each) }, (_, part) => rows.slice(part * each, (part + 1) * each));
}

const toRow = ({ label, note = '', text, point, low, high }: IntervalRow): Row => ({
  label,
  note,
  text,
  point: toFloatOrNull(point),
  low: toFloatOrNull(low),
  high: toFloatOrNull(high),
});

function readReference({ reference }: IntervalChart): Reference | null {
  const value = toFloatOrNull(reference?.value ?? null);
  return reference === null || value === null ? null : { value, label: reference.label };
}

/** What the signs mean that this chart has, and no others. */
function explain(rows: readonly Row[], [begin, end]: readonly [number, number]): string {
  const isCut = rows.some((row) => {
    const [low, high] = endsOf(row) ?? [begin, end];
    return low < begin || high > end;
  });
  const hasBare = rows.some((row) => row.point !== null && endsOf(row) === null);
  return [
    isCut ? 'An arrow means that the interval goes on beyond the edge of the picture.' : '',
    hasBare ? 'A hollow mark has no range.' : '',
  ]
    .filter((sentence) => sentence !== '')
    .join(' ');
}

interface Part {
  number: number;
  of: number;
  reference: Reference | null;
}

function drawPart(options: IntervalChart, plot: Plot, { number, of, reference }: Part): SafeHtml {
  const id = chartId(options.id ?? options.title);
  const drawing = {
    id: of === 1 ? id : `${id}-${number}`,
    size: plot.size,
    height: plot.bottom + 28,
    title: of === 1 ? options.title : `${options.title}, part ${number} of ${of}`,
    description: options.description,
  };
  return chartSvg(drawing, [
    html`<text class="chart-soft" x="0" y="14">${options.xLabel}</text>`,
    ...drawAxis(plot),
    reference === null ? null : drawReference(reference, plot),
    ...plot.rows.map((row) => drawRow(row, plot)),
  ]);
}

function drawAxis(plot: Plot): SafeHtml[] {
  const { x, top, bottom, size } = plot;
  const baselines = plot.isAxisTwice ? [top - 8, bottom + 20] : [bottom + 20];
  return plot.ticks.map(({ value, label }) => {
    const at = place(x(value));
    const middle = place(keepInside(at, label, size.width));
    const labels = baselines.map(
      (y) => html`<text class="chart-soft" x="${middle}" y="${place(y)}" text-anchor="middle">${label}</text>`,
    );
    return html`<path class="chart-rule" d="${upright(at, plot)}"/>${labels}`;
  });
}

/** The label is joined to its line by a short piece of it, as the words of the first row may come between. */
function drawReference({ value, label }: Reference, plot: Plot): SafeHtml {
  const at = place(plot.x(value));
  const middle = place(keepInside(at, label, plot.size.width));
  return html`<path class="chart-reference" d="M${at} 38v6${upright(at, plot)}"/><text x="${middle}" y="34"
 text-anchor="middle">${label}</text>`;
}

/** A line from top to bottom; on a narrow page it leaves out the words, which lie between the intervals there. */
function upright(at: number, { size, top, bottom, rows }: Plot): string {
  if (size.name === 'wide') return `M${at} ${place(top)}V${place(bottom)}`;
  const withPoint = rows.filter(({ point }) => point !== null);
  return withPoint.map(({ middle }) => `M${at} ${place(middle - 11)}v22`).join('');
}

function drawRow(row: PlacedRow, plot: Plot): SafeHtml {
  const left = row.left.map(({ text, className, baseline }) => textLine(text, className, baseline));
  const right = row.right.map(
    ({ text, baseline }) =>
      html`<text class="chart-amount" x="${plot.size.width}" y="${place(baseline)}" text-anchor="end">${text.trim()}</text>`,
  );
  return html`<g><title>${row.label}: ${row.text}</title>${drawInterval(row, plot)}${drawPoint(row, plot)}${left}${right}</g>`;
}

/** An end that lies beyond the edge of the plot is an arrow there, any other a cap across. */
function drawInterval(row: PlacedRow, { x, start, end }: Plot): SafeHtml | null {
  const ends = endsOf(row);
  if (ends === null) return null;
  const [begin = 0, stop = 0] = x.domain();
  const [low, high] = ends;
  const y = row.middle;
  const [from, to] = [low < begin ? start + 1 : x(low), high > stop ? end - 1 : x(high)];
  const fromEnd = low < begin ? arrow(from, y, 1) : cap(from, y);
  const toEnd = high > stop ? arrow(to, y, -1) : cap(to, y);
  return html`<path class="chart-whisker" d="M${place(from)} ${place(y)}H${place(to)}${fromEnd}${toEnd}"/>`;
}

const cap = (x: number, y: number): string => `M${place(x)} ${place(y - CAP)}v${2 * CAP}`;
const arrow = (x: number, y: number, inwards: 1 | -1): string =>
  `M${place(x + inwards * CAP)} ${place(y - CAP)}L${place(x)} ${place(y)}l${inwards * CAP} ${CAP}`;

function drawPoint(row: PlacedRow, { x }: Plot): SafeHtml | null {
  if (row.point === null) return null;
  const filling = endsOf(row) === null ? 'chart-mark chart-paper' : 'chart-mark';
  const at = `translate(${place(x(row.point))} ${place(row.middle)})`;
  return html`<path class="${filling}" transform="${at}" d="${POINT}"/>`;
}
