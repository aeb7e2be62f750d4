import { type Insertable, type Selectable, sql } from 'kysely';
import type { Flag } from '../db/columns.ts';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { Scale } from '../setup/queries.ts';
import type { Day } from '../units/day.ts';
import type { MassUg } from '../units/mass.ts';
import type { CheckSeen } from './compute.ts';
import type { ScaleCheckTable } from './table.ts';

export type ScaleCheck = Selectable<ScaleCheckTable>;
/** A check that was not taken back. */
export type StandingCheck = ScaleCheck;

/** A check with whether it was taken back, for the list of the scale's page. */
export interface ListedCheck extends ScaleCheck {
  is_undone: number;
}

/** A check as the computations take it. */
export const seenOf = (check: ScaleCheck): CheckSeen => ({
  checkedOn: check.checked_on,
  weightUg: check.weight_ug,
  readingUg: check.reading_ug,
  isAdjusted: check.is_adjusted === 1,
});

const checkColumns = [
  'scale_check.id',
  'scale_check.scale_id',
  'scale_check.checked_on',
  'scale_check.weight_typed',
  'scale_check.reading_typed',
  'scale_check.unit',
  'scale_check.weight_ug',
  'scale_check.reading_ug',
  'scale_check.is_adjusted',
  'scale_check.note',
  'scale_check.recorded_at',
] as const;

const isUndone = sql<number>`exists (select 1 from scale_check_undone where scale_check_id = scale_check.id)`;

const checks = () =>
  build.selectFrom('scale_check').select(checkColumns).orderBy('scale_id').orderBy('checked_on').orderBy('id');

/** The checks that stand, of one scale or of all: by scale, then by day, then as they were written down. */
export const standingChecks = (db: Db, scaleId?: number): StandingCheck[] =>
  db.many(
    checks()
      .where(isUndone, '=', 0)
      .$if(scaleId !== undefined, (query) => query.where('scale_id', '=', scaleId ?? 0)),
  );

/** Every check of a scale, those taken back too, in the same order. */
export const listChecks = (db: Db, scaleId: number): ListedCheck[] =>
  db.many(checks().select(isUndone.as('is_undone')).where('scale_id', '=', scaleId));

export const findCheck = (db: Db, id: number): ListedCheck | undefined =>
  db.maybe(checks().select(isUndone.as('is_undone')).where('id', '=', id));

export const insertCheck = (db: Db, check: Insertable<ScaleCheckTable>): number => db.insert('scale_check', check);
export const insertCheckUndone = (db: Db, checkId: number, recordedAt: string): void => {
  db.insert('scale_check_undone', { scale_check_id: checkId, recorded_at: recordedAt });
};

/** A scale and its newest standing check, for what is due and what is not settled. */
export interface LastChecked extends Pick<Scale, 'id' | 'name' | 'unit' | 'division' | 'class' | 'tolerance'> {
  added_on: Day | null;
  last_checked_on: Day | null;
  weight_ug: MassUg | null;
  reading_ug: MassUg | null;
  is_adjusted: Flag | null;
}

const lastChecked = sql<LastChecked>`select scale.id, scale.name, scale.unit, scale.division, scale.class, scale.tolerance,
    scale.added_on, last.checked_on as last_checked_on, last.weight_ug, last.reading_ug, last.is_adjusted
  from scale left join scale_check as last on last.id = (
    select newest.id from scale_check as newest where newest.scale_id = scale.id
      and not exists (select 1 from scale_check_undone where scale_check_id = newest.id)
    order by newest.checked_on desc, newest.id desc limit 1)`;

/** Every scale with its newest standing check. */
export const lastCheckedScales = (db: Db): LastChecked[] => db.many(sql<LastChecked>`${lastChecked} order by scale.id`);

/** The same, of those scales only that are the usual scale of an open bin. */
export const lastCheckedScalesInUse = (db: Db): LastChecked[] => db.many(lastCheckedInUse());
const lastCheckedInUse = writtenOnce(
  () => sql<LastChecked>`${lastChecked}
    where exists (select 1 from bin where bin.scale_id = scale.id and bin.closed_on is null) order by scale.id`,
);
