import { type Insertable, type Selectable, sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { WorkClockTable, WorkTable } from './table.ts';

/** A time that was worked on an item, with whether it was taken back. */
export interface Work extends Selectable<WorkTable> {
  is_undone: number;
}

const works = () =>
  build
    .selectFrom('work')
    .leftJoin('work_undone', 'work_undone.work_id', 'work.id')
    .select([
      'work.id',
      'work.item_id',
      'work.worked_on',
      'work.seconds',
      'work.minutes_typed',
      'work.started_at',
      'work.note',
      'work.recorded_at',
    ])
    .select(sql<number>`work_undone.work_id is not null`.as('is_undone'));

export const findWork = (db: Db, id: number): Work | undefined => db.maybe(works().where('work.id', '=', id));
/** The newest times of an item, those taken back too. */
export const worksOfItem = (db: Db, itemId: number, count: number): Work[] =>
  db.many(works().where('work.item_id', '=', itemId).orderBy('work.id', 'desc').limit(count));

/** Seconds that were worked on an item, without what was taken back. */
export const secondsOfItem = (db: Db, itemId: number): number =>
  db.one(
    sql<{ seconds: number }>`select coalesce(sum(seconds), 0) as seconds from work
      where item_id = ${itemId} and id not in (select work_id from work_undone)`,
  ).seconds;

export const insertWork = (db: Db, work: Insertable<WorkTable>): number => db.insert('work', work);
export const insertWorkUndone = (db: Db, workId: number, recordedAt: string): void => {
  db.insert('work_undone', { work_id: workId, recorded_at: recordedAt });
};

type WorkClock = Selectable<WorkClockTable>;
export const findClock = (db: Db, itemId: number): WorkClock | undefined =>
  db.maybe(build.selectFrom('work_clock').select(['item_id', 'started_at']).where('item_id', '=', itemId));
export const startClock = (db: Db, itemId: number, startedAt: string): void => {
  db.insert('work_clock', { item_id: itemId, started_at: startedAt });
};
export const removeClock = (db: Db, itemId: number): void => {
  db.run(build.deleteFrom('work_clock').where('item_id', '=', itemId));
};

/** An item whose time is running. */
export interface RunningClock extends WorkClock {
  kind_name: string;
  name: string;
}

/** Every item whose time is running, the longest first. */
export const runningClocks = (db: Db): RunningClock[] =>
  db.many(
    build
      .selectFrom('work_clock')
      .innerJoin('item', 'item.id', 'work_clock.item_id')
      .innerJoin('item_kind', 'item_kind.id', 'item.item_kind_id')
      .select(['work_clock.item_id', 'work_clock.started_at', 'item_kind.name as kind_name', 'item.name'])
      .orderBy('work_clock.started_at')
      .orderBy('work_clock.item_id'),
  );
