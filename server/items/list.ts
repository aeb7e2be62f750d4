import { sql } from 'kysely';
import { isKept } from '../attachments/queries.ts';
import { build, type Db } from '../db/database.ts';
import { matching, rowIdsOf } from '../find/words.ts';
import type { Day } from '../units/day.ts';
import { numberOfItem } from './compute.ts';
import { type ItemOfKind, itemsOfKinds } from './queries.ts';
import type { Got, ItemStatus } from './table.ts';

export interface ItemFilter {
  /** Words of the item, or its number; '' for any. */
  text: string;
  kindId: number | null;
  status: ItemStatus | null;
  got: Got | null;
  from: Day | null;
  to: Day | null;
  /** Part of where it is from; '' for anywhere. */
  source: string;
}

export interface ListedItem extends ItemOfKind {
  /** 1 when photos or papers are kept with it. */
  has_photo: number;
}

const hasPhoto = sql<number>`exists (select 1 from attachment
  where attachment.document_kind = 'item' and attachment.document_id = item.id and ${isKept} = 1)`;

/** A page of what was picked up, newest first. */
export function listItems(db: Db, filter: ItemFilter, offset: number, count: number): ListedItem[] {
  const { text, kindId, status, got, from, to, source } = filter;
  let query = itemsOfKinds()
    .select(hasPhoto.as('has_photo'))
    .orderBy('item.picked_up_on', 'desc')
    .orderBy('item.id', 'desc')
    .limit(count)
    .offset(offset);
  if (kindId !== null) query = query.where('item.item_kind_id', '=', kindId);
  if (status !== null) query = query.where('item.status', '=', status);
  if (got !== null) query = query.where('item.got', '=', got);
  if (from !== null) query = query.where('item.picked_up_on', '>=', from);
  if (to !== null) query = query.where('item.picked_up_on', '<=', to);
  if (source !== '') query = query.where(sql<boolean>`instr(lower(item.source), lower(${source})) > 0`);
  if (text !== '')
    query = query.where((eb) =>
      eb.or([eb('item.id', '=', numberOfItem(text) ?? 0), eb('item.id', 'in', idsWith(text))]),
    );
  return db.many(query);
}

function idsWith(text: string) {
  const { first, last } = rowIdsOf('item');
  return build
    .selectFrom('found')
    .select(sql<number>`rowid - ${sql.lit(first)}`.as('id'))
    .where('found', sql`match`, matching(text))
    .where('rowid', '>=', first)
    .where('rowid', '<=', last);
}

/** How many items wait to be looked at. */
export const countWaiting = (db: Db): number =>
  db.one(sql<{ count: number }>`select count(*) as count from item where status = 'waiting'`).count;
