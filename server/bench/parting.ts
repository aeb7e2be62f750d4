import type { Metal } from './metals.ts';

/** Tests that need no machine, in the order in which they are tried. */
export const handTests = ['magnet', 'mark', 'file', 'make'] as const;
export type HandTest = (typeof handTests)[number];

/** One test and what it shows, each answer with the metals that give it. */
export interface Parting {
  readonly test: HandTest;
  readonly answers: readonly { readonly shows: string; readonly metals: readonly Metal[] }[];
}

/** The tests that tell some of these metals from others; none where all give the same answer. */
export function partingTests(candidates: readonly Metal[]): Parting[] {
  return handTests.flatMap((test): Parting[] => {
    const groups = Map.groupBy(candidates, (metal) => metal[test]);
    if (groups.size < 2) return [];
    return [{ test, answers: [...groups].map(([shows, metals]) => ({ shows, metals })) }];
  });
}

/** Groups of metals that give the same answer to every test: nothing at hand parts those within one group. */
export function unparted(candidates: readonly Metal[]): Metal[][] {
  const answers = (metal: Metal): string => handTests.map((test) => metal[test]).join('|');
  return [...Map.groupBy(candidates, answers).values()].filter((group) => group.length > 1);
}
