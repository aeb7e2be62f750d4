import { localTime } from '../clock.ts';
import type { Ledger } from '../context.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import { itemAtHand } from './acts.ts';
import { itemName, refuseGoneWhole } from './compute.ts';
import { isUnlikelyTime, secondsBetween, writeDuration } from './minutes.ts';
import type { ItemOfKind } from './queries.ts';
import { findClock, findWork, insertWork, insertWorkUndone, removeClock, startClock } from './work-queries.ts';

/** Work on something that was not there yet is a slip of the year. */
export function refuseBeforePickUp(item: ItemOfKind, day: Day, field: string): void {
  if (day < item.picked_up_on) {
    throw new Refusal('day_before_pick_up', field, 'This day is before the item was picked up.');
  }
}

/** Starts the time of an item. The times of several items may run side by side. */
export function startWork(ledger: Ledger, itemId: number): void {
  ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const item = itemAtHand(ledger, itemId);
    refuseGoneWhole(item);
    const running = findClock(db, itemId);
    if (running !== undefined) {
      const since = localTime(running.started_at).time;
      throw new Refusal('clock_running', '', `The time of ${itemName(itemId)} is running already, since ${since}.`);
    }
    startClock(db, itemId, clock.now());
    noteEvent(ledger, 'started the time of an item', 'item', itemId);
  });
}

/** A time as it was typed. */
export interface TypedTime {
  typed: string;
  seconds: number;
}

/**
 * Stops the time of an item, for a while or for good, and writes down what it ran. One that ran for more than eight
 * hours, or backwards, is asked about: then the minutes are typed.
 * @param put the minutes that were really worked; null to take what ran
 * @returns id of the time written down
 */
export function stopWork(ledger: Ledger, itemId: number, put: TypedTime | null, act: 'paused' | 'stopped'): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    itemAtHand(ledger, itemId);
    const running = findClock(db, itemId);
    if (running === undefined) {
      const say = `The time of ${itemName(itemId)} is not running. It may have been stopped on another device.`;
      throw new Refusal('clock_not_running', '', say);
    }
    const now = clock.now();
    const ranSeconds = secondsBetween(running.started_at, now);
    if (put === null && isUnlikelyTime(ranSeconds)) throw askAboutTime(running.started_at, ranSeconds);
    removeClock(db, itemId);
    const id = insertWork(db, {
      item_id: itemId,
      worked_on: localTime(running.started_at).day,
      // Started and stopped within the same second, it was a second.
      seconds: put?.seconds ?? Math.max(1, ranSeconds),
      minutes_typed: put?.typed ?? '',
      started_at: running.started_at,
      recorded_at: now,
    });
    noteEvent(ledger, `${act} the time of an item`, 'work', id);
    return id;
  });
}

function askAboutTime(startedAt: string, ranSeconds: number): Refusal {
  const { day, time } = localTime(startedAt);
  const ran =
    ranSeconds < 0
      ? 'and the clock of this computer was set back since'
      : `${writeDuration(ranSeconds)} ago. It may have run on by itself`;
  return new Refusal(
    'clock_forgotten',
    'minutes',
    `It was started on ${day} at ${time}, ${ran}. Type the time that was really worked.`,
  );
}

export interface WorkInput extends TypedTime {
  workedOn: Day;
  note: string;
}

/** Writes down a time that was worked, typed afterwards. @returns its id */
export function recordWork(ledger: Ledger, itemId: number, { typed, seconds, workedOn, note }: WorkInput): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const item = itemAtHand(ledger, itemId);
    refuseFuture(ledger, workedOn, 'workedOn');
    refuseBeforePickUp(item, workedOn, 'workedOn');
    const recordedAt = clock.now();
    const row = { item_id: itemId, worked_on: workedOn, seconds, minutes_typed: typed, note, recorded_at: recordedAt };
    const id = insertWork(db, row);
    noteEvent(ledger, 'wrote down minutes', 'work', id);
    return id;
  });
}

/** Takes a time back: it counts no more, and stays in the list as taken back. */
export function undoWork(ledger: Ledger, workId: number): void {
  ledger.db.transaction(() => {
    const work = findWork(ledger.db, workId);
    if (work === undefined) throw new Refusal('not_found', '', 'There is no such time.');
    if (work.is_undone) throw new Refusal('already_undone', '', 'This time was already taken back.');
    insertWorkUndone(ledger.db, workId, ledger.clock.now());
    noteEvent(ledger, 'took minutes back', 'work', workId, { detail: writeDuration(work.seconds) });
  });
}
