import type { Scale } from '../setup/queries.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { readWeight } from '../units/read-weight.ts';

/** What is known of how far a scale may be off; masses in micrograms, null where its plate and papers do not say. */
export interface ScaleTraits {
  readonly divisionUg: number | null;
  /** Stated tolerance, plus or minus. */
  readonly toleranceUg: number | null;
  /** III, III L or IIII; anything else has no tolerance of its own. */
  readonly accuracyClass: string;
}

/** A stored weight of a scale: digits with a point, in the scale's unit unless one is written with it. */
function storedUg(text: string, unit: MassUnit): MassUg | null {
  const read = readWeight(text, { unit, decimalMark: '.' });
  return text === '' || !read.ok ? null : read.value.massUg;
}

export const traitsOf = (scale: Pick<Scale, 'unit' | 'division' | 'class' | 'tolerance'>): ScaleTraits => ({
  divisionUg: storedUg(scale.division, scale.unit),
  toleranceUg: storedUg(scale.tolerance, scale.unit),
  accuracyClass: scale.class,
});

/** What a scale can weigh at most; null where that is not known. */
export const capacityOf = ({ capacity, unit }: Pick<Scale, 'capacity' | 'unit'>): MassUg | null =>
  storedUg(capacity, unit);

/** Up to so many divisions of load, so many divisions of tolerance; above the last step `beyond`. */
interface Steps {
  readonly upTo: readonly (readonly [divisions: number, tolerance: number])[];
  readonly beyond: (divisions: number) => number;
}

/**
 * Maintenance tolerances in scale divisions by accuracy class. Source: NIST Handbook 44, section 2.20, Table 6; class
 * III looked up at second hand, III L and IIII from memory.
 */
const MAINTENANCE: Readonly<Record<string, Steps>> = {
  III: {
    upTo: [
      [500, 1],
      [2000, 2],
      [4000, 3],
    ],
    beyond: () => 5,
  },
  IIII: {
    upTo: [
      [50, 1],
      [200, 2],
      [400, 3],
    ],
    beyond: () => 5,
  },
  'III L': {
    upTo: [
      [500, 1],
      [1000, 2],
    ],
    // One more for each further 500 divisions or fraction of them.
    beyond: (divisions) => 2 + Math.ceil((divisions - 1000) / 500),
  },
};

/**
 * How many divisions a scale in use may be off at a load of so many divisions; null for a class without a table.
 * @param divisions the load over the division, above or equal to zero; a reading is a whole number of them
 */
export function maintenanceTolerance(accuracyClass: string, divisions: number): number | null {
  const steps = MAINTENANCE[accuracyClass];
  if (steps === undefined) return null;
  const whole = Math.round(divisions);
  return steps.upTo.find(([most]) => whole <= most)?.[1] ?? steps.beyond(whole);
}

/** How far a scale may be off at a gross load, in micrograms: as stated, else by its class; null where neither is known. */
export function toleranceAt({ divisionUg, toleranceUg, accuracyClass }: ScaleTraits, grossUg: number): number | null {
  if (toleranceUg !== null) return toleranceUg;
  if (divisionUg === null || divisionUg === 0) return null;
  const divisions = maintenanceTolerance(accuracyClass, grossUg / divisionUg);
  return divisions === null ? null : divisions * divisionUg;
}
