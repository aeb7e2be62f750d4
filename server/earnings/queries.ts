import { type RawBuilder, sql } from 'kysely';
import type { Db } from '../db/database.ts';
import { bestQuotes } from '../home/compute.ts';
import { type Holding, holdingsOf } from '../layers/queries.ts';
import type { AmountMinor } from '../money/money.ts';
import { newestQuotes } from '../prices/queries.ts';
import { everySale, realisedPricesOverall } from '../reports/compute.ts';
import { planningMonths, saleMonths } from '../reports/queries.ts';
import { listGrades, listYards } from '../setup/queries.ts';
import type { Settings } from '../setup/settings.ts';
import type { Day } from '../units/day.ts';
import type { MassUg } from '../units/mass.ts';
import { type EarningItem, type GradePrice, type GradePrices, type ItemEarnings, itemEarnings } from './compute.ts';
import type { Teardown } from './learned.ts';
import type { WholeSale } from './past-sales.ts';

/** What every grade likely brings today: its best newest quote, and its realisation in the months of planning. */
export function gradePrices(db: Db, settings: Settings, today: Day): GradePrices {
  const months = { ...everySale, splitYards: false, ...planningMonths(db) };
  const rows = realisedPricesOverall(saleMonths(db, months), months, settings);
  const realised = new Map(rows.map(({ gradeId, realisation }) => [gradeId, realisation]));
  const names = new Map(listGrades(db).map(({ id, name }) => [id, name]));
  const yards = new Map(listYards(db).map(({ id, name }) => [id, name]));
  const prices = new Map<number, GradePrice>();
  for (const [gradeId, { quote, unitPrice }] of bestQuotes(newestQuotes(db, today))) {
    if (unitPrice.per === 'each') continue;
    prices.set(gradeId, {
      gradeId,
      gradeName: names.get(gradeId) ?? '',
      price: unitPrice.price,
      per: unitPrice.per,
      yardName: yards.get(quote.yard_id) ?? '',
      seenOn: quote.seen_on,
      realisation: realised.get(gradeId) ?? null,
    });
  }
  return prices;
}

type Items = RawBuilder<number>;
type ItemRow = Omit<EarningItem, 'isRunning'> & { isRunning: number };

const workOf = sql`select coalesce(sum(seconds), 0) from work where work.item_id = item.id
  and not exists (select 1 from work_undone where work_undone.work_id = work.id)`;
const standingSales = sql`part_sale.item_id = item.id
  and not exists (select 1 from part_sale_undone where part_sale_undone.part_sale_id = part_sale.id)`;
const standingParts = sql`item_output.item_id = item.id and item_output.kind = 'part'
  and not exists (select 1 from item_output_undone where item_output_undone.item_output_id = item_output.id)`;

const itemRows = (items: Items) => sql<ItemRow>`
  select item.id, item_kind_id as kindId, item_kind.name as kindName, item.name, item.status, item.depth,
      closed_on as closedOn, weight_ug as weightUg, cost_minor as costMinor, disposal_minor as disposalMinor,
      (${workOf}) as seconds,
      exists (select 1 from work_clock where work_clock.item_id = item.id) as isRunning,
      (select coalesce(sum(price_minor - fees_minor - postage_minor), 0) from part_sale where ${standingSales}) as reuseMinor,
      (select count(*) from part_sale where ${standingSales}) as reuseSales,
      (select count(*) from item_output where ${standingParts} and not exists (
        select 1 from part_sale where item_output_id = item_output.id and ${standingSales})) as partsKept
    from item join item_kind on item_kind.id = item.item_kind_id
    where item.id in (${items}) order by item.id`;

/** What the items that a subquery of ids names earned, in the order of their ids. */
function earningsOf(db: Db, settings: Settings, today: Day, items: Items): ItemEarnings[] {
  const rows = db.many(itemRows(items));
  if (rows.length === 0) return [];
  const prices = gradePrices(db, settings, today);
  const held = new Map<number, Holding[]>();
  for (const holding of holdingsOf(db, items)) {
    const known = held.get(holding.item_id);
    if (known === undefined) held.set(holding.item_id, [holding]);
    else known.push(holding);
  }
  return rows.map((row) =>
    itemEarnings({ ...row, isRunning: row.isRunning === 1 }, held.get(row.id) ?? [], prices, settings.currency),
  );
}

/** What one item earned; undefined when there is none. */
export const earningsOfItem = (db: Db, settings: Settings, today: Day, itemId: number): ItemEarnings | undefined =>
  earningsOf(db, settings, today, sql<number>`select id from item where id = ${itemId}`)[0];

/** Which items a report is about; null for all on that side. */
export interface EarningsFilter {
  readonly kindId: number | null;
  /** By the day it was closed, both ends included. */
  readonly from: Day | null;
  readonly to: Day | null;
  /** Leaves out what is still in bins or on the way. */
  readonly onlySold: boolean;
}

/** What the closed items earned, see EarningsFilter. */
export function closedEarnings(db: Db, settings: Settings, today: Day, filter: EarningsFilter): ItemEarnings[] {
  const { kindId, from, to, onlySold } = filter;
  const items = sql<number>`select id from item where status <> 'waiting'
    and (${kindId} is null or item_kind_id = ${kindId})
    and (${from} is null or closed_on >= ${from}) and (${to} is null or closed_on <= ${to})`;
  return earningsOf(db, settings, today, items).filter(({ isFullySold }) => isFullySold || !onlySold);
}

/** A kind of things, as far as its worth goes. */
export interface WorthKind {
  id: number;
  name: string;
  as_is_grade_id: number | null;
  rule_minutes: string;
  /** Keys of its cautions, joined by commas; '' for none of its own. */
  cautions: string;
}

export const listWorthKinds = (db: Db): WorthKind[] =>
  db.many(
    sql<WorthKind>`select id, name, as_is_grade_id, rule_minutes, cautions from item_kind order by name collate nocase`,
  );

export const ruleYields = (db: Db, kindId: number): { grade_id: number; percent: string }[] =>
  db.many(sql<{ grade_id: number; percent: string }>`
    select grade_id, percent from kind_yield where item_kind_id = ${kindId} order by grade_id`);

/** The item a question is about. */
export interface WorthItem {
  id: number;
  kind_id: number;
  name: string;
  weight_typed: string;
  weight_ug: MassUg | null;
}

export const findWorthItem = (db: Db, id: number): WorthItem | undefined =>
  db.maybe(sql<WorthItem>`
    select id, item_kind_id as kind_id, name, weight_typed, weight_ug from item where id = ${id}`);

/** So many of the past are learned from, the newest: more would say hardly more, and hands get quicker. */
const MOST_PAST = 200;

/** Finished teardowns of a kind to one depth, whose whole weight is known, the newest first. */
export function pastTeardowns(db: Db, kindId: number, depth: 'coarse' | 'fine'): Teardown[] {
  const items = sql<number>`select id from item where item_kind_id = ${kindId} and status = 'taken apart'
    and depth = ${depth} and weight_ug is not null order by closed_on desc, id desc limit ${MOST_PAST}`;
  const outputs = new Map<number, Map<number, MassUg>>();
  for (const { item_id, grade_id, weighed_ug } of holdingsOf(db, items)) {
    const own = outputs.get(item_id) ?? new Map<number, MassUg>();
    outputs.set(item_id, own.set(grade_id, weighed_ug));
  }
  const rows = db.many(sql<{ id: number; weightUg: MassUg; seconds: number; partsUg: MassUg }>`
    select item.id, weight_ug as weightUg, (${workOf}) as seconds,
        (select coalesce(sum(net_ug), 0) from item_output where ${standingParts}) as partsUg
      from item where item.id in (${items}) order by item.id`);
  return rows.map(({ id, ...row }) => ({ ...row, outputs: outputs.get(id) ?? new Map() }));
}

/** How many finished teardowns of a kind cannot teach yields, because the whole thing was not weighed. */
export const unweighedTeardowns = (db: Db, kindId: number): number =>
  db.one(sql<{ count: number }>`select count(*) as count from item
    where item_kind_id = ${kindId} and status = 'taken apart' and weight_ug is null`).count;

/** What parts brought that were sold for reuse, after fees and postage, of how many finished teardowns of a kind. */
export const partsOfTeardowns = (db: Db, kindId: number): { netMinor: AmountMinor; teardowns: number } =>
  db.one(sql<{ netMinor: AmountMinor; teardowns: number }>`
    select count(*) as teardowns, coalesce(sum((
        select sum(price_minor - fees_minor - postage_minor) from part_sale
          where item_output_id is not null and ${standingSales})), 0) as netMinor
      from item where item_kind_id = ${kindId} and status = 'taken apart'`);

/** Whole things of a kind that were sold, the newest first. */
export const pastWholeSales = (db: Db, kindId: number): WholeSale[] =>
  db.many(sql<WholeSale>`
    select price_minor, fees_minor, postage_minor, listed_on, sold_on, (${workOf}) as seconds
      from part_sale join item on item.id = part_sale.item_id
      where item.item_kind_id = ${kindId} and part_sale.item_output_id is null
        and not exists (select 1 from part_sale_undone where part_sale_undone.part_sale_id = part_sale.id)
      order by sold_on desc, part_sale.id desc limit ${MOST_PAST}`);

/** How the things of a kind ended, by status: how many, and the seconds of those that were timed. */
export interface Ending {
  status: EarningItem['status'];
  items: number;
  timed: number;
  seconds: number;
}

export const endingsOf = (db: Db, kindId: number): Ending[] =>
  db.many(sql<Ending>`
    select status, count(*) as items, sum(seconds > 0) as timed, sum(seconds) as seconds
      from (select item.status, (${workOf}) as seconds from item
        where item_kind_id = ${kindId} and status <> 'waiting')
      group by status`);
