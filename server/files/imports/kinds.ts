import { bins } from './bins.ts';
import { grades } from './grades.ts';
import { inWeights } from './in-weights.ts';
import { itemKinds } from './item-kinds.ts';
import { items } from './items.ts';
import { loads } from './loads.ts';
import { quotes } from './quotes.ts';
import type { ImportKind } from './rows.ts';
import { scaleChecks } from './scale-checks.ts';
import { ticketLines } from './ticket-lines.ts';
import { ticketTotals } from './ticket-totals.ts';
import { yardScales } from './yard-scales.ts';
import { scales, yards } from './yards.ts';

/** What can be imported, in the order in which a whole ledger must be: each kind names rows of those before it. */
export const importKinds: readonly ImportKind[] = [
  grades,
  bins,
  yards,
  yardScales,
  scales,
  scaleChecks,
  quotes,
  itemKinds,
  items,
  inWeights,
  loads,
  ticketLines,
  ticketTotals,
];

export const findImportKind = (name: string): ImportKind | undefined => importKinds.find((kind) => kind.name === name);
