/**
 * The families that grades belong to, in the order in which lists show them: dearest trade first, steel and the mixed
 * wholes after it. The words are the trade's own; the name of a family is what the database and the files hold.
 */
export const gradeFamilies = [
  'copper',
  'insulated wire',
  'brass and bronze',
  'aluminium',
  'stainless',
  'lead and zinc',
  'ferrous',
  'motors and units',
  'electronics',
  'precious',
] as const;

export type GradeFamily = (typeof gradeFamilies)[number];

export interface FamilyGroup<Row> {
  family: string;
  rows: Row[];
}

/** Rows by family, in the families' order; within one, in the order they came. Families without a row are left out. */
export function groupByFamily<Row extends { family: string }>(rows: readonly Row[]): FamilyGroup<Row>[] {
  const families = new Set<string>([...gradeFamilies, ...rows.map((row) => row.family)]);
  return [...families]
    .map((family) => ({ family, rows: rows.filter((row) => row.family === family) }))
    .filter((group) => group.rows.length > 0);
}
