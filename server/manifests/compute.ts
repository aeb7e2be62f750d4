/** Labels of loads in order: A to Z, then AA, AB and so on. */
export function loadLabel(index: number): string {
  const last = String.fromCharCode(65 + (index % 26));
  return index < 26 ? last : loadLabel(Math.floor(index / 26) - 1) + last;
}

/** The next number after those in use: one more than the largest that is a plain number. */
export function nextNumber(used: readonly string[]): string {
  const plain = used.filter((number) => /^\d{1,9}$/.test(number)).map((number) => Number.parseInt(number, 10));
  return String(Math.max(0, ...plain) + 1);
}
