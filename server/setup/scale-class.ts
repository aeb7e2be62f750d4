/**
 * The accuracy classes that scales for such weighing carry on their plate, and "unmarked" for a plate without one.
 * Source: NIST Handbook 44, section 2.20, Table 7a (classes III, III L, IIII; unmarked scales have their own tolerances).
 */
export const scaleClasses = ['III', 'III L', 'IIII', 'unmarked'] as const;
export type ScaleClass = (typeof scaleClasses)[number];
