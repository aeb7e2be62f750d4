import { errorDecimals } from '../../server/scales/check-errors.ts';
import { type CheckSeen, errorOf } from '../../server/scales/compute.ts';
import { toleranceAt, traitsOf } from '../../server/scales/tolerance.ts';
import type { Scale } from '../../server/setup/queries.ts';
import type { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';
import { shownAmount } from '../../server/units/write-weight.ts';
import type { Show } from '../common/show.ts';

type InUnit = Pick<Scale, 'unit'>;

/** Micrograms, of which a mean or a deviation has fractions, as an amount in the scale's unit. */
export const inUnit = ({ unit }: InUnit, ug: number): Decimal => shownAmount(massUg(Math.round(ug)), unit);

/** "0.04 lb" */
export const sized = (show: Show, scale: InUnit, ug: number, decimals: number): string =>
  `${show.figure(inUnit(scale, ug), decimals)} ${scale.unit}`;

/** "0.05 lb too high", "0.05 lb too low"; "right" also where nothing of the error is left at so many decimals. */
export function offText(show: Show, scale: InUnit, errorUg: number, decimals: number): string {
  const size = show.figure(inUnit(scale, Math.abs(errorUg)), decimals);
  return /[1-9]/.test(size) ? `${size} ${scale.unit} too ${errorUg > 0 ? 'high' : 'low'}` : 'right';
}

/** "0.05 lb too high at 20.00 lb" */
export const foundAt = (show: Show, scale: InUnit, check: CheckSeen, decimals: number): string =>
  `${offText(show, scale, errorOf(check), decimals)} at ${show.weight(check.weightUg, scale.unit)}`;

/** What a check found that is not settled: "0.30 lb too high at 20.00 lb", and what the scale may be off by there. */
export function failedTexts(
  show: Show,
  scale: Pick<Scale, 'unit' | 'division' | 'class' | 'tolerance'>,
  failed: CheckSeen,
): { found: string; allowed: string } {
  const traits = traitsOf(scale);
  const decimals = errorDecimals([failed], traits, scale.unit);
  const tolerance = toleranceAt(traits, failed.weightUg) ?? 0;
  return {
    found: foundAt(show, scale, failed, decimals),
    allowed: `± ${sized(show, scale, tolerance, decimals)}`,
  };
}
