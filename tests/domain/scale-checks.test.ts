import { beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { listBinsOnHand, updateBin } from '../../server/ledger/queries.ts';
import { Refusal } from '../../server/refusal.ts';
import { type CheckInput, recordCheck, undoCheck } from '../../server/scales/acts.ts';
import { errorDecimals, summariseChecks } from '../../server/scales/check-errors.ts';
import { type CheckSeen, isWithin } from '../../server/scales/compute.ts';
import { isCheckDue, unsettledCheck } from '../../server/scales/due.ts';
import { isFarOff } from '../../server/scales/forms.ts';
import { lastCheckedScales, lastCheckedScalesInUse, listChecks, standingChecks } from '../../server/scales/queries.ts';
import { traitsOf } from '../../server/scales/tolerance.ts';
import { saveScale } from '../../server/setup/acts.ts';
import { day } from '../../server/units/day.ts';
import { massUg } from '../../server/units/mass.ts';
import { binId, lb, newLedger, setUpWorkedExample, TODAY } from '../helper.ts';

const check = (on: string, weight: string, reading: string, isAdjusted = false): CheckSeen => ({
  checkedOn: day(on),
  weightUg: lb(weight),
  readingUg: lb(reading),
  isAdjusted,
});
const NOTHING_KNOWN = traitsOf({ unit: 'lb', division: '', class: '', tolerance: '' });
/** Micrograms as pounds, to four decimals. */
const pounds = (ug: number | null | undefined) => (ug == null ? ug : Math.round((ug / lb('1')) * 10_000) / 10_000);

describe('when a check is due', () => {
  const due = (last: string | null, added: string | null, everyDays = 90) =>
    isCheckDue(
      { last_checked_on: last === null ? null : day(last), added_on: added === null ? null : day(added) },
      TODAY,
      everyDays,
    );

  test.each([
    ['the day after so many days have gone', '2024-12-19', null, true],
    ['not on the last of these days', '2024-12-20', null, false],
    ['counted from the newest check, however long the scale is in use', '2025-03-19', '2019-01-01', false],
    ['counted from the day it came into use when it was never checked', null, '2024-12-19', true],
    ['and not before', null, '2024-12-20', false],
    ['at once when it is not known how old it is', null, null, true],
  ])('%s', (_, last, added, expected) => {
    // 20 March 2025 less 90 days is 20 December 2024.
    expect(due(last, added)).toBe(expected);
  });

  test('after as many days as the ledger says', () => {
    expect([due('2025-03-18', null, 1), due('2025-03-18', null, 2)]).toEqual([true, false]);
  });
});

describe('a check that is not settled', () => {
  const traits = traitsOf({ unit: 'lb', division: '0.05', class: '', tolerance: '0.1' });
  const newest = (reading: string, isAdjusted: 0 | 1 = 0) => ({
    last_checked_on: day('2025-03-01'),
    weight_ug: lb('20'),
    reading_ug: lb(reading),
    is_adjusted: isAdjusted,
  });

  test.each([
    ['found more than the tolerance', newest('20.15'), true],
    ['or as much too little', newest('19.85'), true],
    ['is none when the error is the tolerance', newest('20.10'), false],
    ['is settled when the scale was adjusted after it', newest('20.15', 1), false],
    [
      'is none before any check',
      { last_checked_on: null, weight_ug: null, reading_ug: null, is_adjusted: null },
      false,
    ],
  ])('%s', (_, last, expected) => {
    expect(unsettledCheck(traits, last) !== null).toBe(expected);
  });

  test('cannot be told without a tolerance', () => {
    expect(unsettledCheck(NOTHING_KNOWN, newest('25'))).toBeNull();
  });
});

describe('what checks say together', () => {
  test('only those since the last adjustment count, and the check that led to it is before it', () => {
    const checks = [
      check('2025-01-01', '10', '10.30'),
      check('2025-02-01', '20', '20.60', true),
      check('2025-02-01', '20', '20.02'),
      check('2025-03-01', '10', '9.95'),
      check('2025-03-01', '20', '20.00'),
    ];
    const { adjustedOn, count, largest, meanErrorUg, repeated } = summariseChecks(checks, NOTHING_KNOWN);
    expect([adjustedOn, count]).toEqual(['2025-02-01', 3]);
    expect(largest).toEqual(checks[3]);
    // By hand: (0.02 − 0.05 + 0) / 3 = −0.01.
    expect(pounds(meanErrorUg)).toBe(-0.01);
    // By hand: 20.02 and 20.00 lie 0.02 apart, so s = 0.02 / √2 = 0.0141.
    expect([repeated?.weightUg, repeated?.count, pounds(repeated?.deviationUg)]).toEqual([lb('20'), 2, 0.0141]);
  });

  test('without a check, or none since it was adjusted, nothing is said', () => {
    const nothing = { count: 0, largest: null, failed: null, before: null, meanErrorUg: null, repeated: null };
    expect(summariseChecks([], NOTHING_KNOWN)).toEqual({ ...nothing, adjustedOn: null });
    const adjusted = check('2025-02-01', '20', '20.60', true);
    expect(summariseChecks([adjusted], NOTHING_KNOWN)).toEqual({
      ...nothing,
      before: adjusted,
      adjustedOn: '2025-02-01',
    });
  });

  test('an error that a light load does not allow counts, though a heavy load was off by more', () => {
    const traits = traitsOf({ unit: 'lb', division: '0.05', class: 'III', tolerance: '' });
    // Class III: one division up to 500 of them (25 lb), two above. Source: as in server/scales/tolerance.ts.
    const checks = [check('2025-02-01', '50', '50.10'), check('2025-02-02', '10', '10.10')];
    const { largest, failed } = summariseChecks(checks, traits);
    expect([largest, failed]).toEqual([checks[0], checks[1]]);
  });

  test('checks with different weights have no spread of their own', () => {
    const checks = [check('2025-02-01', '20', '20.1'), check('2025-02-02', '10', '10.1')];
    expect(summariseChecks(checks, NOTHING_KNOWN).repeated).toBeNull();
  });

  test('an error of exactly the tolerance is within it, though pounds are rounded to the microgram', () => {
    for (let hundredths = 1; hundredths <= 4000; hundredths += 7) {
      const [weight, reading] = [String(hundredths / 100), String((hundredths + 5) / 100)];
      expect([weight, isWithin(lb(reading) - lb(weight), lb('0.05'))]).toEqual([weight, true]);
    }
    expect([isWithin(lb('0.06'), lb('0.05')), isWithin(-lb('0.05'), lb('0.05')), isWithin(5, null)]).toEqual([
      false,
      true,
      null,
    ]);
  });

  test('errors are shown as finely as the scale and what was typed, and no finer', () => {
    const traits = (division: string) => traitsOf({ unit: 'lb', division, class: '', tolerance: '' });
    const kilos: CheckSeen = { ...check('2025-02-01', '1', '1'), weightUg: massUg(2e9), readingUg: massUg(2e9) };
    expect([
      errorDecimals([check('2025-02-01', '10', '10.05')], traits(''), 'lb'),
      errorDecimals([check('2025-02-01', '10', '10')], traits('0.005'), 'lb'),
      errorDecimals([check('2025-02-01', '10', '11')], traits('1'), 'lb'),
      errorDecimals([kilos], traits(''), 'lb'),
      // 1 g is 0.0022 lb.
      errorDecimals([check('2025-02-01', '10', '10.1')], traits('1 g'), 'lb'),
    ]).toEqual([2, 3, 0, 2, 4]);
  });

  test('more than a fifth off is asked about, a fifth is not', () => {
    const isFar = (weight: number, reading: number) =>
      isFarOff({ weightUg: massUg(weight), readingUg: massUg(reading) });
    expect([isFar(10, 12), isFar(10, 8), isFar(100, 121), isFar(100, 79), isFar(10, 0)]).toEqual([
      false,
      false,
      true,
      true,
      true,
    ]);
  });
});

describe('checks in the ledger', () => {
  let ledger: Ledger;
  let bench: number;
  let floor: number;
  const scale = (name: string) => ({ name, unit: 'lb', division: '', capacity: '', class: '', tolerance: '' }) as const;
  const input = (scaleId: number, on: string, reading = '10.1'): CheckInput => ({
    scaleId,
    checkedOn: day(on),
    weightTyped: '10',
    readingTyped: reading,
    unit: 'lb',
    weightUg: lb('10'),
    readingUg: lb(reading),
    isAdjusted: false,
    note: '',
  });
  const codeOf = (act: () => unknown) => {
    try {
      act();
    } catch (error) {
      if (error instanceof Refusal) return [error.code, error.field];
      throw error;
    }
    return 'done';
  };

  beforeEach(() => {
    ledger = newLedger();
    setUpWorkedExample(ledger);
    bench = saveScale(ledger, null, scale('bench'));
    floor = saveScale(ledger, null, scale('floor'));
  });

  test('those that stand come by scale, by day, then as they were written down', () => {
    const ids = [
      recordCheck(ledger, input(floor, '2025-01-01')),
      recordCheck(ledger, input(bench, '2025-03-01')),
      recordCheck(ledger, input(bench, '2025-02-01')),
      recordCheck(ledger, input(bench, '2025-02-01', '10.2')),
    ];
    const [first, second, third, fourth] = ids;
    expect(standingChecks(ledger.db).map(({ id }) => id)).toEqual([third, fourth, second, first]);
    expect(standingChecks(ledger.db, floor).map(({ id }) => id)).toEqual([first]);
  });

  test('one taken back counts no more, and both rows stay', () => {
    const id = recordCheck(ledger, input(bench, '2025-03-01'));
    recordCheck(ledger, input(bench, '2025-02-01'));
    undoCheck(ledger, id);
    expect(standingChecks(ledger.db).map((each) => each.checked_on)).toEqual(['2025-02-01']);
    expect(listChecks(ledger.db, bench).map((each) => each.is_undone)).toEqual([0, 1]);
    expect(lastCheckedScales(ledger.db).map((each) => each.last_checked_on)).toEqual(['2025-02-01', null]);
    expect(codeOf(() => undoCheck(ledger, id))).toEqual(['already_undone', '']);
    expect(codeOf(() => undoCheck(ledger, 99))).toEqual(['not_found', '']);
    const { sqlite } = ledger.db;
    for (const table of ['scale_check', 'scale_check_undone']) {
      expect(() => sqlite.prepare(`delete from ${table}`).run()).toThrow('append-only');
      expect(() => sqlite.prepare(`update ${table} set recorded_at = ''`).run()).toThrow('append-only');
    }
    const acts = sqlite.prepare("select act from event where document_kind = 'scale_check' order by id").pluck().all();
    expect(acts).toEqual(['checked a scale', 'checked a scale', 'took back a check of a scale']);
  });

  test('neither a day to come nor a scale that is not there is taken', () => {
    expect(codeOf(() => recordCheck(ledger, input(bench, '2025-03-21')))).toEqual(['day_in_future', 'checkedOn']);
    expect(codeOf(() => recordCheck(ledger, input(99, '2025-03-01')))).toEqual(['not_found', '']);
    expect(listChecks(ledger.db, bench)).toEqual([]);
  });

  test('the scales in use are those that an open bin is usually weighed on', () => {
    expect(lastCheckedScalesInUse(ledger.db)).toEqual([]);
    updateBin(ledger.db, binId(ledger, 'CU2'), { scale_id: floor });
    expect(lastCheckedScalesInUse(ledger.db)).toMatchObject([
      { id: floor, name: 'floor', added_on: TODAY, last_checked_on: null, weight_ug: null, is_adjusted: null },
    ]);
    for (const bin of listBinsOnHand(ledger.db)) updateBin(ledger.db, bin.id, { closed_on: TODAY });
    expect(lastCheckedScalesInUse(ledger.db)).toEqual([]);
  });
});
