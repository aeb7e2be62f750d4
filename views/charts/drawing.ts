import type { ScaleLinear } from 'd3-scale';
import { Decimal } from '../../server/units/decimal.ts';
import { html, type SafeHtml } from '../html.ts';

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

/** Font sizes in the drawing's own units; the stylesheet sets the same. */
export const TEXT_SIZE = 14;
export const NOTE_SIZE = 12.5;
export const LINE_HEIGHT = 17;

const NARROW_LETTERS = /[\s.,:;()'’|!ijltfI]/g;
const WIDE_LETTERS = /[−+%mwMW@]/g;
/** Room a text takes, a little generously: the font is the reader's own and cannot be measured here. */
export function textWidth(text: string, fontSize = TEXT_SIZE): number {
  const narrow = text.match(NARROW_LETTERS)?.length ?? 0;
  const wide = text.match(WIDE_LETTERS)?.length ?? 0;
  return (text.length * 0.61 - narrow * 0.25 + wide * 0.27) * fontSize;
}
/** Coordinates to a tenth: what is finer cannot be seen and only makes the page longer. */
export const place = (coordinate: number): number => Math.round(coordinate * 10) / 10;
/** Where the middle of a text comes to lie so that neither end leaves the drawing. */
export const keepInside = (middle: number, text: string, width: number): number =>
  Math.max(Math.min(middle, width - textWidth(text) / 2), textWidth(text) / 2);
/** A text as the id of an element. */
export const chartId = (text: string): string => `chart-${text.toLowerCase().replace(/[^a-z0-9]+/g, '-')}`;
/** A float is good enough for a place on the paper; nothing is computed from it. */
export const toFloat = (digits: string): number => new Decimal(digits).toNumber();
export const toFloatOrNull = (digits: string | null): number | null => (digits === null ? null : toFloat(digits));

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

export function chartSvg(drawing: Drawing, body: (SafeHtml | null)[]): SafeHtml {
  const { size, title, description } = drawing;
  const id = `${drawing.id}-${size.name}`;
  return html`<svg class="chart-${size.name}" viewBox="0 0 ${size.width} ${place(drawing.height)}" role="img"
 preserveAspectRatio="xMinYMin"
 aria-labelledby="${id}-title ${id}-desc"><title id="${id}-title">${title}</title><desc id="${id}-desc">${description}</desc
>${body}</svg>`;
}

export function textLine(text: string, className: string, y: number): SafeHtml {
  return html`<text class="${className}" x="0" y="${place(y)}">${text.trim()}</text>`;
}

/** Breaks a text between words so that each line fits; SVG does not do it by itself. Only a far too long word is cut. */
export function wrap(text: string, width: number, fontSize: number): string[] {
  const lines: string[] = [];
  const words = text.split(/\s+/).flatMap((word) => cutWord(word, width, fontSize));
  for (const word of words.filter((part) => part !== '')) {
    const longer = `${lines.at(-1) ?? ''} ${word}`;
    if (lines.length > 0 && textWidth(longer.trim(), fontSize) <= width) lines[lines.length - 1] = longer;
    else lines.push(word);
  }
  return lines;
}

function cutWord(word: string, width: number, fontSize: number): string[] {
  // Widths are estimated generously, so a word that seems a little too long mostly fits after all.
  if (textWidth(word, fontSize) <= width * 1.2) return [word];
  const most = Math.max(1, Math.floor(width / textWidth('n', fontSize)));
  return word.match(new RegExp(`.{1,${most}}`, 'gu')) ?? [];
}

export interface Tick {
  value: number;
  label: string;
}

/**
 * Fewer ticks until no two read the same: prices that lie close together all print as "3.42" otherwise.
 * @param scaleOf the scale for so many ticks, as its ends may be rounded to them
 * @param haveRoom whether their labels can stand side by side
 */
export function distinctTicks(
  most: number,
  scaleOf: (count: number) => ScaleLinear<number, number>,
  format: (value: number) => string,
  haveRoom: (ticks: readonly Tick[]) => boolean = () => true,
): { scale: ScaleLinear<number, number>; ticks: Tick[] } {
  for (let count = most; count > 0; count -= 1) {
    const scale = scaleOf(count);
    const ticks = scale.ticks(count).map((value) => ({ value, label: format(value) }));
    const isDistinct = new Set(ticks.map((tick) => tick.label)).size === ticks.length;
    if (isDistinct && haveRoom(ticks)) return { scale, ticks };
  }
  return { scale: scaleOf(1), ticks: [] };
}

/** Room around figures that are all the same, which would else have no scale. */
export const aroundOne = (value: number): [number, number] => {
  const room = Math.abs(value) * 0.1 || 1;
  return [value - room, value + room];
};
