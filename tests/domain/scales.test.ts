import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type CheckSeen,
  type KnownScale,
  queryReading,
  type ScaleReading,
  standardised,
  stretchesOf,
  uncertaintyOf,
  verdictOn,
  type Weighing,
} from '../../server/scales/compute.ts';
import { traitsOf } from '../../server/scales/tolerance.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';
import { lb } from '../helper.ts';

// All figures invented and worked out by hand, in pounds.
const POUND = 453_592_370;
const ON = day('2025-03-08');

const bench: KnownScale = {
  key: 'home 1',
  name: 'Bench scale',
  ownName: null,
  traits: traitsOf({ unit: 'lb', division: '0.05', class: '', tolerance: '0.1' }),
  checks: [],
};
const platform: KnownScale = {
  key: 'yard 1',
  name: 'Demo Yard North',
  ownName: null,
  traits: traitsOf({ unit: 'lb', division: '0.5', class: 'III', tolerance: '' }),
  checks: [],
};

const on = (scale: KnownScale | null, gross: string, more: Partial<Weighing> = {}): Weighing => ({
  side: scale?.key.startsWith('yard') ? 'yard' : 'home',
  scale,
  grossUg: lb(gross),
  on: ON,
  sign: 1,
  isEstimate: false,
  ...more,
});

const standardLb = (weighings: Weighing[]): number => {
  const uncertainty = uncertaintyOf(weighings);
  if (!uncertainty.isKnown) throw new Error(JSON.stringify(uncertainty.missing));
  return uncertainty.standardUg / POUND;
};

describe('the uncertainty of a weight', () => {
  test('one load-out: two readings in steps of 0.05 and ± 0.1 stated', () => {
    // √(2 · 0.05²/12 + (0.1/√3)²) = √(0.000416667 + 0.003333333)
    expect(standardLb([on(bench, '32')])).toBeCloseTo(0.0612372, 6);
  });

  test('a yard of class III with 0.5 lb: one division up to 250 lb, two above', () => {
    expect(standardLb([on(platform, '250')])).toBeCloseTo(Math.sqrt((2 * 0.25) / 12 + 0.25 / 3), 6);
    expect(standardLb([on(platform, '250.5')])).toBeCloseTo(Math.sqrt((2 * 0.25) / 12 + 1 / 3), 6);
  });

  test('a book weight of three weighings: readings add in squares, the one tolerance adds up', () => {
    const three = [on(bench, '10'), on(bench, '12'), on(bench, '8')];
    expect(standardLb(three)).toBeCloseTo(Math.sqrt((6 * 0.0025) / 12 + 0.3 ** 2 / 3), 6);
  });

  test('what was weighed out again on the same scale takes its error along', () => {
    const inAndOut = [on(bench, '10'), on(bench, '12'), on(bench, '8', { sign: -1 })];
    expect(standardLb(inAndOut)).toBeCloseTo(Math.sqrt((6 * 0.0025) / 12 + 0.1 ** 2 / 3), 6);
  });

  test('two scales do not share their errors', () => {
    const other = { ...bench, key: 'home 2' };
    expect(standardLb([on(bench, '10'), on(other, '12')])).toBeCloseTo(
      Math.sqrt((4 * 0.0025) / 12 + (2 * 0.1 ** 2) / 3),
      6,
    );
  });

  test('a check that found more than the tolerance raises it, until the scale was adjusted', () => {
    const checks: CheckSeen[] = [
      { checkedOn: day('2025-04-01'), weightUg: lb('20'), readingUg: lb('20.25'), isAdjusted: true },
      { checkedOn: day('2025-04-01'), weightUg: lb('20'), readingUg: lb('20.05'), isAdjusted: false },
    ];
    const checked = { ...bench, checks };
    expect(standardLb([on(checked, '32')])).toBeCloseTo(Math.sqrt((2 * 0.0025) / 12 + 0.25 ** 2 / 3), 6);
    expect(standardLb([on(checked, '32', { on: day('2025-04-01') })])).toBeCloseTo(0.0612372, 6);
    expect(standardLb([on(checked, '32', { on: day('2025-06-01') })])).toBeCloseTo(0.0612372, 6);
  });

  test.each([
    ['no scale named', on(null, '10'), 'scale'],
    ['no division', on({ ...bench, traits: { ...bench.traits, divisionUg: null } }, '10'), 'division'],
    [
      'neither class nor tolerance',
      on({ ...bench, traits: { ...bench.traits, toleranceUg: null } }, '10'),
      'tolerance',
    ],
    ['an estimate', on(bench, '10', { isEstimate: true }), 'estimate'],
  ])('%s: says what is missing', (_, weighing, kind) => {
    const uncertainty = uncertaintyOf([on(platform, '10'), weighing]);
    expect(uncertainty).toMatchObject({ isKnown: false, missing: [{ kind }] });
  });

  test('no weighings at all are no certainty', () => {
    expect(uncertaintyOf([])).toMatchObject({ isKnown: false, missing: [{ kind: 'weighings' }] });
  });

  test('each thing that is missing is said once', () => {
    const uncertainty = uncertaintyOf([on(null, '10'), on(null, '20'), on({ ...bench, key: 'home 9' }, '1')]);
    expect(uncertainty).toMatchObject({ missing: [{ kind: 'scale', side: 'home' }] });
  });
});

describe('what the two scales can explain', () => {
  // u² = 0.00375 + 0.125, so twice u is 0.717635 lb.
  const both = [on(bench, '32'), on(platform, '32')];

  test.each([
    ['29.30', 'explained'],
    ['30.70', 'explained'],
    ['29.25', 'unexplained'],
    ['30.75', 'unexplained'],
  ])('30 lb at home and %s lb at the yard: %s', (yard, kind) => {
    expect(verdictOn(lb('30'), lb(yard), both)).toMatchObject({ kind });
  });

  test('it says how far apart they are and may be', () => {
    const verdict = verdictOn(lb('30'), lb('29.25'), both);
    if (verdict.kind === 'unknown') throw new Error('known');
    expect(verdict.differenceUg / POUND).toBeCloseTo(-0.75, 6);
    expect(verdict.allowedUg / POUND).toBeCloseTo(0.717635, 5);
    expect(standardised(lb('30'), lb('29.25'), both)).toBeCloseTo(-0.75 / 0.3588175, 5);
  });

  test('without what is needed there is no verdict', () => {
    expect(verdictOn(lb('30'), lb('20'), [on(null, '32'), on(platform, '32')])).toMatchObject({
      kind: 'unknown',
      missing: [{ kind: 'scale', side: 'home' }],
    });
  });
});

describe('the query weight', () => {
  const standardUg = 0.3588175 * POUND;
  const of = (home: string, tare = '0', division = '0.5') =>
    queryReading({ homeUg: lb(home), tareUg: lb(tare), standardAt: () => standardUg }, lb(division), 'lb');
  const written = (reading: ScaleReading | null | undefined) =>
    reading == null ? null : `${reading.amount.toFixed(reading.decimals)} ${reading.unit}`;

  test('is the largest reading below home weight less twice the uncertainty', () => {
    expect(written(of('30')?.net)).toBe('29.0 lb');
    expect(written(of('61.4')?.net)).toBe('60.5 lb');
    expect(written(of('61.4', '0', '0.05')?.net)).toBe('60.65 lb');
  });

  test('a whole division that is just explained is not asked about: the one below is', () => {
    const exact = queryReading({ homeUg: lb('30'), tareUg: 0, standardAt: () => lb('0.5') }, lb('0.5'), 'lb');
    expect(written(exact?.net)).toBe('28.5 lb');
  });

  test('is told with the container too, as the display shows it', () => {
    expect(written(of('30', '2.05')?.gross)).toBe('31.0 lb');
    expect(of('30')?.gross).toBeNull();
  });

  test('in the unit of a yard that weighs in kilograms', () => {
    // 61.4 lb is 27.8506 kg, less 0.3255 kg is 27.525 kg.
    const inKilograms = queryReading(
      { homeUg: lb('61.4'), tareUg: 0, standardAt: () => standardUg },
      200_000_000,
      'kg',
    );
    expect(written(inKilograms?.net)).toBe('27.4 kg');
  });

  test('none for a load that is lighter than the scale can tell', () => {
    expect(of('0.6')).toBeNull();
    expect(queryReading({ homeUg: lb('15'), tareUg: 0, standardAt: () => 0.5 * POUND }, lb('20'), 'lb')).toBeNull();
  });

  test('none for a step so small that it shows as nothing, and no search without an end', () => {
    const load = { homeUg: lb('30'), tareUg: 0, standardAt: () => standardUg };
    expect(queryReading(load, 100, 'lb')).toBeNull();
    expect(written(queryReading(load, 1_000, 'lb')?.net)).toBe('29.282364 lb');
  });

  test('just above a step of the class goes by the tolerance that the yard’s scale has at the reading itself', () => {
    // Class III with 0.5 lb: two divisions above 250 lb, so twice u is 1.23 at home, but 0.72 at the 250.0 it is asked at.
    const yardAt = (netUg: number) => on(platform, '0', { grossUg: netUg });
    const homeUg = lb('251');
    const standardAt = (netUg: number) => standardLb([on(bench, '251'), yardAt(netUg)]) * POUND;
    expect(written(queryReading({ homeUg, tareUg: 0, standardAt }, lb('0.5'), 'lb')?.net)).toBe('250.0 lb');
    expect(verdictOn(homeUg, lb('250'), [on(bench, '251'), yardAt(lb('250'))])).toMatchObject({ kind: 'unexplained' });
  });

  test('says what the verdict says: at it the scales cannot explain the difference, one division above they can', () => {
    const divisions = fc.constantFrom('0.05', '0.5', '1', '20');
    const classes = fc.constantFrom('III', 'III L', 'IIII');
    const traits = fc
      .tuple(divisions, classes)
      .map(([division, accuracyClass]) => ({ division, class: accuracyClass, unit: 'lb', tolerance: '' }) as const);
    const hundredths = (max: number) => fc.integer({ min: 100, max }).map((count) => (count / 100).toFixed(2));
    fc.assert(
      fc.property(hundredths(200_000), hundredths(3_000), traits, traits, (home, tare, atHome, atYard) => {
        const [homeUg, tareUg] = [lb(home), lb(tare)];
        const weighingsAt = (netUg: number) => [
          on({ ...bench, traits: traitsOf(atHome) }, '0', { grossUg: homeUg + tareUg }),
          on({ ...platform, traits: traitsOf(atYard) }, '0', { grossUg: netUg + tareUg }),
        ];
        const standardAt = (netUg: number) => standardLb(weighingsAt(netUg)) * POUND;
        const query = queryReading({ homeUg, tareUg, standardAt }, lb(atYard.division), 'lb');
        const verdictAt = (reading: ScaleReading | null | undefined, steps: number, besideUg: number) => {
          const amount = (reading?.amount ?? new Decimal(0)).plus(new Decimal(atYard.division).times(steps));
          const netUg = massUg(lb(amount.toFixed()) - besideUg);
          return verdictOn(homeUg, netUg, weighingsAt(netUg)).kind;
        };
        if (query !== null) expect(verdictAt(query.net, 0, 0)).toBe('unexplained');
        expect(verdictAt(query?.net, 1, 0)).toBe('explained');
        if (query === null) return;
        expect(verdictAt(query.gross, 0, tareUg)).toBe('unexplained');
        expect(verdictAt(query.gross, 1, tareUg)).toBe('explained');
      }),
      { numRuns: 300 },
    );
  });
});

describe('the stretches between adjustments', () => {
  const check = (checkedOn: string, isAdjusted: boolean): CheckSeen => ({
    checkedOn: day(checkedOn),
    weightUg: massUg(1),
    readingUg: massUg(1),
    isAdjusted,
  });

  test('the check that led to an adjustment belongs to what was before it', () => {
    const checks = [
      check('2025-01-10', false),
      check('2025-03-01', true),
      check('2025-03-01', false),
      check('2025-06-01', true),
    ];
    expect(stretchesOf(checks).map(({ from, until, checks: own }) => [from, until, own.length])).toEqual([
      [null, '2025-03-01', 2],
      ['2025-03-01', '2025-06-01', 2],
      ['2025-06-01', null, 0],
    ]);
  });

  test('a scale that was never adjusted has one', () => {
    expect(stretchesOf([])).toEqual([{ from: null, until: null, checks: [] }]);
  });
});
