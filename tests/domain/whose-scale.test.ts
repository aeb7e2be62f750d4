import { describe, expect, test } from 'vitest';
import type { CheckSeen, Comparison, KnownScale } from '../../server/scales/compute.ts';
import { homeStretches, likelyCause, watchScales, whoseScale, yardRatios } from '../../server/scales/whose.ts';
import { day } from '../../server/units/day.ts';
import { massUg } from '../../server/units/mass.ts';
import { lb } from '../helper.ts';

// Invented sales, in pounds. The ranges are as wide as the spread makes them; the rule is what is tested here.
const scale = (key: string, checks: readonly CheckSeen[] = []): KnownScale => ({
  key,
  name: key,
  ownName: null,
  traits: { divisionUg: null, toleranceUg: null, accuracyClass: '' },
  checks,
});
const bench = scale('bench');

interface SaleGiven {
  yard: number;
  home?: KnownScale;
  on?: string;
  weight?: number;
  /** Yard weight over home weight. */
  ratio: number;
  z?: number;
}

let ticketId = 0;
function sale({ yard, home = bench, on = '2025-03-08', weight = 40, ratio, z = 0 }: SaleGiven): Comparison {
  ticketId += 1;
  const homeUg = lb(weight.toFixed(2));
  const yardUg = massUg(Math.round(homeUg * ratio));
  return {
    ticketId,
    ticketNumber: String(ticketId),
    soldOn: day(on),
    yardId: yard,
    labels: ['A'],
    homeUg,
    yardUg,
    homeScale: home,
    yardScale: scale(`yard ${yard}`),
    weighings: [],
    verdict: { kind: 'explained', differenceUg: massUg(yardUg - homeUg), allowedUg: lb('0.7') },
    z,
  };
}

/** Six sales around a ratio, four thousandths apart at most. */
const around = (yard: number, ratio: number): Comparison[] =>
  [-2, -1, 0, 0, 1, 2].map((step) => sale({ yard, ratio: ratio + step / 1000 }));
const found = (...sales: Comparison[]) => whoseScale(yardRatios(sales));

describe('whose scale is off', () => {
  test('every yard shows less, and by about as much: the scale at home', () => {
    expect(found(...around(1, 0.988), ...around(2, 0.9885))).toMatchObject({ kind: 'home', direction: 'less' });
  });

  test('every yard shows more', () => {
    expect(found(...around(1, 1.012), ...around(2, 1.0118), ...around(3, 1.0121))).toMatchObject({
      kind: 'home',
      direction: 'more',
    });
  });

  test('one yard apart, the other agrees with home: that yard', () => {
    const finding = found(...around(1, 1), ...around(2, 0.99), ...around(3, 1.0005));
    expect(finding).toMatchObject({ kind: 'yard', direction: 'less', yard: { scale: { key: 'yard 2' } } });
  });

  test('one yard off, but its range still meets the others: perhaps that yard', () => {
    const wide = [0.98, 0.99, 1, 1.01, 1.02, 0.985].map((ratio) => sale({ yard: 1, ratio }));
    expect(found(...wide, ...around(2, 0.995))).toMatchObject({ kind: 'perhaps a yard', direction: 'less' });
  });

  test('both off, and not by the same: not to be told', () => {
    expect(found(...around(1, 0.99), ...around(2, 0.97)).kind).toBe('unclear');
    expect(found(...around(1, 0.99), ...around(2, 1.01)).kind).toBe('unclear');
  });

  test('one yard alone cannot say which of the two scales it is', () => {
    expect(found(...around(1, 0.98))).toMatchObject({ kind: 'one yard', direction: 'less' });
    expect(found(...around(1, 0.98), sale({ yard: 2, ratio: 1 })).kind).toBe('one yard');
  });

  test('nothing stands out where every range holds no difference', () => {
    expect(found(...around(1, 1), ...around(2, 1.0003)).kind).toBe('nothing');
  });

  test('too few sales, or sales that are all alike, give no range and so nothing is said', () => {
    expect(found().kind).toBe('too few');
    expect(found(sale({ yard: 1, ratio: 0.9 }), sale({ yard: 1, ratio: 0.91 })).kind).toBe('too few');
    const alike = [1, 2, 3].map(() => sale({ yard: 1, ratio: 0.975 }));
    expect(found(...alike).kind).toBe('too few');
    expect(yardRatios(alike)[0]?.estimate).toMatchObject({ interval: null, noInterval: 'equal' });
  });

  test('what went over several scales of a yard is left out of its ratio', () => {
    expect(yardRatios([{ ...sale({ yard: 1, ratio: 1 }), yardScale: null }])).toEqual([]);
  });
});

describe('a scale at home that was adjusted', () => {
  const checks = [{ checkedOn: day('2025-06-01'), weightUg: lb('20'), readingUg: lb('20.25'), isAdjusted: true }];
  const home = scale('bench', checks);
  const asItRead = (yard: number) => around(yard, 0.988).map((each) => ({ ...each, homeScale: home }));
  const adjusted = (yard: number) =>
    around(yard, 1).map((each) => ({ ...each, homeScale: home, soldOn: day('2025-06-01') }));

  test('is looked at before and after it, the newest first', () => {
    const stretches = homeStretches([...asItRead(1), ...asItRead(2), ...adjusted(1), ...adjusted(2)]);
    expect(stretches.map(({ from, until, finding }) => [from, until, finding.kind])).toEqual([
      ['2025-06-01', null, 'nothing'],
      [null, '2025-06-01', 'home'],
    ]);
  });

  test('a weighing on no named scale stands apart, at the end', () => {
    const unnamed = around(1, 1).map((each) => ({ ...each, homeScale: null }));
    expect(homeStretches([...unnamed, ...adjusted(1)]).map(({ scale: own }) => own?.name ?? null)).toEqual([
      'bench',
      null,
    ]);
  });

  test('the sums begin anew on the day of the adjustment', () => {
    const low = (on: string) => ({ ...sale({ yard: 1, on, ratio: 0.988, z: -2 }), homeScale: home });
    const [watched] = watchScales([low('2025-05-01'), low('2025-05-02'), low('2025-06-01'), low('2025-06-02')]);
    expect(watched?.sales.map(({ step, freshSince }) => [step.lower, freshSince])).toEqual([
      [1.5, null],
      [3, null],
      [1.5, '2025-06-01'],
      [3, null],
    ]);
  });
});

describe('a difference that lasts', () => {
  const days = ['2025-01-01', '2025-02-01', '2025-03-01', '2025-04-01', '2025-05-01', '2025-06-01', '2025-07-01'];
  const run = (yard: number, zs: readonly number[]) =>
    zs.map((z, index) => sale({ yard, on: days[index] ?? '2025-08-01', ratio: 1 + z / 200, z }));

  test('is dated from the first sale of the run that passed the limit', () => {
    // Sums for less: 0, 0, 2, 4, 6, which is above 5.
    const [watched] = watchScales(run(1, [0.2, 0.4, -2.5, -2.5, -2.5]));
    expect(watched?.shifts).toMatchObject([
      { direction: 'less', began: { soldOn: '2025-03-01' }, found: { soldOn: '2025-05-01' }, until: null },
    ]);
    expect(watched?.shifts[0]?.ratio).toBeCloseTo(1 - 2.5 / 200, 6);
  });

  test('that goes on after a signal is one difference, and one the other way is another', () => {
    const [watched] = watchScales(run(1, [-6, -6, -6, 6, 6]));
    expect(
      watched?.shifts.map(({ direction, began, until, endedBy }) => [direction, began.soldOn, until, endedBy]),
    ).toEqual([
      ['less', '2025-01-01', '2025-04-01', 'other way'],
      ['more', '2025-04-01', null, null],
    ]);
  });

  test('is likely the home scale when another yard shows it too, the yard when others do not', () => {
    const low = run(1, [-6, -6]);
    const alike = watchScales([...low, ...run(2, [0, -6])]);
    const alone = watchScales([...low, ...run(2, [0, 0])]);
    const nobody = watchScales(low);
    const causeIn = (watched: typeof alike) => {
      const shift = watched[0]?.shifts[0];
      return shift === undefined ? 'no shift' : likelyCause(shift, watched, []);
    };
    expect([causeIn(alike), causeIn(alone), causeIn(nobody)]).toEqual(['home', 'yard', null]);
  });

  test('is of the scale at home when a check found it off that way, whatever the other yards show', () => {
    const low = run(1, [-6, -6]).concat(run(2, [0, 0]));
    const found = { checkedOn: day('2025-09-01'), weightUg: lb('20'), readingUg: lb('20.25'), isAdjusted: false };
    const marked = { ...scale('bench', [found]), traits: { ...bench.traits, toleranceUg: lb('0.1') } };
    const sales = low.map((each) => ({ ...each, homeScale: marked }));
    const watched = watchScales(sales);
    const shift = watched[0]?.shifts[0];
    expect(shift && likelyCause(shift, watched, homeStretches(sales))).toBe('home');
    expect(shift && likelyCause(shift, watched, [])).toBe('yard');
  });

  test('leaves out sales for which something is not known, and says what', () => {
    const unknown: Comparison = {
      ...sale({ yard: 1, ratio: 0.9 }),
      verdict: { kind: 'unknown', missing: [{ kind: 'scale', side: 'home', scaleName: '' }] },
      z: null,
    };
    const [watched] = watchScales([unknown, ...run(1, [0, 0])]);
    expect(watched).toMatchObject({ leftOut: 1, missing: [{ kind: 'scale' }] });
    expect(watched?.sales).toHaveLength(2);
  });
});
