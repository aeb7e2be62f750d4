import { sql } from 'kysely';
import type { Db } from '../db/database.ts';
import type { AmountMinor } from '../money/money.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, massUg } from '../units/mass.ts';
import type { Layer } from './compute.ts';
import { listInflows, partsOfInflow } from './lines.ts';
import { storedQueue } from './stored.ts';

/** Where an item's material of one grade is now, and what it brought so far. Masses are home weights. */
export interface Holding {
  item_id: number;
  grade_id: number;
  grade_name: string;
  /** Weighed in, less what was taken back. */
  weighed_ug: MassUg;
  in_bins_ug: MassUg;
  /** Loaded, and neither sold nor back. */
  loaded_ug: MassUg;
  sold_ug: MassUg;
  /** Its shares of what tickets paid, after their charges. */
  earned_minor: AmountMinor;
}

/**
 * The holdings of the items that a subquery of ids names, by item and grade.
 * @param items such as sql`select id from item where item_kind_id = 3`; all of them when left out
 */
export const holdingsOf = (db: Db, items = sql<number>`select id from item`): Holding[] =>
  db.many(sql<Holding>`
    with moved (item_id, grade_id, weighed_ug, in_bins_ug, loaded_ug, sold_ug, earned_minor) as (
      select in_weight.item_id, bin.grade_id, net_ug, net_ug, 0, 0, 0
        from in_weight join bin on bin.id = in_weight.bin_id
        where in_weight.item_id in (${items}) and not exists (
          select 1 from transfer as posted join transfer as reversal on reversal.reverses_id = posted.id
          where posted.document_kind = 'in_weight' and posted.document_id = in_weight.id)
      union all
      select layer_part.item_id, layer_part.grade_id, 0, layer_part.mass_ug,
          iif(source.kind = 'load' or target.kind = 'load', -layer_part.mass_ug, 0), 0, 0
        from layer_part
        join transfer on transfer.id = layer_part.transfer_id
        join account as source on source.id = transfer.from_account_id
        join account as target on target.id = transfer.to_account_id
        where layer_part.item_id in (${items})
      union all
      select item_id, grade_id, 0, 0, -mass_ug, mass_ug, earned_minor from item_share where item_id in (${items}))
    select item_id, grade_id, grade.name as grade_name, sum(weighed_ug) as weighed_ug, sum(in_bins_ug) as in_bins_ug,
        sum(loaded_ug) as loaded_ug, sum(sold_ug) as sold_ug, sum(earned_minor) as earned_minor
      from moved join grade on grade.id = moved.grade_id
      group by item_id, grade_id order by item_id, grade_id`);

/** What one ticket paid for an item's material of one grade. */
export interface ItemSale {
  ticket_id: number;
  number: string;
  sold_on: Day;
  yard_name: string;
  grade_name: string;
  mass_ug: MassUg;
  earned_minor: AmountMinor;
}

/** What an item's material was sold for, newest first. */
export const salesOfItem = (db: Db, itemId: number): ItemSale[] =>
  db.many(sql<ItemSale>`
    select ticket.id as ticket_id, ticket.number, ticket.sold_on, yard.name as yard_name, grade.name as grade_name,
        sum(item_share.mass_ug) as mass_ug, sum(item_share.earned_minor) as earned_minor
      from item_share
      join ticket on ticket.id = item_share.ticket_id
      join yard on yard.id = ticket.yard_id
      join grade on grade.id = item_share.grade_id
      where item_share.item_id = ${itemId}
      group by ticket.id, item_share.grade_id order by ticket.sold_on desc, ticket.id desc, grade.name`);

/** A layer of a bin with its items by name; item_id null for material of no item. */
export interface LayerSaid {
  cameOn: Day;
  parts: { itemId: number | null; kindName: string; massUg: MassUg }[];
}

/**
 * What is in a bin, oldest first, which is what a load takes first.
 * @param most so many layers at most; `hasMore` says whether there are others behind them
 */
export function layersOfBin(db: Db, accountId: number, most: number): { layers: LayerSaid[]; hasMore: boolean } {
  const { layers, drawnOn, drawnId } = storedQueue(db, accountId);
  const behind = listInflows(db, accountId, drawnOn, drawnId, most + 1).map(
    (inflow): Layer => [inflow.occurred_on, partsOfInflow(db, accountId, inflow)],
  );
  const all = [...layers, ...behind];
  const shown = all.slice(0, most);
  const kinds = kindsOfItems(db, [...new Set(shown.flatMap(([, parts]) => parts.map(([itemId]) => itemId)))]);
  return {
    layers: shown.map(([cameOn, parts]) => ({
      cameOn,
      parts: parts.map(([itemId, mass]) => ({
        itemId: itemId === 0 ? null : itemId,
        kindName: kinds.get(itemId) ?? '',
        massUg: massUg(mass),
      })),
    })),
    hasMore: all.length > most,
  };
}

const kindsOfItems = (db: Db, ids: readonly number[]): Map<number, string> =>
  new Map(
    db
      .many(sql<{ id: number; name: string }>`select item.id, item_kind.name from item
        join item_kind on item_kind.id = item.item_kind_id where item.id in (${sql.join([0, ...ids])})`)
      .map(({ id, name }) => [id, name]),
  );
