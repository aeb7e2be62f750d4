import { html, type SafeHtml } from '../html.ts';
import { place, textWidth } from './drawing.ts';
import type { Plot } from './line-plot.ts';

export interface Limit {
  value: number;
  label: string;
}

/** A place on the paper that a label should leave free. */
export type Spot = readonly [x: number, y: number];

interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

const LABEL_HEIGHT = 16;
const PLACES_ALONG = 12;
/** Lines are taken as spots this far apart. */
const SPOT_STEP = 6;

export function drawLimitLines(limits: readonly Limit[], plot: Plot): SafeHtml[] {
  return limits.map(({ value }) => {
    const y = place(plot.y(value));
    return html`<line class="chart-limit" x1="${place(plot.start)}" x2="${plot.width}" y1="${y}" y2="${y}"/>`;
  });
}

/** Each label lies on its line, above or below, where it hides least of what is drawn. */
export function drawLimitLabels(limits: readonly Limit[], plot: Plot, spots: readonly Spot[]): SafeHtml[] {
  const lines = limits.flatMap(({ value }) => {
    const y = plot.y(value);
    return spotsBetween([plot.start, y], [plot.width, y]);
  });
  const taken: Box[] = [];
  return limits.map((limit) => {
    const box = freeBox(limit, plot, { spots: [...spots, ...lines], taken });
    taken.push(box);
    return html`<text class="chart-over" x="${place(box.left + 3)}" y="${place(box.bottom - 4)}">${limit.label}</text>`;
  });
}

/** The spots that a straight line passes. */
export function spotsBetween([x1, y1]: Spot, [x2, y2]: Spot): Spot[] {
  const steps = Math.max(1, Math.ceil(Math.hypot(x2 - x1, y2 - y1) / SPOT_STEP));
  return Array.from({ length: steps + 1 }, (_, step): Spot => {
    const share = step / steps;
    return [x1 + (x2 - x1) * share, y1 + (y2 - y1) * share];
  });
}

function freeBox(limit: Limit, plot: Plot, { spots, taken }: { spots: readonly Spot[]; taken: readonly Box[] }): Box {
  const width = textWidth(limit.label) + 6;
  const y = plot.y(limit.value);
  const along = Math.max(0, plot.width - plot.start - width) / PLACES_ALONG;
  const boxes = Array.from({ length: PLACES_ALONG + 1 }, (_, step) => plot.start + step * along).flatMap((left) =>
    [y - LABEL_HEIGHT - 2, y + 2].map((top) => ({ left, right: left + width, top, bottom: top + LABEL_HEIGHT })),
  );
  const hides = (box: Box): number => {
    const isOutside = box.top < plot.top || box.bottom > plot.bottom;
    const onOthers = taken.filter((other) => areTouching(box, other)).length + (isOutside ? 1 : 0);
    return onOthers * 1000 + spots.filter((spot) => isOn(spot, box)).length;
  };
  const [first = { left: plot.start, right: plot.start + width, top: y, bottom: y + LABEL_HEIGHT }, ...others] = boxes;
  return others.reduce(
    (best, box) => {
      const cost = hides(box);
      return cost < best.cost ? { box, cost } : best;
    },
    { box: first, cost: hides(first) },
  ).box;
}

const isOn = ([x, y]: Spot, box: Box): boolean =>
  x > box.left - 3 && x < box.right + 3 && y > box.top - 1 && y < box.bottom + 1;

const areTouching = (one: Box, other: Box): boolean =>
  one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;
