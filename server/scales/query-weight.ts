import type { Ledger } from '../context.ts';
import { readingOf } from '../manifests/compute.ts';
import type { Load } from '../manifests/queries.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { type KnownScales, weighingsOfLoad } from './comparisons.ts';
import { type Missing, queryReading, type ScaleReading, uncertaintyOf, type Weighing } from './compute.ts';

/** The weight at which, or below, a yard should be asked for a second weighing of a load; or why there is none. */
export type QueryWeight =
  | {
      readonly kind: 'weight';
      readonly weight: ScaleReading;
      /** The same with the load's container on the scale; null without one, and on a scale that weighs the truck along. */
      readonly gross: ScaleReading | null;
      /** The further scale of the yard that the load goes over; null for its usual one. */
      readonly over: string | null;
    }
  /** Twice the uncertainty is as much as the load: that scale is too coarse for it. */
  | { readonly kind: 'too light' }
  | { readonly kind: 'unknown'; readonly missing: readonly Missing[] };

export interface LoadForYard {
  readonly load: Load;
  /** Home weight as it stands, above zero. */
  readonly massUg: MassUg;
  readonly yardId: number;
  readonly yardUnit: MassUnit;
  /** The day it was loaded, or today for a draft. */
  readonly on: Day;
}

/** The yard is taken to weigh the load as it was weighed at home, in the same container. */
export function queryWeightOf(ledger: Ledger, scales: KnownScales, given: LoadForYard): QueryWeight {
  const { load, massUg, yardId, yardUnit, on } = given;
  const home = weighingsOfLoad(ledger, scales, load, on);
  const scale = scales.ofYard(yardId, load.grade_id);
  const reading = readingOf(load, ledger.settings.decimalMark);
  const tareUg = reading?.tareUg ?? 0;
  const uncertaintyAt = (netUg: number) => {
    const yard: Weighing = { side: 'yard', scale, grossUg: netUg + tareUg, on, sign: 1, isEstimate: false };
    return uncertaintyOf(home.length === 0 ? [] : [...home, yard]);
  };
  const uncertainty = uncertaintyAt(massUg);
  if (!uncertainty.isKnown) return { kind: 'unknown', missing: uncertainty.missing };
  const standardAt = (netUg: number) => {
    const atNet = uncertaintyAt(netUg);
    return atNet.isKnown ? atNet.standardUg : uncertainty.standardUg;
  };
  const over = scale?.ownName ?? null;
  const queried = { homeUg: massUg, tareUg: over === null ? tareUg : 0, standardAt };
  const query = queryReading(queried, scale?.traits.divisionUg ?? 0, yardUnit);
  return query === null ? { kind: 'too light' } : { kind: 'weight', weight: query.net, gross: query.gross, over };
}
