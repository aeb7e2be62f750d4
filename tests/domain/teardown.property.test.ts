import fc from 'fast-check';
import { expect, test } from 'vitest';
import { massBalance } from '../../server/items/mass-balance.ts';
import { isUnlikelyTime, readMinutes, secondsBetween, writeDuration } from '../../server/items/minutes.ts';
import { daysToSell, medianOf, netOfSale } from '../../server/items/part-sale-figures.ts';
import { amountMinor } from '../../server/money/money.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';

// What an item gave and how long it took: pure sums, for any figures.

const mass = fc.integer({ min: 1, max: 50_000_000_000 }).map(massUg);
const bins = fc.array(
  fc.record({ grade_id: fc.integer({ min: 1, max: 4 }), grade_name: fc.constant('a grade'), net_ug: mass }),
  { maxLength: 12 },
);
const outputs = fc.record({
  bins,
  parts: fc.array(fc.option(mass), { maxLength: 6 }),
  waste: fc.array(mass, { maxLength: 4 }),
});

test('bins, parts, waste and what is missing are the whole weight, to the microgram', () => {
  fc.assert(
    fc.property(mass, outputs, (whole, given) => {
      const balance = massBalance(whole, given);
      const { bins: inBins, parts, waste, missing } = balance;
      expect(inBins.massUg + parts.massUg + waste.massUg + (missing?.massUg ?? Number.NaN)).toBe(whole);
      expect(balance.grades.reduce((sum, grade) => sum + grade.massUg, 0)).toBe(inBins.massUg);
      const shares = [inBins, parts, waste, missing].flatMap((portion) => portion?.share ?? []);
      expect(
        Decimal.sum(...shares)
          .toDecimalPlaces(20)
          .toString(),
      ).toBe('1');
      expect(balance.unweighedParts).toBe(given.parts.filter((part) => part === null).length);
    }),
  );
});

test('recovery lies between 0 and 1 where no more came out than went in, and is not said where more did', () => {
  fc.assert(
    fc.property(mass, outputs, (whole, given) => {
      const { recovery, out, missing } = massBalance(whole, given);
      if (out.massUg > whole) {
        expect(recovery).toBeNull();
        expect(missing?.massUg).toBeLessThan(0);
      } else {
        expect(recovery?.gte(0) && recovery.lte(1)).toBe(true);
      }
    }),
  );
});

test('an item that was not weighed has sums and no balance', () => {
  fc.assert(
    fc.property(outputs, (given) => {
      const { missing, recovery, bins: inBins, out, parts, waste } = massBalance(null, given);
      expect([missing, recovery, inBins.share]).toEqual([null, null, null]);
      expect(out.massUg).toBe(inBins.massUg + parts.massUg + waste.massUg);
    }),
  );
});

const POINT = { decimalMark: '.' } as const;
const secondsOf = (typed: string) => {
  const read = readMinutes(typed, POINT);
  return read.ok ? read.value : null;
};

test('hours and minutes are read however they are written', () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 23 }), fc.integer({ min: 1, max: 59 }), (hours, minutes) => {
      const seconds = (hours * 60 + minutes) * 60;
      const two = String(minutes).padStart(2, '0');
      const forms = [
        `${hours}:${two}`,
        `${hours} h ${minutes}`,
        `${hours}h${two}`,
        `${hours} h ${minutes} min`,
        `${hours * 60 + minutes}`,
      ];
      expect(forms.map(secondsOf)).toEqual(forms.map(() => seconds));
    }),
  );
});

test('a duration that is written is read as the same minutes', () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 24 * 60 }), (minutes) => {
      expect(secondsOf(writeDuration(minutes * 60))).toBe(minutes * 60);
    }),
  );
});

test('minutes are whole seconds above zero and at most a day, or refused with a sentence', () => {
  fc.assert(
    fc.property(fc.oneof(fc.string(), fc.float().map(String), fc.stringMatching(/^[\d:., hmin-]{1,8}$/)), (typed) => {
      const read = readMinutes(typed, POINT);
      if (read.ok) {
        expect(Number.isInteger(read.value)).toBe(true);
        expect(read.value).toBeGreaterThan(0);
        expect(read.value).toBeLessThanOrEqual(24 * 3600);
      } else {
        expect(read.refusal).toMatch(/\.$/);
      }
    }),
  );
});

test('examples of minutes', () => {
  const read = ['45', '45 min', '7.5', '1.5 h', '2 h', '0:30', '24:00', '1 hour 5', '0.01'].map(secondsOf);
  expect(read).toEqual([2700, 2700, 450, 5400, 7200, 1800, 86_400, 3900, 1]);
  expect(['-5', '-1:15', '0', '0:00', '24:01', '1441', '1:60', '1:2:3', 'h', '1e3', '0.001'].map(secondsOf)).toEqual(
    Array(11).fill(null),
  );
  expect(readMinutes('1,5 h', { decimalMark: ',' })).toEqual({ ok: true, value: 5400 });
});

test('durations are written in whole minutes from a minute on', () => {
  expect([0, 29, 60, 89, 90, 3600, 4500, 86_400].map(writeDuration)).toEqual([
    '0 s',
    '29 s',
    '1 min',
    '1 min',
    '2 min',
    '1 h',
    '1 h 15 min',
    '24 h',
  ]);
});

test('a clock is asked about once it ran for more than eight hours, or backwards', () => {
  const from = '2025-03-20T08:00:00.000Z';
  const ran = (to: string) => secondsBetween(from, to);
  expect(ran('2025-03-20T08:00:59.900Z')).toBe(59);
  expect(
    ['2025-03-20T16:00:00.000Z', '2025-03-20T16:00:01.000Z', '2025-03-20T07:59:00.000Z'].map((to) =>
      isUnlikelyTime(ran(to)),
    ),
  ).toEqual([false, true, true]);
});

test('the middle of days to sell, and what a sale left', () => {
  expect([medianOf([]), medianOf([7]), medianOf([9, 1, 4]), medianOf([1, 4])]).toEqual([null, 7, 4, 2.5]);
  expect(daysToSell({ listed_on: day('2025-03-01'), sold_on: day('2025-03-13') })).toBe(12);
  expect(daysToSell({ listed_on: null, sold_on: day('2025-03-13') })).toBeNull();
  const [price, fees, postage] = [amountMinor(1200), amountMinor(150), amountMinor(1300)];
  expect(netOfSale({ price_minor: price, fees_minor: fees, postage_minor: postage })).toBe(-250);
});
