import { type Insertable, type Selectable, sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { AmountMinor } from '../money/money.ts';
import { daysToSell, medianOf } from './part-sale-figures.ts';
import type { PartSaleTable } from './table.ts';

/** A part or a whole item sold for reuse, with what it was and whether the sale was taken back. */
export interface PartSale extends Selectable<PartSaleTable> {
  kind_name: string;
  item_name: string;
  /** Null when the whole item was sold. */
  part_name: string | null;
  is_undone: number;
}

const isUndone = sql<number>`part_sale.id in (select part_sale_id from part_sale_undone)`;

const sales = () =>
  build
    .selectFrom('part_sale')
    .innerJoin('item', 'item.id', 'part_sale.item_id')
    .innerJoin('item_kind', 'item_kind.id', 'item.item_kind_id')
    .leftJoin('item_output', 'item_output.id', 'part_sale.item_output_id')
    .select([
      'part_sale.id',
      'part_sale.item_id',
      'part_sale.item_output_id',
      'part_sale.listed_on',
      'part_sale.sold_on',
      'part_sale.price_minor',
      'part_sale.fees_minor',
      'part_sale.postage_minor',
      'part_sale.note',
      'part_sale.recorded_at',
      'item_kind.name as kind_name',
      'item.name as item_name',
      'item_output.name as part_name',
      isUndone.as('is_undone'),
    ]);

export const findPartSale = (db: Db, id: number): PartSale | undefined =>
  db.maybe(sales().where('part_sale.id', '=', id));

/** What was sold of an item, newest first, sales that were taken back too. */
export const partSalesOfItem = (db: Db, itemId: number): PartSale[] =>
  db.many(
    sales()
      .where('part_sale.item_id', '=', itemId)
      .orderBy('part_sale.sold_on', 'desc')
      .orderBy('part_sale.id', 'desc'),
  );

/** The sale of a part that stands; of the whole item when no part is named. */
export const standingSaleOf = (db: Db, itemId: number, outputId: number | null): PartSale | undefined =>
  partSalesOfItem(db, itemId).find((sale) => sale.is_undone === 0 && sale.item_output_id === outputId);

/** A page of the sales that stand, newest first. */
export const standingPartSales = (db: Db, offset: number, count: number): PartSale[] =>
  db.many(
    sales()
      .where(isUndone, '=', 0)
      .orderBy('part_sale.sold_on', 'desc')
      .orderBy('part_sale.id', 'desc')
      .limit(count)
      .offset(offset),
  );

export const insertPartSale = (db: Db, sale: Insertable<PartSaleTable>): number => db.insert('part_sale', sale);
export const insertPartSaleUndone = (db: Db, saleId: number, recordedAt: string): void => {
  db.insert('part_sale_undone', { part_sale_id: saleId, recorded_at: recordedAt });
};

/** How the things of one kind sold. */
export interface SalesOfKind {
  kindName: string;
  count: number;
  netMinor: AmountMinor;
  /** Of how many the day of listing is known. */
  listed: number;
  /** The middle of their days from listing to sale; null when none was listed. */
  medianDays: number | null;
}

/** Sales that stand by the kind of their item, the kind with the most sales first. */
export function salesByKind(db: Db): SalesOfKind[] {
  const kinds = db.many(sql<{ kind_id: number; kind_name: string; sold: number; net_minor: AmountMinor }>`
    select item_kind.id as kind_id, item_kind.name as kind_name, count(*) as sold,
        sum(price_minor - fees_minor - postage_minor) as net_minor
      from part_sale join item on item.id = part_sale.item_id join item_kind on item_kind.id = item.item_kind_id
      where ${isUndone} = 0
      group by item_kind.id order by count(*) desc, item_kind.name`);
  const listed = db.many(
    sales().select('item.item_kind_id').where(isUndone, '=', 0).where('part_sale.listed_on', 'is not', null),
  );
  return kinds.map((kind) => {
    const days = listed.flatMap((sale) => (sale.item_kind_id === kind.kind_id ? (daysToSell(sale) ?? []) : []));
    const { kind_name: kindName, sold: count, net_minor: netMinor } = kind;
    return { kindName, count, netMinor, listed: days.length, medianDays: medianOf(days) };
  });
}
