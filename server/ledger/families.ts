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
