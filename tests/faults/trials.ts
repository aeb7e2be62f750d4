/** Whether `npm run test:faults` runs, which takes its time, and not `npm test`, which shows that each trial works. */
export const isThorough = process.env.TAREBOOK_TRIALS === 'all';

/** How often to try something: a few times in `npm test`, as often as the claim says in `npm run test:faults`. */
export const trials = (few: number, all: number): number => (isThorough ? all : few);

/** Prints one figure for the table in DEVELOPERS.md. */
export const measured = (what: string, figure: string): void => console.log(`${what}: ${figure}`);
