import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { maintenanceTolerance, toleranceAt } from '../../server/scales/tolerance.ts';

// Source: NIST Handbook 44, section 2.20 (scales), Table 6, maintenance tolerances in scale divisions. Class III was
// looked up at second hand (a metrology forum quoting the 2007 edition, and a weighing handbook of 1999 with the
// acceptance figures, which are half of these); III L and IIII are from memory. See scale-tolerances.json.
interface PublishedSteps {
  class: string;
  steps_divisions_from_to_tolerance_d: [from: number, to: number | null, tolerance: number][];
  status: string;
}
interface Published {
  hb44_table6_maintenance: PublishedSteps[];
  oimlr76_mpe: { III: [above: number, upTo: number, mpe: number][] };
}
const published: Published = JSON.parse(readFileSync(new URL('scale-tolerances.json', import.meta.url), 'utf8'));

describe.each(published.hb44_table6_maintenance)('class $class ($status)', (steps) => {
  test.each(steps.steps_divisions_from_to_tolerance_d)('from %s to %s divisions: %s', (from, to, tolerance) => {
    expect(maintenanceTolerance(steps.class, from)).toBe(tolerance);
    expect(maintenanceTolerance(steps.class, to ?? from * 10)).toBe(tolerance);
  });
});

test('class III L: one division more for each further 500 or fraction of it (from memory)', () => {
  const at = (divisions: number) => maintenanceTolerance('III L', divisions);
  expect([1000, 1001, 1500, 1501, 2000, 10_000].map(at)).toEqual([2, 3, 3, 4, 4, 20]);
});

// Source: a metrology forum thread quoting Handbook 44, 2007 edition (looked up); d = 0.05 lb.
test('class III at d = 0.05 lb: 0.15 lb at 150 lb and 0.25 lb at 500 lb', () => {
  const lb = 453_592_370;
  const traits = { divisionUg: 0.05 * lb, toleranceUg: null, accuracyClass: 'III' };
  expect((toleranceAt(traits, 150 * lb) ?? 0) / lb).toBeCloseTo(0.15, 9);
  expect((toleranceAt(traits, 500 * lb) ?? 0) / lb).toBeCloseTo(0.25, 9);
});

// Source: OIML R 76-1 (2006), Table 6, in service twice the initial errors; looked up in UK SI 1995/1907, Schedule 2.
test('at 1,500 divisions the other published rule, OIML R 76 in service, gives the same for class III', () => {
  const step = published.oimlr76_mpe.III.find(([above, upTo]) => 1500 > above && 1500 <= upTo);
  expect(maintenanceTolerance('III', 1500)).toBe(2 * (step?.[2] ?? 0));
});

test('a class without a table, or none, has no tolerance of its own', () => {
  const traits = { divisionUg: 100, toleranceUg: null, accuracyClass: 'unmarked' };
  expect(maintenanceTolerance('unmarked', 100)).toBeNull();
  expect(toleranceAt(traits, 1000)).toBeNull();
  expect(toleranceAt({ ...traits, accuracyClass: 'III', divisionUg: null }, 1000)).toBeNull();
  expect(toleranceAt({ ...traits, toleranceUg: 50 }, 1000)).toBe(50);
});
