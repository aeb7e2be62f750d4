/** A part of a sum's uncertainty: an input's standard uncertainty times its sensitivity, signed, in the sum's unit. */
export interface UncertaintyTerm {
  readonly standard: number;
  /** Terms of one cause move together, such as the errors of one scale; null for a term that moves on its own. */
  readonly cause: string | null;
}

/**
 * Combined standard uncertainty: terms of one cause add up with their signs, and the causes, like the terms that stand
 * alone, add in squares. Partly correlated inputs are written as sums over the causes that they share.
 * Source: JCGM 100:2008 (GUM), 5.1.2 equation (10) and, for what is fully correlated, the note to 5.2.2 equation (13);
 * clause numbers from memory.
 */
export function combinedUncertainty(terms: readonly UncertaintyTerm[]): number {
  const byCause = new Map<string, number>();
  let squares = 0;
  for (const { standard, cause } of terms) {
    if (cause === null) squares += standard * standard;
    else byCause.set(cause, (byCause.get(cause) ?? 0) + standard);
  }
  for (const sum of byCause.values()) squares += sum * sum;
  return Math.sqrt(squares);
}

/** Standard uncertainty of a reading in steps of d: rectangular, d/√12. Source: GUM F.2.2.1, from memory. */
export const resolutionUncertainty = (division: number): number => division / Math.sqrt(12);

/** Standard uncertainty of an error that stays within ± a: rectangular, a/√3. Source: GUM 4.3.7, from memory. */
export const toleranceUncertainty = (halfWidth: number): number => halfWidth / Math.sqrt(3);
