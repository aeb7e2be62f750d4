import { expect } from 'vitest';
import type { Answer } from './demo-site.ts';

/** How long one request may keep the thread that answers everybody. */
const MOST_MS = 200;
/** The first time takes longer, until the code has been run, and so does what meets a collection of memory. */
const TRIES = 3;

export interface Watch {
  /** Sends something, and again by itself when it took long: what is slow each time is a fault. */
  once(what: string, send: () => Promise<Answer>): Promise<Answer>;
  /** What took longest, in words. */
  said(): string;
}

/** Watches that nothing keeps everybody waiting. Measured is the work of this thread, not the time: others work here too. */
export function slowest(): Watch {
  let longest = { what: 'none', ms: 0 };
  return {
    async once(what, send) {
      const answer = await send();
      let ms = answer.workedMs;
      for (let tries = 0; ms > MOST_MS && tries < TRIES; tries++) ms = Math.min(ms, (await send()).workedMs);
      expect([what.slice(0, 200), ms <= MOST_MS ? 'quick' : `${Math.round(ms)} ms`]).toEqual([
        what.slice(0, 200),
        'quick',
      ]);
      if (ms > longest.ms) longest = { what, ms };
      return answer;
    },
    said: () => `at most ${Math.round(longest.ms)} ms of the server’s own work (${longest.what.slice(0, 60)})`,
  };
}
