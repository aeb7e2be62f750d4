import { type ScaleLinear, scaleLinear } from 'd3-scale';
import { html, type SafeHtml } from '../html.ts';
import {
  type ChartSize,
  chartFigure,
  chartId,
  chartSizes,
  chartSvg,
  LINE_HEIGHT,
  NOTE_SIZE,
  place,
  TEXT_SIZE,
  textLine,
  textWidth,
  wrap,
} from './drawing.ts';

export interface WaterfallStep {
  label: string;
  /** A total's own amount, or what an effect adds (less than zero: takes away), in minor units. */
  amountMinor: number;
  kind: 'total' | 'effect';
  /** A few words below the label. */
  note?: string;
}

export interface Waterfall {
  /** Unique on the page. */
  id: string;
  title: string;
  /** For those who cannot see the chart: what it shows, in a sentence. The steps and their amounts are added to it. */
  description: string;
  /** From the top down. */
  steps: readonly WaterfallStep[];
  formatAmount: (minor: number) => string;
  formatSigned: (minor: number) => string;
}

interface Row extends WaterfallStep {
  amount: string;
  from: number;
  to: number;
}
interface Axis {
  begin: number;
  end: number;
}
interface PlacedRow extends Row {
  top: number;
  height: number;
  labelLines: string[];
  noteLines: string[];
}
interface Plot {
  id: string;
  size: ChartSize;
  x: ScaleLinear<number, number>;
  axis: Axis;
  rows: PlacedRow[];
  bottom: number;
}

const BAR_HEIGHT = 18;
const LEAST_ROW_HEIGHT = 32;

/** How one total became another, step by step: one row each, with label, floating bar and amount. */
export function waterfall(options: Waterfall): SafeHtml {
  const rows = toRows(options);
  if (rows.length === 0) {
    return chartFigure(options.title, [html`<p class="chart-note">There is nothing to draw yet.</p>`]);
  }
  const axis = chooseAxis(rows);
  const says = [
    rows.some((row) => row.kind === 'effect' && row.amountMinor !== 0)
      ? 'A hatched step takes away, a plain one adds.'
      : '',
    axis.begin > 0 ? `The bars begin at ${options.formatAmount(axis.begin)}, not at zero.` : '',
  ].filter((sentence) => sentence !== '');
  return chartFigure(options.title, [
    ...chartSizes.map((size) => drawRows(options, layOut(options, size, rows, axis))),
    says.length > 0 ? html`<p class="chart-note">${says.join(' ')}</p>` : null,
  ]);
}

/** Each effect begins where the step before it ended. */
function toRows(options: Waterfall): Row[] {
  let level = 0;
  return options.steps.map((step) => {
    const from = step.kind === 'total' ? 0 : level;
    level = from + step.amountMinor;
    const amount = (step.kind === 'total' ? options.formatAmount : options.formatSigned)(step.amountMinor);
    return { ...step, amount, from, to: level };
  });
}

/**
 * Effects are mostly a few parts in a hundred of the totals, too short to see on an axis from zero. So where all levels
 * lie close together, the axis begins at a round amount below the lowest, and the chart says so.
 */
function chooseAxis(rows: readonly Row[]): Axis {
  const levels = rows.map((row) => row.to);
  const low = Math.min(...levels);
  const high = Math.max(...levels);
  const spread = high - low;
  if (low <= 0 || spread === 0 || spread > high * 0.3) {
    return { begin: Math.min(0, low), end: Math.max(0, high, low + 1) };
  }
  const [first = 0, second = first + 1] = scaleLinear()
    .domain([0, spread * 1.5])
    .ticks(2);
  const round = Math.max(1, Math.round(second - first));
  return { begin: Math.max(0, Math.floor((low - spread * 0.5) / round) * round), end: high };
}

function layOut(options: Waterfall, size: ChartSize, rows: readonly Row[], axis: Axis): Plot {
  const labelWidth = size.name === 'wide' ? 210 : 116;
  const amountWidth = Math.max(...rows.map((row) => textWidth(row.amount))) + 14;
  const x = scaleLinear([axis.begin, axis.end], [labelWidth + 6, size.width - amountWidth - 4]);
  let bottom = 0;
  const placed = rows.map((row) => {
    const labelLines = wrap(row.label, labelWidth, TEXT_SIZE);
    const noteLines = wrap(row.note ?? '', labelWidth, NOTE_SIZE);
    const height = Math.max(LEAST_ROW_HEIGHT, (labelLines.length + noteLines.length) * LINE_HEIGHT + 12);
    const top = bottom;
    bottom += height;
    return { ...row, top, height, labelLines, noteLines };
  });
  return { id: `${chartId(options.id)}-${size.name}`, size, x, axis, rows: placed, bottom };
}

function drawRows(options: Waterfall, plot: Plot): SafeHtml {
  const told = plot.rows.map((row) => `${row.label} ${row.amount}`).join('; ');
  return chartSvg(
    {
      id: chartId(options.id),
      size: plot.size,
      height: plot.bottom + 26,
      title: options.title,
      description: `${options.description} ${told}.`,
    },
    [
      hatching(plot.id),
      ...drawAxis(plot, options.formatAmount),
      ...plot.rows.map((row, index) => drawConnector(row, plot.rows[index + 1], plot)),
      ...plot.rows.map((row) => drawRow(row, plot)),
    ],
  );
}

function hatching(id: string): SafeHtml {
  return html`<defs><pattern id="${id}-loss" width="5" height="5" patternUnits="userSpaceOnUse"
 patternTransform="rotate(45)"><rect class="chart-paper" width="5" height="5"/><line class="chart-hatch" x1="1" x2="1"
 y1="0" y2="5"/></pattern></defs>`;
}

/** Amounts below the rows, as many as fit without touching. */
function drawAxis({ x, bottom, size }: Plot, formatAmount: Waterfall['formatAmount']): SafeHtml[] {
  let free = Number.NEGATIVE_INFINITY;
  const wholes = x.ticks(size.name === 'wide' ? 5 : 3).filter((value) => Number.isInteger(value));
  return wholes.map((value) => {
    const label = formatAmount(value);
    const at = place(x(value));
    const half = textWidth(label) / 2;
    const fits = at - half > free;
    if (fits) free = at + half + 8;
    return html`<line class="${value === 0 ? 'chart-tick' : 'chart-rule'}" x1="${at}" x2="${at}" y1="0" y2="${bottom}"/>${
      fits ? html`<text class="chart-soft" x="${at}" y="${bottom + 20}" text-anchor="middle">${label}</text>` : null
    }`;
  });
}

const barTop = (row: PlacedRow): number => row.top + (Math.min(row.height, LEAST_ROW_HEIGHT) - BAR_HEIGHT) / 2;

function drawConnector(row: PlacedRow, next: PlacedRow | undefined, { x }: Plot): SafeHtml {
  if (next === undefined) return html``;
  const at = place(x(row.to));
  return html`<line class="chart-connector" x1="${at}" x2="${at}" y1="${barTop(row)}" y2="${barTop(next) + BAR_HEIGHT}"/>`;
}

function drawRow(row: PlacedRow, plot: Plot): SafeHtml {
  const weight = row.kind === 'total' ? 'chart-total-text' : 'chart-effect-text';
  const baseline = barTop(row) + BAR_HEIGHT / 2 + 5;
  const label = row.labelLines.map((text, index) => textLine(text, weight, baseline + index * LINE_HEIGHT));
  const below = baseline + row.labelLines.length * LINE_HEIGHT - 1;
  const note = row.noteLines.map((text, index) => textLine(text, 'chart-step-note', below + index * LINE_HEIGHT));
  return html`<g>${label}${note}${drawBar(row, plot)}<text class="${weight} chart-amount" x="${plot.size.width}"
 y="${baseline}" text-anchor="end">${row.amount}</text></g>`;
}

function drawBar(row: PlacedRow, { id, x, axis }: Plot): SafeHtml {
  const y = barTop(row);
  const ends = [x(Math.max(row.from, axis.begin)), x(row.to)];
  const left = place(Math.min(...ends));
  const width = place(Math.max(Math.abs((ends[1] ?? 0) - (ends[0] ?? 0)), 1.5));
  if (row.amountMinor === 0) {
    return html`<line class="chart-nothing" x1="${left}" x2="${left}" y1="${y - 2}" y2="${y + BAR_HEIGHT + 2}"/>`;
  }
  const box = html`x="${left}" y="${y}" width="${width}" height="${BAR_HEIGHT}"`;
  if (row.kind === 'total') {
    return html`<rect class="chart-total" ${box}/>${axis.begin > 0 ? breakMark(left + 12, y) : null}`;
  }
  if (row.amountMinor > 0) return html`<rect class="chart-gain" ${box}/>`;
  return html`<rect class="chart-loss" fill="url(#${id}-loss)" ${box}/>`;
}

/** A slanted cut through a bar that does not begin at zero. */
function breakMark(x: number, y: number): SafeHtml {
  const low = y + BAR_HEIGHT + 1;
  return html`<path class="chart-break chart-paper" d="M${place(x)} ${low}L${place(x + 6)} ${y - 1}h5L${place(x + 5)} ${low}Z"/>`;
}
