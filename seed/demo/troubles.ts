import { type Day, day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';

/**
 * What is wrong in the demo, on purpose and known exactly, so that a page that looks for such troubles can be held
 * against what was put in.
 */

/** First day of the demo's history, a Saturday, and the day it always is in the demo. */
export const demoBegins: Day = day('2025-01-04');
export const demoToday: Day = day('2026-03-14');

/** The bench scale at home shows this much too much (true weight × 1.012) until it is adjusted; from that day on, 1. */
export const benchReadsHeavy = new Decimal('1.012');
export const benchAdjustedOn: Day = day('2025-08-23');

/** The platform scale of Demo Yard South shows this much of the true weight from that day on; before it, 1. */
export const southReadsLow = new Decimal('0.99');
export const southDriftsFrom: Day = day('2025-11-01');

/** A platform scale at a yard is honest within half its division of 0.5 lb, besides that drift. */
export const platformDivision = new Decimal('0.5');
/** Steel goes over the truck scale, and only in whole divisions of it. */
export const truckDivision = new Decimal(20);

export const benchDivision = new Decimal('0.05');
export const floorDivision = new Decimal('0.5');

/** What the bench scale at home makes of a true weight on a day. */
export const benchFactor = (on: Day): Decimal => (on < benchAdjustedOn ? benchReadsHeavy : new Decimal(1));

/** What a yard's platform scale makes of a true weight on a day. */
export const platformFactor = (yard: 'North' | 'South', on: Day): Decimal =>
  yard === 'South' && on >= southDriftsFrom ? southReadsLow : new Decimal(1);
