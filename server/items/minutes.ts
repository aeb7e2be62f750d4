import { Decimal, type Marks, marksOf, readDecimal } from '../units/decimal.ts';
import { accepted, type Read, refused } from '../units/result.ts';

const LIKE_THIS = 'Write minutes like 45, or hours and minutes like 1:15 or 1 h 15.';
const MINUTES_AN_HOUR = 60;
const SECONDS_A_MINUTE = 60;
const HOURS_A_DAY = 24;
/** Clocks that run longer than this were most likely forgotten. Our own bound, no published source. */
const FORGOTTEN_AFTER_HOURS = 8;

const CLOCK = /^(\d{1,3}):(\d{1,2})$/;
const HOURS_AND_MINUTES = /^(\d{1,3})\s*(?:h|hrs?|hours?)\s*(\d{1,2})\s*(?:m|min|mins|minutes?)?$/i;
const HOURS = /^(.*\d[.,]?)\s*(?:h|hrs?|hours?)$/i;
const MINUTES = /^(.*?)\s*(?:m|min|mins|minutes?)?$/i;

/** Hours and minutes as they stand on a clock: after hours the minutes stay below 60. */
function readHoursAndMinutes(hours: string, minutes: string): Read<Decimal> {
  if (new Decimal(minutes).gte(MINUTES_AN_HOUR)) {
    return refused(
      'After hours the minutes stay below 60, as in 1:15. More than an hour of minutes is written alone: 75.',
    );
  }
  return accepted(new Decimal(hours).times(MINUTES_AN_HOUR).plus(minutes));
}

function readAmount(text: string, marks: Marks): Read<Decimal> {
  const [, clockHours, clockMinutes] = CLOCK.exec(text) ?? HOURS_AND_MINUTES.exec(text) ?? [];
  if (clockHours !== undefined && clockMinutes !== undefined) return readHoursAndMinutes(clockHours, clockMinutes);
  const hours = HOURS.exec(text)?.[1];
  const figure = hours ?? MINUTES.exec(text)?.[1] ?? text;
  const read = readDecimal(figure, { ...marksOf(marks), maxDecimals: 2, what: 'number of minutes' });
  if (!read.ok)
    return /^[-−–]/.test(figure) ? refused(`Minutes cannot be below zero. ${LIKE_THIS}`) : refused(LIKE_THIS);
  return accepted(hours === undefined ? read.value : read.value.times(MINUTES_AN_HOUR));
}

/**
 * Reads a time that was worked: `45`, `45 min`, `7.5`, `1:15`, `1 h 15`, `1.5 h`. A figure alone is minutes.
 * Refuses, saying what would be right: empty, zero, below zero, more than 24 hours, what is no time.
 * @returns whole seconds, half a second up
 */
export function readMinutes(typed: string, marks: Marks): Read<number> {
  const text = typed.trim();
  if (text === '') return refused(`Enter how long it took. ${LIKE_THIS}`);
  if (text.length > 40) return refused(LIKE_THIS);
  const minutes = readAmount(text, marks);
  if (!minutes.ok) return minutes;
  if (minutes.value.gt(HOURS_A_DAY * MINUTES_AN_HOUR)) {
    return refused('More than 24 hours in one go cannot be right. Write down each day by itself.');
  }
  const seconds = minutes.value.times(SECONDS_A_MINUTE).toDecimalPlaces(0, Decimal.ROUND_HALF_UP);
  return seconds.isZero()
    ? refused(`No time at all need not be written down. ${LIKE_THIS}`)
    : accepted(seconds.toNumber());
}

/** Whole seconds from one UTC instant to another; below zero when the clock was set back in between. */
export const secondsBetween = (from: string, to: string): number =>
  Math.floor((Date.parse(to) - Date.parse(from)) / 1000);

/** Whether a clock that ran so long was most likely forgotten, or the computer's own time was set back meanwhile. */
export const isUnlikelyTime = (seconds: number): boolean =>
  seconds < 0 || seconds > FORGOTTEN_AFTER_HOURS * MINUTES_AN_HOUR * SECONDS_A_MINUTE;

/** "1 h 15 min", "45 min", "30 s"; from a minute on in whole minutes, half a minute up. */
export function writeDuration(seconds: number): string {
  if (seconds < SECONDS_A_MINUTE) return `${Math.max(0, seconds)} s`;
  const all = Math.floor((seconds + SECONDS_A_MINUTE / 2) / SECONDS_A_MINUTE);
  const hours = Math.floor(all / MINUTES_AN_HOUR);
  const minutes = all % MINUTES_AN_HOUR;
  if (hours === 0) return `${minutes} min`;
  return minutes === 0 ? `${hours} h` : `${hours} h ${minutes} min`;
}
