import { type RawBuilder, type SqlBool, sql } from 'kysely';
import type { Db } from '../db/database.ts';
import type { ItemStatus } from '../items/table.ts';
import type { ManifestStatus } from '../manifests/table.ts';
import type { AmountMinor } from '../money/money.ts';
import { isStandingTicket } from '../tickets/queries.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { type FoundKind, rowIdsOf } from './words.ts';

/** Which of the found rows to give. */
export interface Slice {
  offset: number;
  count: number;
}

/**
 * The documents of one kind whose words match, newest first: the ids of a kind are a range, so that only its own rows
 * are looked at. CROSS JOIN keeps SQLite from beginning with the documents.
 */
const matched = (kind: FoundKind, asked: string, { offset, count }: Slice) => {
  const { first, last } = rowIdsOf(kind);
  return sql`(select rowid - ${sql.lit(first)} as id, text from found
    where found match ${asked} and rowid between ${first} and ${last}
    order by rowid desc limit ${count} offset ${offset}) as words`;
};

export interface FoundTicket {
  id: number;
  number: string;
  yard_name: string;
  sold_on: Day;
  total_minor: AmountMinor | null;
  is_standing: number;
  text: string;
}

const ticketColumns = sql`ticket.id, ticket.number, yard.name as yard_name, ticket.sold_on, ticket_total.total_minor,
  ${isStandingTicket} as is_standing`;
const ofTicket = sql`join yard on yard.id = ticket.yard_id left join ticket_total on ticket_total.ticket_id = ticket.id`;

export const ticketsWithWords = (db: Db, asked: string, slice: Slice): FoundTicket[] =>
  db.many(
    sql<FoundTicket>`select ${ticketColumns}, words.text from ${matched('ticket', asked, slice)}
      cross join ticket on ticket.id = words.id ${ofTicket} order by ticket.id desc`,
  );

const ticketsWhere = (db: Db, where: RawBuilder<SqlBool>, { offset, count }: Slice): FoundTicket[] =>
  db.many(
    sql<FoundTicket>`select ${ticketColumns}, '' as text from ticket ${ofTicket} where ${where}
      order by ticket.sold_on desc, ticket.id desc limit ${count} offset ${offset}`,
  );
/** Tickets of any yard with exactly this number. */
export const ticketsNumbered = (db: Db, number: string, slice: Slice): FoundTicket[] =>
  ticketsWhere(db, sql<SqlBool>`ticket.number = ${number}`, slice);
/** Tickets that were paid exactly this total. */
export const ticketsOfTotal = (db: Db, totalMinor: AmountMinor, slice: Slice): FoundTicket[] =>
  ticketsWhere(
    db,
    sql<SqlBool>`ticket.id in (select ticket_id from ticket_total where total_minor = ${totalMinor})`,
    slice,
  );

export interface FoundManifest {
  id: number;
  number: string;
  yard_name: string;
  status: ManifestStatus;
  drafted_on: Day;
  loaded_on: Day | null;
  text: string;
}

const manifestColumns = sql`manifest.id, manifest.number, yard.name as yard_name, manifest.status, manifest.drafted_on,
  manifest.loaded_on`;

export const manifestsWithWords = (db: Db, asked: string, slice: Slice): FoundManifest[] =>
  db.many(
    sql<FoundManifest>`select ${manifestColumns}, words.text from ${matched('manifest', asked, slice)}
      cross join manifest on manifest.id = words.id join yard on yard.id = manifest.yard_id order by manifest.id desc`,
  );
/** Manifests for any yard with exactly this number. */
export const manifestsNumbered = (db: Db, number: string, { offset, count }: Slice): FoundManifest[] =>
  db.many(
    sql<FoundManifest>`select ${manifestColumns}, '' as text from manifest join yard on yard.id = manifest.yard_id
      where manifest.number = ${number} order by manifest.id desc limit ${count} offset ${offset}`,
  );

/** A weighing, recount or move that has words. */
export interface FoundWeight {
  id: number;
  bin_code: string;
  to_code: string | null;
  net_ug: MassUg;
  unit: MassUnit;
  occurred_on: Day;
  is_undone: number;
  text: string;
}

const undoneOf = (kind: string, id: RawBuilder<unknown>) => sql`exists (
  select 1 from transfer as posted join transfer as reversal on reversal.reverses_id = posted.id
  where posted.document_kind = ${sql.lit(kind)} and posted.document_id = ${id})`;

/** Weighings and recounts have the same columns, as far as they are asked for. */
const weightsWithWords = (kind: 'in_weight' | 'recount', db: Db, asked: string, slice: Slice): FoundWeight[] =>
  db.many(
    sql<FoundWeight>`select own.id, bin.code as bin_code, null as to_code, own.net_ug, own.unit, own.occurred_on,
        ${undoneOf(kind, sql`own.id`)} as is_undone, words.text
      from ${matched(kind, asked, slice)} cross join ${sql.table(kind)} as own on own.id = words.id
      join bin on bin.id = own.bin_id order by own.id desc`,
  );
export const inWeightsWithWords = (db: Db, asked: string, slice: Slice): FoundWeight[] =>
  weightsWithWords('in_weight', db, asked, slice);
export const recountsWithWords = (db: Db, asked: string, slice: Slice): FoundWeight[] =>
  weightsWithWords('recount', db, asked, slice);
export const movesWithWords = (db: Db, asked: string, slice: Slice): FoundWeight[] =>
  db.many(
    sql<FoundWeight>`select own.id, bin.code as bin_code, target.code as to_code, own.net_ug, own.unit, own.occurred_on,
        ${undoneOf('bin_transfer', sql`own.id`)} as is_undone, words.text
      from ${matched('bin_transfer', asked, slice)} cross join bin_transfer as own on own.id = words.id
      join bin on bin.id = own.from_bin_id join bin as target on target.id = own.to_bin_id order by own.id desc`,
  );

export const strippingsWithWords = (db: Db, asked: string, slice: Slice): FoundWeight[] =>
  db.many(
    sql<FoundWeight>`select own.id, bin.code as bin_code, target.code as to_code, own.before_ug as net_ug, own.unit,
        own.occurred_on, ${undoneOf('stripping', sql`own.id`)} as is_undone, words.text
      from ${matched('stripping', asked, slice)} cross join stripping as own on own.id = words.id
      join bin on bin.id = own.from_bin_id join bin as target on target.id = own.to_bin_id order by own.id desc`,
  );

export interface FoundSample {
  wire_kind_id: number;
  wire_kind_name: string;
  sampled_on: Day;
  is_undone: number;
  text: string;
}

export const samplesWithWords = (db: Db, asked: string, slice: Slice): FoundSample[] =>
  db.many(
    sql<FoundSample>`select wire_kind.id as wire_kind_id, wire_kind.name as wire_kind_name, own.sampled_on, words.text,
        exists (select 1 from wire_sample_undone where wire_sample_id = own.id) as is_undone
      from ${matched('wire_sample', asked, slice)} cross join wire_sample as own on own.id = words.id
      join wire_kind on wire_kind.id = own.wire_kind_id order by own.id desc`,
  );

export interface FoundCheck {
  scale_id: number;
  scale_name: string;
  checked_on: Day;
  is_undone: number;
  text: string;
}

export const checksWithWords = (db: Db, asked: string, slice: Slice): FoundCheck[] =>
  db.many(
    sql<FoundCheck>`select scale.id as scale_id, scale.name as scale_name, own.checked_on, words.text,
        exists (select 1 from scale_check_undone where scale_check_id = own.id) as is_undone
      from ${matched('scale_check', asked, slice)} cross join scale_check as own on own.id = words.id
      join scale on scale.id = own.scale_id order by own.id desc`,
  );

export interface FoundItem {
  id: number;
  kind_name: string;
  name: string;
  source: string;
  picked_up_on: Day;
  status: ItemStatus;
  text: string;
}

const itemFacts = sql`item.id, item_kind.name as kind_name, item.name, item.source, item.picked_up_on, item.status`;

export const itemsWithWords = (db: Db, asked: string, slice: Slice): FoundItem[] =>
  db.many(
    sql<FoundItem>`select ${itemFacts}, words.text from ${matched('item', asked, slice)}
      cross join item on item.id = words.id join item_kind on item_kind.id = item.item_kind_id order by item.id desc`,
  );
export const itemNumbered = (db: Db, id: number): FoundItem[] =>
  db.many(
    sql<FoundItem>`select ${itemFacts}, '' as text from item join item_kind on item_kind.id = item.item_kind_id
      where item.id = ${id}`,
  );

export interface FoundReturn {
  manifest_id: number;
  manifest_number: string;
  label: string;
  bin_code: string;
  returned_on: Day;
  is_undone: number;
  text: string;
}

export const returnsWithWords = (db: Db, asked: string, slice: Slice): FoundReturn[] =>
  db.many(
    sql<FoundReturn>`select manifest.id as manifest_id, manifest.number as manifest_number, manifest_line.label,
        bin.code as bin_code, own.returned_on, words.text,
        exists (select 1 from load_return_undone where load_return_id = own.id) as is_undone
      from ${matched('load_return', asked, slice)} cross join load_return as own on own.id = words.id
      join manifest_line on manifest_line.id = own.manifest_line_id
      join manifest on manifest.id = manifest_line.manifest_id join bin on bin.id = manifest_line.bin_id
      order by own.id desc`,
  );

/** How much happened on one day, by what it was. */
export interface DayCounts {
  inWeights: number;
  recounts: number;
  moves: number;
  quotes: number;
  drafted: number;
  loaded: number;
  sold: number;
  checks: number;
  items: number;
}

export const countDay = (db: Db, on: Day): DayCounts =>
  db.one(
    sql<DayCounts>`select
      (select count(*) from in_weight where occurred_on = ${on}) as inWeights,
      (select count(*) from recount where occurred_on = ${on}) as recounts,
      (select count(*) from bin_transfer where occurred_on = ${on})
        + (select count(*) from stripping where occurred_on = ${on}) as moves,
      (select count(*) from yard cross join quote on quote.yard_id = yard.id and quote.seen_on = ${on}) as quotes,
      (select count(*) from manifest where loaded_on is null and drafted_on = ${on}) as drafted,
      (select count(*) from manifest where loaded_on = ${on}) as loaded,
      (select count(*) from ticket where sold_on = ${on}) as sold,
      (select count(*) from scale_check where checked_on = ${on}) as checks,
      (select count(*) from item where picked_up_on = ${on}) as items`,
  );

/** The bins that were recounted, or from which something was moved or stripped, on a day. */
export const binsCountedOn = (db: Db, on: Day): { code: string }[] =>
  db.many(
    sql<{ code: string }>`select distinct bin.code from bin where bin.id in (
      select bin_id from recount where occurred_on = ${on}
      union select from_bin_id from bin_transfer where occurred_on = ${on}
      union select from_bin_id from stripping where occurred_on = ${on}) order by bin.id limit 20`,
  );
