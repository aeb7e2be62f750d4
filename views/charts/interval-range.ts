import { aroundOne } from './drawing.ts';

/** A figure with its interval, as floats; without one, both ends are null. */
export interface Figure {
  point: number | null;
  low: number | null;
  high: number | null;
}

/** An interval this many times as wide as the median one is cut off at the edge of the plot. */
const WIDE = 5;
/** Of a wide interval the axis reaches this many median widths to either side of its point. */
const SHOWN_OF_WIDE = 1.5;

/**
 * The range of the axis: every point, the reference, and every interval but for the ends of those so wide that the rest
 * would be squeezed to dots.
 */
export function intervalRange(figures: readonly Figure[], reference: number | null): [number, number] {
  const usual = medianWidth(figures);
  const values = figures.flatMap((figure) => [...pointOf(figure), ...shownEnds(figure, usual)]);
  if (reference !== null) values.push(reference);
  if (values.length === 0) return aroundOne(0);
  const low = Math.min(...values);
  const high = Math.max(...values);
  return low === high ? aroundOne(low) : [low, high];
}

const pointOf = ({ point }: Figure): number[] => (point === null ? [] : [point]);

/** The interval of a figure that has both, its lower end first. */
export function endsOf({ point, low, high }: Figure): [number, number] | null {
  return point === null || low === null || high === null ? null : [Math.min(low, high), Math.max(low, high)];
}

function shownEnds(figure: Figure, usual: number | null): number[] {
  const ends = endsOf(figure);
  if (ends === null) return [];
  const [low, high] = ends;
  if (usual === null || figure.point === null || high - low <= WIDE * usual) return ends;
  return [Math.max(low, figure.point - SHOWN_OF_WIDE * usual), Math.min(high, figure.point + SHOWN_OF_WIDE * usual)];
}

/** Of two in the middle the smaller one, so that of two rows the wide one is the one that is cut. */
function medianWidth(figures: readonly Figure[]): number | null {
  const widths = figures.flatMap((figure) => {
    const [low, high] = endsOf(figure) ?? [0, 0];
    return high > low ? [high - low] : [];
  });
  return widths.toSorted((one, other) => one - other)[Math.floor((widths.length - 1) / 2)] ?? null;
}
