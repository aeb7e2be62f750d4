import { Decimal } from '../units/decimal.ts';
import { type MassUg, massUg, NO_MASS, subtractMass, sumMass } from '../units/mass.ts';

/** What an item gave. Masses are home weights. */
export interface Outputs {
  /** In-weights that stand, each with the grade of its bin. */
  bins: readonly { grade_id: number; grade_name: string; net_ug: MassUg }[];
  /** Parts kept; null where one was not weighed. */
  parts: readonly (MassUg | null)[];
  waste: readonly MassUg[];
}

/** A weight and its share of the whole, 0 to 1 as long as no more came out than went in; null without a whole weight. */
export interface Portion {
  massUg: MassUg;
  share: Decimal | null;
}

export interface GradePortion extends Portion {
  gradeId: number;
  gradeName: string;
}

/** Item weight = bins + parts kept + waste + what is missing. */
export interface MassBalance {
  wholeUg: MassUg | null;
  /** Heaviest first. */
  grades: GradePortion[];
  bins: Portion;
  parts: Portion;
  waste: Portion;
  out: Portion;
  /** Loss: below zero when more came out than went in. Null without a whole weight, as there is no balance then. */
  missing: Portion | null;
  /** Parts kept that were not weighed: what is missing may be them. */
  unweighedParts: number;
  /** The share that went into bins, from 0 to 1. Null where that cannot be said: no whole weight, or too much came out. */
  recovery: Decimal | null;
}

/** By grade, heaviest first. */
function byGrade(bins: Outputs['bins'], portion: (mass: MassUg) => Portion): GradePortion[] {
  const grades = [...Map.groupBy(bins, ({ grade_id: id }) => id)].map(([gradeId, own]) => ({
    gradeId,
    gradeName: own[0]?.grade_name ?? '',
    ...portion(sumMass(own.map(({ net_ug: net }) => net))),
  }));
  return grades.sort((a, b) => b.massUg - a.massUg || a.gradeId - b.gradeId);
}

/** Where an item's weight went. Everything is exact to the microgram: bins + parts + waste + missing = whole. */
export function massBalance(wholeUg: MassUg | null, { bins, parts, waste }: Outputs): MassBalance {
  const portion = (mass: MassUg): Portion => ({
    massUg: mass,
    share: wholeUg === null ? null : new Decimal(mass).div(wholeUg),
  });
  const grades = byGrade(bins, portion);
  const binsUg = sumMass(grades.map(({ massUg: mass }) => mass));
  const partsUg = sumMass(parts.map((mass) => mass ?? NO_MASS));
  const wasteUg = sumMass(waste);
  const outUg = massUg(binsUg + partsUg + wasteUg);
  const inBins = portion(binsUg);
  return {
    wholeUg,
    grades,
    bins: inBins,
    parts: portion(partsUg),
    waste: portion(wasteUg),
    out: portion(outUg),
    missing: wholeUg === null ? null : portion(subtractMass(wholeUg, outUg)),
    unweighedParts: parts.filter((mass) => mass === null).length,
    recovery: wholeUg === null || outUg > wholeUg ? null : inBins.share,
  };
}
