/** How many grades a kind may have as rules of thumb; more would say that somebody weighed it. */
export const MOST_YIELDS = 8;

/** The names of the fields of one row of the rules of thumb, counted from 1. */
export const yieldFields = (row: number) => ({ grade: `yieldGrade-${row}`, percent: `yieldPercent-${row}` }) as const;
