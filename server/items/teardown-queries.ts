import { type Insertable, type Selectable, sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import { inWeightsWithBin, type RecentInWeight } from '../ledger/queries.ts';
import { type MassBalance, massBalance } from './mass-balance.ts';
import type { Item } from './queries.ts';
import type { ItemOutputTable } from './table.ts';

/** Every weighing of an item into a bin, newest first, those taken back too. */
export const binOutputs = (db: Db, itemId: number): (RecentInWeight & { grade_id: number })[] =>
  db.many(
    inWeightsWithBin()
      .select('bin.grade_id')
      .where('in_weight.item_id', '=', itemId)
      .orderBy('in_weight.occurred_on', 'desc')
      .orderBy('in_weight.id', 'desc'),
  );

/** Waste or a part kept, with whether it was taken back and the sale of it that stands. */
export interface ItemOutput extends Selectable<ItemOutputTable> {
  is_undone: number;
  sale_id: number | null;
}

const outputs = () =>
  build
    .selectFrom('item_output')
    .leftJoin('item_output_undone', 'item_output_undone.item_output_id', 'item_output.id')
    .select([
      'item_output.id',
      'item_output.item_id',
      'item_output.kind',
      'item_output.name',
      'item_output.net_typed',
      'item_output.unit',
      'item_output.net_ug',
      'item_output.occurred_on',
      'item_output.recorded_at',
    ])
    .select(sql<number>`item_output_undone.item_output_id is not null`.as('is_undone'))
    .select(
      sql<number | null>`(select part_sale.id from part_sale where part_sale.item_id = item_output.item_id
        and part_sale.item_output_id = item_output.id
        and part_sale.id not in (select part_sale_id from part_sale_undone))`.as('sale_id'),
    );

export const findOutput = (db: Db, id: number): ItemOutput | undefined =>
  db.maybe(outputs().where('item_output.id', '=', id));
/** Waste and parts of an item, newest first, those taken back too. */
export const outputsOfItem = (db: Db, itemId: number): ItemOutput[] =>
  db.many(outputs().where('item_output.item_id', '=', itemId).orderBy('item_output.id', 'desc'));

export const insertOutput = (db: Db, output: Insertable<ItemOutputTable>): number => db.insert('item_output', output);
export const insertOutputUndone = (db: Db, outputId: number, recordedAt: string): void => {
  db.insert('item_output_undone', { item_output_id: outputId, recorded_at: recordedAt });
};

/** A part kept that is not sold, with the item it came from. */
export interface KeptPart extends ItemOutput {
  kind_name: string;
  item_name: string;
}

/** Parts that were kept and not sold yet, the oldest first. */
export const keptParts = (db: Db, offset: number, count: number): KeptPart[] =>
  db.many(
    outputs()
      .innerJoin('item', 'item.id', 'item_output.item_id')
      .innerJoin('item_kind', 'item_kind.id', 'item.item_kind_id')
      .select(['item_kind.name as kind_name', 'item.name as item_name'])
      .where('item_output.kind', '=', 'part')
      .where('item_output_undone.item_output_id', 'is', null)
      .where('item_output.id', 'not in', soldOutputs)
      .orderBy('item_output.occurred_on')
      .orderBy('item_output.id')
      .limit(count)
      .offset(offset),
  );

const soldOutputs = sql<number>`(select item_output_id from part_sale where item_output_id is not null
  and id not in (select part_sale_id from part_sale_undone))`;

/** Where an item's weight went, from every weighing, part and waste of it that stands. */
export function balanceOfItem(db: Db, { id, weight_ug: wholeUg }: Pick<Item, 'id' | 'weight_ug'>): MassBalance {
  const standing = outputsOfItem(db, id).filter((output) => output.is_undone === 0);
  return massBalance(wholeUg, {
    bins: binOutputs(db, id).filter((inWeight) => inWeight.is_undone === 0),
    parts: standing.filter(({ kind }) => kind === 'part').map(({ net_ug: net }) => net),
    waste: standing.flatMap(({ kind, net_ug: net }) => (kind === 'waste' && net !== null ? [net] : [])),
  });
}
