import type { Ledger } from '../context.ts';
import { flag } from '../db/columns.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { Refusal } from '../refusal.ts';
import { findScale } from '../setup/queries.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { findCheck, insertCheck, insertCheckUndone, standingChecks } from './queries.ts';

/** A known weight that was put on a scale, and what the scale showed. */
export interface CheckInput {
  scaleId: number;
  checkedOn: Day;
  weightTyped: string;
  readingTyped: string;
  unit: MassUnit;
  weightUg: MassUg;
  readingUg: MassUg;
  isAdjusted: boolean;
  note: string;
}

/** Writes down a check of a scale. @returns its id */
export function recordCheck(ledger: Ledger, input: CheckInput): number {
  const { db, clock } = ledger;
  return db.transaction(() => {
    if (findScale(db, input.scaleId) === undefined) throw new Refusal('not_found', '', 'There is no such scale.');
    refuseFuture(ledger, input.checkedOn, 'checkedOn');
    const id = insertCheck(db, {
      scale_id: input.scaleId,
      checked_on: input.checkedOn,
      weight_typed: input.weightTyped,
      reading_typed: input.readingTyped,
      unit: input.unit,
      weight_ug: input.weightUg,
      reading_ug: input.readingUg,
      is_adjusted: flag(input.isAdjusted),
      note: input.note,
      recorded_at: clock.now(),
    });
    noteEvent(ledger, 'checked a scale', 'scale_check', id);
    return id;
  });
}

/** Takes a check back: it counts no more, and stays in the list as taken back. */
export function undoCheck(ledger: Ledger, checkId: number): void {
  const { db, clock } = ledger;
  db.transaction(() => {
    const check = findCheck(db, checkId);
    if (check === undefined) throw new Refusal('not_found', '', 'There is no such check.');
    if (check.is_undone) throw new Refusal('already_undone', '', 'This check was already taken back.');
    insertCheckUndone(db, checkId, clock.now());
    noteEvent(ledger, 'took back a check of a scale', 'scale_check', checkId);
  });
}

/**
 * Writes down that a scale was adjusted after a check that was saved without saying so: the check is taken back and
 * stands again with the mark. Only the newest one, or checks after it would be on the wrong side of the adjustment.
 * @returns the id of the check that took its place
 */
export function markAdjusted(ledger: Ledger, checkId: number): number {
  const { db } = ledger;
  return db.transaction(() => {
    const check = findCheck(db, checkId);
    if (check === undefined) throw new Refusal('not_found', '', 'There is no such check.');
    const newest = standingChecks(db, check.scale_id).at(-1);
    if (newest?.id !== checkId) {
      throw new Refusal(
        'check_not_newest',
        '',
        'Only the newest check can be marked so. Take back the later ones first.',
      );
    }
    undoCheck(ledger, checkId);
    return recordCheck(ledger, {
      scaleId: check.scale_id,
      checkedOn: check.checked_on,
      weightTyped: check.weight_typed,
      readingTyped: check.reading_typed,
      unit: check.unit,
      weightUg: check.weight_ug,
      readingUg: check.reading_ug,
      isAdjusted: true,
      note: check.note,
    });
  });
}
