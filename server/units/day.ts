import { accepted, type Read, refused } from './result.ts';

/** A day of the local calendar as an ISO date, "2025-03-08". Days compare as text, earlier first. */
export type Day = string & { readonly __brand: 'Day' };

const FIRST_YEAR = 1990;
const LAST_YEAR = 2100;
const MILLISECONDS_A_DAY = 86_400_000;
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'] as const;

const numbersOf = (text: string): [year: number, month: number, dayOfMonth: number] => {
  const [year = Number.NaN, month = Number.NaN, dayOfMonth = Number.NaN] = text.split('-').map(Number);
  return [year, month, dayOfMonth];
};

const DAYS_IN_MONTH = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] as const;
const isLeapYear = (year: number): boolean => (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
const daysInMonth = (year: number, month: number): number =>
  month === 2 && isLeapYear(year) ? 29 : (DAYS_IN_MONTH[month - 1] ?? 0);

/**
 * Reads a day as the browser's day field sends it: YYYY-MM-DD, a day that exists, from 1990 to 2100.
 * Other orders are refused because 03/08/2025 is March to some and August to others.
 */
export function readDay(typed: string): Read<Day> {
  const text = typed.trim();
  if (text === '') return refused('Enter a day.');
  if (!/^\d{4}-\d{2}-\d{2}$/.test(text)) return refused('Write the day as year, month, day, like 2025-03-08.');
  const [year, month, dayOfMonth] = numbersOf(text);
  const name = MONTHS[month - 1];
  if (name === undefined) return refused(`${text} is not a day: the months go from 01 to 12.`);
  const days = daysInMonth(year, month);
  if (dayOfMonth < 1 || dayOfMonth > days) return refused(`${text} is not a day: ${name} ${year} has ${days} days.`);
  if (year < FIRST_YEAR || year > LAST_YEAR)
    return refused(`The year must lie between ${FIRST_YEAR} and ${LAST_YEAR}.`);
  return accepted(text as Day);
}

/** A day as it is written here or in an address: "8 Mar 2025", "8 march 2025", "2025-03-08"; null for any other text. */
export function readWrittenDay(text: string): Day | null {
  const [, dayOfMonth = '', word = '', year = ''] = /^(\d{1,2})\.? ([a-z]{3,9})\.? (\d{4})$/i.exec(text.trim()) ?? [];
  const month = MONTHS.findIndex((name) => name.toLowerCase() === word.slice(0, 3).toLowerCase()) + 1;
  const iso = month === 0 ? text.trim() : `${year}-${String(month).padStart(2, '0')}-${dayOfMonth.padStart(2, '0')}`;
  const read = readDay(iso);
  return read.ok ? read.value : null;
}

/** Marks a stored day as one. Throws on anything that readDay refuses: such text should never have been stored. */
export function day(text: string): Day {
  const read = readDay(text);
  if (!read.ok || read.value !== text) throw new RangeError(`not a day: ${text.slice(0, 20)}`);
  return read.value;
}

/** Days from `from` to `to`; negative when `to` is earlier. Counted in UTC, where every day has 24 hours. */
export function daysBetween(from: Day, to: Day): number {
  return (Date.parse(`${to}T00:00:00Z`) - Date.parse(`${from}T00:00:00Z`)) / MILLISECONDS_A_DAY;
}

/** "2025-03" */
export const monthOf = (on: Day): string => on.slice(0, 7);

/** "2025-Q1" */
export const quarterOf = (on: Day): string => `${yearOf(on)}-Q${Math.ceil(numbersOf(on)[1] / 3)}`;

/** "2025" */
export const yearOf = (on: Day): string => on.slice(0, 4);

/** A day for people to read, the month as a word so that it can be read in one way only: "8 Mar 2025". */
export function writeDay(on: Day): string {
  const [year, month, dayOfMonth] = numbersOf(on);
  return `${dayOfMonth} ${MONTHS[month - 1] ?? ''} ${year}`;
}
