/** The arithmetic mean; null of no values. */
export function mean(values: readonly number[]): number | null {
  if (values.length === 0) return null;
  const first = values.reduce((sum, value) => sum + value, 0) / values.length;
  // A second pass takes off what the first sum lost to rounding.
  return first + values.reduce((sum, value) => sum + (value - first), 0) / values.length;
}

/** The sample standard deviation, with n − 1, from the deviations and not from squares; null below two values. */
export function standardDeviation(values: readonly number[]): number | null {
  const centre = mean(values);
  if (centre === null || values.length < 2) return null;
  const squares = values.reduce((sum, value) => sum + (value - centre) ** 2, 0);
  return Math.sqrt(squares / (values.length - 1));
}
