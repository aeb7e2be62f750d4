import { recordCheck, undoCheck } from '../../server/scales/acts.ts';
import type { Day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { type Agenda, type Household, lb, showOnScale } from './household.ts';
import { benchAdjustedOn, benchDivision, benchReadsHeavy } from './troubles.ts';

/** The known weights of the household: marked check weights. */
const BENCH_WEIGHT = '20';
const FLOOR_WEIGHT = '50';

/**
 * Nobody checked a scale before the tickets of the summer looked odd; then the bench scale was found to read heavy and was
 * adjusted. Since then it is checked now and then, and is due again by the end of the demo.
 */
export function planChecks(house: Household, agenda: Agenda): void {
  const check = (
    on: Day,
    scale: 'bench' | 'floor',
    reading: string,
    more: { isAdjusted?: boolean; note?: string } = {},
  ) => {
    const weight = scale === 'bench' ? BENCH_WEIGHT : FLOOR_WEIGHT;
    return recordCheck(house.at(on), {
      scaleId: house.scales[scale],
      checkedOn: on,
      weightTyped: weight,
      readingTyped: reading,
      unit: 'lb',
      weightUg: lb(weight),
      readingUg: lb(reading),
      isAdjusted: more.isAdjusted ?? false,
      note: more.note ?? '',
    });
  };
  const heavy = showOnScale(new Decimal(BENCH_WEIGHT).times(benchReadsHeavy), benchDivision);
  agenda.on(benchAdjustedOn, (on) => {
    check(on, 'bench', heavy, { isAdjusted: true, note: 'both yards showed less all summer' });
    check(on, 'bench', '20.00', { note: 'after the adjustment' });
    check(on, 'floor', '50.0');
  });
  agenda.on('2025-10-04', (on) => {
    check(on, 'bench', '20.05');
    // Typed with a slip and taken back.
    const slip = check(on, 'floor', '55.0');
    undoCheck(house.at(on), slip);
    check(on, 'floor', '50.0');
  });
  agenda.on('2025-12-06', (on) => check(on, 'bench', '20.00'));
  agenda.on('2026-01-10', (on) => check(on, 'floor', '50.0'));
}
