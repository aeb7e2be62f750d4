import { type Insertable, type Selectable, sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import type { ScaleCheckTable } from './table.ts';

export type ScaleCheck = Selectable<ScaleCheckTable>;
/** A check that was not taken back. */
export type StandingCheck = ScaleCheck;

/** A check with whether it was taken back, for the list of the scale's page. */
export interface ListedCheck extends ScaleCheck {
  is_undone: number;
}

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

/** A scale and when it was last checked, for what is due. */
export interface LastChecked {
  id: number;
  name: string;
  added_on: Day | null;
  last_checked_on: Day | null;
}

const lastChecked = sql<LastChecked>`select scale.id, scale.name, scale.added_on,
  (select max(checked_on) from scale_check where scale_id = scale.id
    and not exists (select 1 from scale_check_undone where scale_check_id = scale_check.id)) as last_checked_on
  from scale`;

/** Every scale with the day of its newest standing check. */
export const lastCheckedScales = (db: Db): LastChecked[] => db.many(sql<LastChecked>`${lastChecked} order by scale.id`);

/** The same, of those scales only that are the usual scale of an open bin. */
export const lastCheckedScalesInUse = (db: Db): LastChecked[] =>
  db.many(
    sql<LastChecked>`${lastChecked}
      where exists (select 1 from bin where bin.scale_id = scale.id and bin.closed_on is null) order by scale.id`,
  );
