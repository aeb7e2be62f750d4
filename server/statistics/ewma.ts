/**
 * Exponentially weighted moving average: each value counts `weight`, what was before 1 − weight.
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
 * @param weight above 0, at most 1
 * @param start what stands before the first value
 */
export function ewma(values: readonly number[], { weight, start }: { weight: number; start: number }): number[] {
  let smoothed = start;
  return values.map((value) => {
    smoothed = weight * value + (1 - weight) * smoothed;
    return smoothed;
  });
}
