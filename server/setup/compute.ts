/**
 * The accuracy classes that scales for such weighing carry on their plate, and "unmarked" for a plate without one.
 * Source: NIST Handbook 44, section 2.20 (scales), accuracy classes and devices not marked with one; from memory.
 */
export const scaleClasses = ['III', 'III L', 'IIII', 'unmarked'] as const;
