import { rangeOf } from './density.ts';
import type { Metal } from './metals.ts';

/** Tests that need no machine, in the order in which they are tried. */
export const handTests = ['hand', 'magnet', 'mark', 'file', 'make'] as const;
export type HandTest = (typeof handTests)[number];

/** One test and what it shows, each answer with the metals that give it. */
export interface Parting {
  readonly test: HandTest;
  readonly answers: readonly { readonly shows: string; readonly metals: readonly Metal[] }[];
}

/** What a hand can tell without a scale; only far apart densities feel different. */
function inTheHand(metal: Metal): string {
  const { low } = rangeOf(metal);
  if (low < 3.5) return 'light, like aluminium';
  if (low < 6) return 'between aluminium and iron';
  return low < 10 ? 'as heavy as iron or copper' : 'heavier than copper, like lead';
}

/** What a test shows of a metal. */
const shownBy = (test: HandTest, metal: Metal): string => (test === 'hand' ? inTheHand(metal) : metal[test]);

/** The tests that tell some of these metals from others; none where all give the same answer. */
export function partingTests(candidates: readonly Metal[]): Parting[] {
  return handTests.flatMap((test): Parting[] => {
    const groups = Map.groupBy(candidates, (metal) => shownBy(test, metal));
    if (groups.size < 2) return [];
    return [{ test, answers: [...groups].map(([shows, metals]) => ({ shows, metals })) }];
  });
}

/** Groups of metals that give the same answer to every test: nothing at hand parts those within one group. */
export function unparted(candidates: readonly Metal[]): Metal[][] {
  const answers = (metal: Metal): string => handTests.map((test) => shownBy(test, metal)).join('|');
  return [...Map.groupBy(candidates, answers).values()].filter((group) => group.length > 1);
}
