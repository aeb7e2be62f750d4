/**
 * Combined standard uncertainty of a sum of inputs: u² = Σ tᵢ² + 2 Σ tᵢ tⱼ r(i, j) over i < j, where each term t is the
 * input's standard uncertainty times its sensitivity, signed, and r its correlation with another.
 * Source: JCGM 100:2008 (GUM), 5.1.2 equation (10) and 5.2.2 equation (13); clause numbers from memory.
 * @param terms in the unit of the result
 * @param correlation −1 to 1 for a pair of indexes; without it the inputs are independent
 */
export function combinedUncertainty(
  terms: readonly number[],
  correlation: (i: number, j: number) => number = () => 0,
): number {
  let squares = 0;
  for (const [i, term] of terms.entries()) {
    squares += term * term;
    for (let j = 0; j < i; j += 1) squares += 2 * term * (terms[j] ?? 0) * correlation(j, i);
  }
  // Fully correlated terms of opposite sign can cancel to a rounding error below zero.
  return Math.sqrt(Math.max(0, squares));
}

/** Standard uncertainty of a reading in steps of d: rectangular, d/√12. Source: GUM F.2.2.1, from memory. */
export const resolutionUncertainty = (division: number): number => division / Math.sqrt(12);

/** Standard uncertainty of an error that stays within ± a: rectangular, a/√3. Source: GUM 4.3.7, from memory. */
export const toleranceUncertainty = (halfWidth: number): number => halfWidth / Math.sqrt(3);
