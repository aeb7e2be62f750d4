import type { DecimalMark } from '../units/decimal.ts';
import { type MassUg, type MassUnit, massUg } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';

/** How a weighing is written down: what the scale showed, what holds the material, and what is left. */
export interface Weighing {
  grossTyped: string;
  tareTyped: string;
  unit: MassUnit;
  grossUg: MassUg;
  tareUg: MassUg;
}

/** Gross less tare; null when the tare is not below the gross, which no scale can show. */
export function netOf({ grossUg, tareUg }: Pick<Weighing, 'grossUg' | 'tareUg'>): MassUg | null {
  return tareUg < grossUg ? massUg(grossUg - tareUg) : null;
}

/** Why there is no net, in words, with both figures. */
export function explainNoNet({ grossUg, tareUg, unit }: Weighing, mark: DecimalMark): string {
  return `The tare (${writeWeight(tareUg, unit, mark)}) is not below the reading (${writeWeight(grossUg, unit, mark)}).`;
}

/** Share of the full mark that is in the bin, 0 to 1 and above; null without a mark. For the picture only. */
export function fullness(mass: MassUg, fullMarkUg: MassUg | null): number | null {
  return fullMarkUg === null || fullMarkUg === 0 ? null : mass / fullMarkUg;
}

/** Kinds of lines in a bin's ledger as a person asks for them, each with its kinds of documents. */
export const ledgerKinds = {
  in: ['in_weight', 'shortfall'],
  counted: ['recount', 'shortfall'],
  moved: ['bin_transfer', 'stripping'],
  loaded: ['manifest_line', 'load_return'],
} as const;
