import type { Insertable, Selectable, Updateable } from 'kysely';
import { sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import { isUndone } from '../ledger/queries.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import type { ItemTable } from './table.ts';

export type Item = Selectable<ItemTable>;
/** An item with the name of its kind. */
export interface ItemOfKind extends Item {
  kind_name: string;
}

export const itemColumns = [
  'item.id',
  'item.item_kind_id',
  'item.name',
  'item.picked_up_on',
  'item.got',
  'item.source',
  'item.proof',
  'item.cost_minor',
  'item.weight_typed',
  'item.weight_unit',
  'item.weight_ug',
  'item.note',
  'item.status',
  'item.depth',
  'item.closed_on',
  'item.disposal_minor',
  'item.recorded_at',
] as const;

export const itemsOfKinds = () =>
  build
    .selectFrom('item')
    .innerJoin('item_kind', 'item_kind.id', 'item.item_kind_id')
    .select(itemColumns)
    .select('item_kind.name as kind_name');

export const findItem = (db: Db, id: number): ItemOfKind | undefined =>
  db.maybe(itemsOfKinds().where('item.id', '=', id));

/** Every item by its number, for the files. */
export const everyItem = (db: Db): Iterable<ItemOfKind> => db.each(itemsOfKinds().orderBy('item.id'));
export const highestItem = (db: Db): number =>
  db.one(sql<{ id: number }>`select coalesce(max(id), 0) as id from item`).id;

export const insertItem = (db: Db, item: Insertable<ItemTable>): number =>
  db.run(build.insertInto('item').values(item)).id;
export const updateItem = (db: Db, id: number, change: Updateable<ItemTable>): void => {
  db.run(build.updateTable('item').set(change).where('id', '=', id));
};
/** Fails where anything rests on the item; see isStillNamed. */
export const deleteItem = (db: Db, id: number): void => {
  db.run(build.deleteFrom('item').where('id', '=', id));
};

/** What was weighed into a bin from an item. */
export interface ItemInWeight {
  id: number;
  bin_code: string;
  grade_name: string;
  net_ug: MassUg;
  unit: MassUnit;
  occurred_on: Day;
  is_estimate: number;
  note: string;
  is_undone: number;
}

const weighingsOf = (itemId: number) =>
  build
    .selectFrom('in_weight')
    .innerJoin('bin', 'bin.id', 'in_weight.bin_id')
    .innerJoin('grade', 'grade.id', 'bin.grade_id')
    .select([
      'in_weight.id',
      'bin.code as bin_code',
      'grade.name as grade_name',
      'in_weight.net_ug',
      'in_weight.unit',
      'in_weight.occurred_on',
      'in_weight.is_estimate',
      'in_weight.note',
      isUndone.as('is_undone'),
    ])
    .where('in_weight.item_id', '=', itemId);

/** What was weighed into bins from an item, newest first, undone ones marked. */
export const inWeightsOfItem = (db: Db, itemId: number, count: number): ItemInWeight[] =>
  db.many(weighingsOf(itemId).orderBy('in_weight.occurred_on', 'desc').orderBy('in_weight.id', 'desc').limit(count));

/** Whether anything of an item stands in the ledger of a bin. */
export const isInBins = (db: Db, itemId: number): boolean =>
  db.maybe(weighingsOf(itemId).where(isUndone, '=', 0).limit(1)) !== undefined;

export const hasAttachments = (db: Db, itemId: number): boolean =>
  db.maybe(
    sql<{ id: number }>`select id from attachment where document_kind = 'item' and document_id = ${itemId} limit 1`,
  ) !== undefined;

/** Whether a sale of the item whole stands. */
export const hasWholeSale = (db: Db, itemId: number): boolean =>
  db.maybe(
    sql<{ id: number }>`select id from part_sale where item_id = ${itemId} and item_output_id is null
      and not exists (select 1 from part_sale_undone where part_sale_id = part_sale.id) limit 1`,
  ) !== undefined;
