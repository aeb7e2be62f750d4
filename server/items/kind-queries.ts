import { type Insertable, type Selectable, sql, type Updateable } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { GradeFamily } from '../ledger/families.ts';
import type { Day } from '../units/day.ts';
import type { ItemKindTable, KindYieldTable } from './table.ts';

/** What such a thing gives of a grade, as a rule of thumb, in percent of its weight: digits with a point. */
export interface KindYield extends Pick<Selectable<KindYieldTable>, 'grade_id' | 'percent'> {
  grade_name: string;
  family: GradeFamily;
}

/** A kind of item with its rules of thumb. */
export interface ItemKind extends Selectable<ItemKindTable> {
  /** The grade it is sold as when it is sold as is; null where none was named. */
  as_is_grade_name: string | null;
  yields: KindYield[];
}

const kinds = () =>
  build
    .selectFrom('item_kind')
    .leftJoin('grade', 'grade.id', 'item_kind.as_is_grade_id')
    .select([
      'item_kind.id',
      'item_kind.name',
      'item_kind.cautions',
      'item_kind.as_is_grade_id',
      'item_kind.rule_minutes',
      'item_kind.note',
      'grade.name as as_is_grade_name',
    ]);
const yields = () =>
  build
    .selectFrom('kind_yield')
    .innerJoin('grade', 'grade.id', 'kind_yield.grade_id')
    .select([
      'kind_yield.item_kind_id',
      'kind_yield.grade_id',
      'kind_yield.percent',
      'grade.name as grade_name',
      'grade.family',
    ])
    .orderBy('kind_yield.grade_id');

const allKinds = writtenOnce(() => kinds().orderBy('item_kind.name'));
const allYields = writtenOnce(() => yields());
const kindById = writtenOnce(() => kinds().where('item_kind.id', '=', 0));
const yieldsOfKind = writtenOnce(() => yields().where('kind_yield.item_kind_id', '=', 0));

const yieldOf = ({ item_kind_id: _, ...rest }: KindYield & { item_kind_id: number }): KindYield => rest;

/** Every kind of item, by name. */
export function listItemKinds(db: Db): ItemKind[] {
  const byKind = Map.groupBy(db.many(allYields()), (row) => row.item_kind_id);
  return db.many(allKinds()).map((kind) => ({ ...kind, yields: (byKind.get(kind.id) ?? []).map(yieldOf) }));
}

export function findItemKind(db: Db, id: number): ItemKind | undefined {
  const kind = db.maybe(kindById(id));
  return kind && { ...kind, yields: db.many(yieldsOfKind(id)).map(yieldOf) };
}

/** Names are told apart without regard to case. */
export const findItemKindByName = (db: Db, name: string): { id: number } | undefined =>
  db.maybe(build.selectFrom('item_kind').select('id').where('name', '=', name.trim()));

export const insertItemKind = (db: Db, kind: Insertable<ItemKindTable>): number =>
  db.run(build.insertInto('item_kind').values(kind)).id;
export const updateItemKind = (db: Db, id: number, kind: Updateable<ItemKindTable>): void => {
  db.run(build.updateTable('item_kind').set(kind).where('id', '=', id));
};
/** Removes a kind and its rules of thumb; the database refuses when an item is of it. */
export const deleteItemKind = (db: Db, id: number): void => {
  setKindYields(db, id, []);
  db.run(build.deleteFrom('item_kind').where('id', '=', id));
};

/** Puts other rules of thumb in the place of those that a kind has. */
export function setKindYields(db: Db, kindId: number, list: readonly Pick<KindYield, 'grade_id' | 'percent'>[]): void {
  db.run(build.deleteFrom('kind_yield').where('item_kind_id', '=', kindId));
  for (const { grade_id, percent } of list) {
    db.run(build.insertInto('kind_yield').values({ item_kind_id: kindId, grade_id, percent }));
  }
}

/** An item whose material went into an account, with what decides on its cautions. */
export interface ItemBehind {
  name: string;
  kind_name: string;
  cautions: string;
}

/**
 * The items whose material came into a bin or a load since a day: weighed in out of them, or carried along with what was
 * moved or loaded. What was taken back is left out.
 */
export const itemsBehind = (db: Db, accountId: number, since: Day | ''): ItemBehind[] =>
  db.many(
    sql<ItemBehind>`select distinct item.name, item_kind.name as kind_name, item_kind.cautions
      from transfer
      join account as source on source.id = transfer.from_account_id
      left join layer_part on layer_part.transfer_id = transfer.id
      join item on item.id = coalesce(source.item_id, layer_part.item_id)
      join item_kind on item_kind.id = item.item_kind_id
      where transfer.to_account_id = ${accountId} and transfer.occurred_on >= ${since}
        and not exists (select 1 from transfer as reversal where reversal.reverses_id = transfer.id)
      order by item_kind.name, item.name`,
  );
