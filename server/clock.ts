import type { Day } from './units/day.ts';

/** The only source of time. Tests and the demo bring their own, so that the same acts give the same ledger. */
export interface Clock {
  /** Today where the person is, as an ISO date. */
  today(): Day;
  /** Now as a UTC instant. */
  now(): string;
}

export const systemClock: Clock = {
  today() {
    const now = new Date();
    const twoDigits = (part: number) => String(part).padStart(2, '0');
    return `${now.getFullYear()}-${twoDigits(now.getMonth() + 1)}-${twoDigits(now.getDate())}` as Day;
  },
  now: () => new Date().toISOString(),
};

/** A clock that stands still. */
export const fixedClock = (day: Day, instant = `${day}T12:00:00.000Z`): Clock => ({
  today: () => day,
  now: () => instant,
});
