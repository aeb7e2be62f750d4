import type { Day } from './units/day.ts';

/** The only source of time. Tests and the demo bring their own, so that the same acts give the same ledger. */
export interface Clock {
  /** Today where the person is, as an ISO date. */
  today(): Day;
  /** Now as a UTC instant. */
  now(): string;
}

export const systemClock: Clock = {
  today: () => localTime(new Date().toISOString()).day,
  now: () => new Date().toISOString(),
};

/** A clock that stands still. */
export const fixedClock = (day: Day, instant = `${day}T12:00:00.000Z`): Clock => ({
  today: () => day,
  now: () => instant,
});

/** Day and time of a UTC instant where this computer is: { day: "2025-03-08", time: "17:42" }. */
export function localTime(instant: string): { day: Day; time: string } {
  const at = new Date(instant);
  const twoDigits = (part: number) => String(part).padStart(2, '0');
  const day = `${at.getFullYear()}-${twoDigits(at.getMonth() + 1)}-${twoDigits(at.getDate())}`;
  return { day: day as Day, time: `${twoDigits(at.getHours())}:${twoDigits(at.getMinutes())}` };
}

/** The UTC instant at which a day begins where this computer is; with `daysLater` 1, at which it ends. */
export function startOfDay(day: Day, daysLater = 0): string {
  const [year = 0, month = 1, date = 1] = day.split('-').map((part) => Number.parseInt(part, 10));
  return new Date(year, month - 1, date + daysLater).toISOString();
}
