import type { Day } from '../units/day.ts';

/** So many micrograms of one item; item 0 stands for material of no item. */
export type Part = readonly [itemId: number, massUg: number];

/** What came into a bin at one time. Of several items it is a mixture: whatever is taken of it is taken of each. */
export type Layer = readonly [cameOn: Day, parts: readonly Part[]];

/** Above the book by this much a count is a matter of scales; beyond it, material came in that nobody wrote down. */
const MOST_FOR_SCALES = { numerator: 115n, denominator: 100n };

/** Longer than this, neighbours without an item are laid together: only their days would tell them apart. */
const MANY_LAYERS = 64;

const massOfParts = (parts: readonly Part[]): number => parts.reduce((sum, [, massUg]) => sum + massUg, 0);

/** Mass of layers, in micrograms. */
export const massOfLayers = (layers: readonly Layer[]): number =>
  layers.reduce((sum, [, parts]) => sum + massOfParts(parts), 0);

/**
 * A whole share of each mass, in proportion, that together make `shareUg` exactly: each cut is where the running total
 * falls, rounded down. No share is above its mass as long as `shareUg` is not above their sum.
 * @param massesUg not negative, not all zero
 */
function inProportion(shareUg: number, massesUg: readonly number[]): number[] {
  const whole = BigInt(massesUg.reduce((sum, mass) => sum + mass, 0));
  let running = 0n;
  let cut = 0n;
  return massesUg.map((mass) => {
    running += BigInt(mass);
    const next = (running * BigInt(shareUg)) / whole;
    const share = Number(next - cut);
    cut = next;
    return share;
  });
}

const isSome = ([, massUg]: Part): boolean => massUg > 0;
const isLeft = ([, parts]: Layer): boolean => parts.length > 0;

/** A mixture of the same items that weighs `massUg`. */
export function resized(parts: readonly Part[], massUg: number): Part[] {
  const own = inProportion(
    massUg,
    parts.map(([, mass]) => mass),
  );
  return parts.map(([itemId], index): Part => [itemId, own[index] ?? 0]).filter(isSome);
}

/** What remains of parts after others, of the same items in the same order, were taken out. */
function less(parts: readonly Part[], taken: readonly Part[]): Part[] {
  const gone = new Map(taken);
  return parts.map(([itemId, mass]): Part => [itemId, mass - (gone.get(itemId) ?? 0)]).filter(isSome);
}

/** Parts by item, each item once, items in the order of their numbers. */
export function byItem(parts: readonly Part[]): Part[] {
  const sums = new Map<number, number>();
  for (const [itemId, mass] of parts) sums.set(itemId, (sums.get(itemId) ?? 0) + mass);
  return [...sums].sort(([a], [b]) => a - b).filter(isSome);
}

/** Fills parts of items up to a whole with material of none; parts that weigh more than the whole are cut to it. */
export function filledUp(parts: readonly Part[], massUg: number): Part[] {
  const known = massOfParts(parts);
  if (known > massUg) return resized(parts, massUg);
  return known === massUg ? [...parts] : byItem([[0, massUg - known], ...parts]);
}

export interface Taken {
  readonly taken: readonly Part[];
  readonly left: readonly Layer[];
}

/**
 * Takes so much from the front: first in, first out. The last layer touched is cut.
 * @param massUg at most what the layers weigh
 * @throws Error when it is more
 */
export function takeFromFront(layers: readonly Layer[], massUg: number): Taken {
  const taken: Part[] = [];
  let dueUg = massUg;
  let place = 0;
  for (; place < layers.length && dueUg > 0; place += 1) {
    const [cameOn, parts] = layers[place] as Layer;
    const holds = massOfParts(parts);
    if (holds > dueUg) {
      const cut = resized(parts, dueUg);
      taken.push(...cut);
      return { taken: byItem(taken), left: [[cameOn, less(parts, cut)], ...layers.slice(place + 1)] };
    }
    taken.push(...parts);
    dueUg -= holds;
  }
  if (dueUg > 0) throw new Error(`${dueUg} µg more are taken than there are`);
  return { taken: byItem(taken), left: layers.slice(place) };
}

/**
 * Takes so much of every layer in proportion: what is moved to another bin, stripped, or lost is some of everything.
 * @param massUg at most what the layers weigh
 */
export function takeOfEach(layers: readonly Layer[], massUg: number): Taken {
  if (massUg === 0) return { taken: [], left: layers };
  const own = inProportion(
    massUg,
    layers.map(([, parts]) => massOfParts(parts)),
  );
  const cuts = layers.map(([, parts], index) => (own[index] === 0 ? [] : resized(parts, own[index] ?? 0)));
  const left = layers.map(([cameOn, parts], index): Layer => [cameOn, less(parts, cuts[index] ?? [])]);
  return { taken: byItem(cuts.flat()), left: laidTogether(left.filter(isLeft)) };
}

export interface Added {
  readonly added: readonly Part[];
  readonly left: readonly Layer[];
}

/**
 * Lays what a count found above the book onto every layer in proportion. More than scales can be off by was never
 * weighed in, so nobody knows what item it is of: it becomes a layer of its own.
 */
export function addFound(layers: readonly Layer[], massUg: number, foundOn: Day): Added {
  const held = massOfLayers(layers);
  const most = (BigInt(held) * MOST_FOR_SCALES.numerator) / MOST_FOR_SCALES.denominator;
  if (BigInt(held + massUg) > most) return { added: [[0, massUg]], left: [...layers, [foundOn, [[0, massUg]]]] };
  const own = inProportion(
    massUg,
    layers.map(([, parts]) => massOfParts(parts)),
  );
  const gains = layers.map(([, parts], index) => (own[index] === 0 ? [] : resized(parts, own[index] ?? 0)));
  const left = layers.map(([cameOn, parts], index): Layer => [cameOn, sameOrder(parts, gains[index] ?? [])]);
  return { added: byItem(gains.flat()), left: laidTogether(left) };
}

function sameOrder(parts: readonly Part[], gains: readonly Part[]): Part[] {
  const gained = new Map(gains);
  return parts.map(([itemId, mass]): Part => [itemId, mass + (gained.get(itemId) ?? 0)]);
}

/** The item of a layer that is of one only; null for a mixture. */
const soleItem = ([, parts]: Layer): number | null => (parts.length === 1 ? (parts[0]?.[0] ?? null) : null);

function laidTogether(layers: readonly Layer[]): readonly Layer[] {
  if (layers.length <= MANY_LAYERS) return layers;
  const joined: Layer[] = [];
  for (const layer of layers) {
    const last = joined.at(-1);
    if (last !== undefined && soleItem(last) === 0 && soleItem(layer) === 0) {
      joined[joined.length - 1] = [last[0], byItem([...last[1], ...layer[1]])];
    } else {
      joined.push(layer);
    }
  }
  return joined;
}
