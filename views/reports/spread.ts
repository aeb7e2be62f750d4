import type { Spread } from '../../server/reports/compute.ts';
import { html, type SafeHtml } from '../html.ts';

/** "1 sale", "7 sales" */
export const saleCount = (count: number): string => (count === 1 ? '1 sale' : `${count} sales`);

/**
 * Where a figure likely lies in the long run, or why that cannot be said, short enough for a cell: "1.24 to 2.91 %",
 * "2 sales, too few", "sales alike".
 * @param write an end of the interval, in the figure's own unit
 * @param unit what stands once behind both ends
 */
export function likelyBetween(
  { count, low, high, noInterval }: Spread,
  write: (end: NonNullable<Spread['low']>) => string,
  unit = '',
): string {
  if (low !== null && high !== null) return `${write(low)} to ${write(high)}${unit}`;
  return noInterval === 'equal' ? 'sales alike' : `${saleCount(count)}, too few`;
}

/** The same as a cell, softer where it is no interval. */
export function spreadCell(...figures: Parameters<typeof likelyBetween>): SafeHtml {
  const text = likelyBetween(...figures);
  return html`<td class="figure">${figures[0].low === null ? html`<span class="hint">${text}</span>` : text}</td>`;
}

/** What the column says, once for a whole page. */
export const likelyBetweenMeaning = (longRun: string): SafeHtml => html`<li>Likely between: if sales go on as these did,
  ${longRun} in the long run lies between the two in about 95 of 100 cases, in somewhat fewer where one large sale outweighs
  the rest. Few sales, or sales that differ much, give a wide range; fewer than three give none, and neither do sales that
  came out all alike.</li>`;
