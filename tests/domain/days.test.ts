import { describe, expect, test } from 'vitest';
import { day, daysBetween, monthOf, quarterOf, readDay, writeDay, yearOf } from '../../server/units/day.ts';

const refusalOf = (typed: string): string => {
  const read = readDay(typed);
  return read.ok ? 'accepted' : read.refusal;
};

describe('reading a day', () => {
  test.each(['2025-03-08', '2024-02-29', '1990-01-01', '2100-12-31', ' 2025-03-08 '])('%s is a day', (typed) => {
    expect(readDay(typed)).toEqual({ ok: true, value: typed.trim() });
  });

  test('an empty field asks for a day', () => {
    expect(refusalOf('')).toBe('Enter a day.');
  });

  test.each(['03/08/2025', '8.3.2025', '2025-3-8', '20250308', '2025-03-08T10:00', 'today', '２０２５-03-08'])(
    '%s is refused because only year, month, day can be read in one way',
    (typed) => {
      expect(refusalOf(typed)).toBe('Write the day as year, month, day, like 2025-03-08.');
    },
  );

  test('a day that the calendar does not have is refused with the length of its month', () => {
    expect(refusalOf('2025-02-30')).toBe('2025-02-30 is not a day: Feb 2025 has 28 days.');
    expect(refusalOf('2025-02-29')).toBe('2025-02-29 is not a day: Feb 2025 has 28 days.');
    expect(refusalOf('2100-02-29')).toBe('2100-02-29 is not a day: Feb 2100 has 28 days.');
    expect(refusalOf('2025-04-00')).toBe('2025-04-00 is not a day: Apr 2025 has 30 days.');
  });

  test('a month that does not exist is refused', () => {
    expect(refusalOf('2025-13-01')).toBe('2025-13-01 is not a day: the months go from 01 to 12.');
    expect(refusalOf('2025-00-01')).toBe('2025-00-01 is not a day: the months go from 01 to 12.');
  });

  test('a year before 1990 or after 2100 is refused', () => {
    expect(refusalOf('1989-12-31')).toBe('The year must lie between 1990 and 2100.');
    expect(refusalOf('2101-01-01')).toBe('The year must lie between 1990 and 2100.');
  });

  test('a stored day that is none throws', () => {
    expect(day('2025-03-08')).toBe('2025-03-08');
    expect(() => day('2025-02-30')).toThrow(RangeError);
    expect(() => day(' 2025-03-08')).toThrow(RangeError);
  });
});

describe('counting and writing days', () => {
  test('days between count over a leap day and over the change of the clocks', () => {
    expect(daysBetween(day('2024-02-28'), day('2024-03-01'))).toBe(2);
    expect(daysBetween(day('2025-02-28'), day('2025-03-01'))).toBe(1);
    expect(daysBetween(day('2025-03-01'), day('2025-04-01'))).toBe(31);
    expect(daysBetween(day('2025-03-08'), day('2025-03-08'))).toBe(0);
  });

  test('days between are negative when the second is earlier', () => {
    expect(daysBetween(day('2025-03-08'), day('2025-03-01'))).toBe(-7);
  });

  test('every day of the calendar is one after the one before it', () => {
    // 111 years of 365 days and 27 leap days: 1992 to 2096; 2100 is none (Gregorian rule, from memory).
    expect(daysBetween(day('1990-01-01'), day('2100-12-31'))).toBe(111 * 365 + 27 - 1);
  });

  test('month, quarter and year are named so that they sort', () => {
    expect(monthOf(day('2025-03-08'))).toBe('2025-03');
    expect(yearOf(day('2025-03-08'))).toBe('2025');
    expect(['01', '03', '04', '06', '07', '09', '10', '12'].map((month) => quarterOf(day(`2025-${month}-15`)))).toEqual(
      ['2025-Q1', '2025-Q1', '2025-Q2', '2025-Q2', '2025-Q3', '2025-Q3', '2025-Q4', '2025-Q4'],
    );
  });

  test('a day for people has its month as a word', () => {
    expect(writeDay(day('2025-03-08'))).toBe('8 Mar 2025');
    expect(writeDay(day('2025-12-31'))).toBe('31 Dec 2025');
  });
});
