import { type RawBuilder, sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import { isUndone } from '../ledger/queries.ts';
import type { Load } from '../manifests/queries.ts';
import { isStandingTicket } from '../tickets/queries.ts';

/** What a broken rule is about, and by how much it is off (micrograms or minor units). */
export interface Off {
  what: string;
  off: number;
}

const offs = (db: Db, query: RawBuilder<Off>): Off[] => db.many(query);

/** An account in words: its bin's code, its load, or its kind. */
const accountName = sql`coalesce(
  (select 'bin ' || bin.code from bin where bin.id = account.bin_id),
  (select 'load ' || manifest_line.label || ' of manifest ' || manifest.number from manifest_line
    join manifest on manifest.id = manifest_line.manifest_id where manifest_line.id = account.manifest_line_id),
  'item ' || account.item_id,
  account.kind)`;

/** Grades whose mass over all accounts is not zero. */
export const gradesNotZero = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select grade.name as what, sum(balance.mass_ug) as off
      from balance join grade on grade.id = balance.grade_id group by grade.id having sum(balance.mass_ug) <> 0`,
  );

/** Balances that are not the sum of the transfers in and out, also those that are missing or should not be there. */
export const balancesOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`with moved as (
        select account_id, grade_id, sum(mass_ug) as mass_ug from (
          select to_account_id as account_id, grade_id, mass_ug from transfer
          union all select from_account_id, grade_id, -mass_ug from transfer)
        group by account_id, grade_id)
      select ${accountName} || ', ' || grade.name as what,
          coalesce(balance.mass_ug, 0) - coalesce(moved.mass_ug, 0) as off
        from moved full join balance
          on balance.account_id = moved.account_id and balance.grade_id = moved.grade_id
        join account on account.id = coalesce(balance.account_id, moved.account_id)
        join grade on grade.id = coalesce(balance.grade_id, moved.grade_id)
        where coalesce(balance.mass_ug, 0) <> coalesce(moved.mass_ug, 0)
          or balance.is_load <> (account.kind = 'load')`,
  );

export const accountsBelowZero = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select ${accountName} as what, balance.mass_ug as off from balance
      join account on account.id = balance.account_id
      where balance.mass_ug < 0 and account.kind in ('bin', 'load', 'sold')`,
  );

/** Reversals that are not the mirror of what they reverse. */
export const reversalsOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select 'transfer ' || reversal.id as what, reversal.mass_ug - posted.mass_ug as off
      from transfer as reversal join transfer as posted on posted.id = reversal.reverses_id
      where reversal.from_account_id <> posted.to_account_id or reversal.to_account_id <> posted.from_account_id
        or reversal.grade_id <> posted.grade_id or reversal.mass_ug <> posted.mass_ug
        or reversal.occurred_on <> posted.occurred_on`,
  );

/**
 * What a document first moved into an account less what it first moved out of it; reversals are left out. CROSS JOIN
 * makes SQLite begin with the document's few transfers instead of the account's many, and the plus keeps it from the
 * index of reversals, whose empty entries are nearly all transfers.
 */
const posted = (kind: string, document: RawBuilder<unknown>, account: RawBuilder<unknown>) => sql`(
  select coalesce(sum(case when transfer.to_account_id = account.id then transfer.mass_ug else -transfer.mass_ug end), 0)
  from transfer cross join account on account.id in (transfer.to_account_id, transfer.from_account_id)
  where transfer.document_kind = ${sql.lit(kind)} and transfer.document_id = ${document}
    and +transfer.reverses_id is null and ${account})`;

/** Where an in-weight comes from: the account of its item, or outside when it names none. */
const isSourceOf = sql`case when in_weight.item_id is null then account.kind = 'outside'
  else account.item_id = in_weight.item_id end`;

/** In-weights, recounts, moves, strippings and loads whose transfers are not the mass they say. */
export const documentsOff = (db: Db): Off[] => [
  ...offs(
    db,
    sql<Off>`select 'in-weight ' || id as what, net_ug - moved as off from (
      select id, net_ug, -${posted('in_weight', sql`in_weight.id`, sql`${isSourceOf}`)} as moved
        from in_weight) where net_ug <> moved`,
  ),
  ...offs(
    db,
    sql<Off>`select 'recount ' || id as what, difference_ug - moved as off from (
      select id, difference_ug, ${posted('recount', sql`recount.id`, sql`account.bin_id = recount.bin_id`)} as moved
        from recount) where difference_ug <> moved`,
  ),
  ...offs(
    db,
    sql<Off>`select 'move ' || id as what, net_ug - moved as off from (
      select id, net_ug, ${posted('bin_transfer', sql`bin_transfer.id`, sql`account.bin_id = bin_transfer.to_bin_id`)}
        as moved from bin_transfer) where net_ug <> moved`,
  ),
  ...offs(
    db,
    sql<Off>`select 'stripping ' || id as what, after_ug - moved as off from (
      select id, after_ug, ${posted('stripping', sql`stripping.id`, sql`account.bin_id = stripping.to_bin_id`)} as moved
        from stripping) where after_ug <> moved`,
  ),
  ...offs(
    db,
    sql<Off>`select 'waste of stripping ' || id as what, before_ug - after_ug - moved as off from (
      select id, before_ug, after_ug, ${posted('stripping', sql`stripping.id`, sql`account.kind = 'waste'`)} as moved
        from stripping) where before_ug - after_ug <> moved`,
  ),
  ...offs(
    db,
    sql<Off>`select 'load ' || label || ' of manifest ' || number as what, mass_ug - moved as off from (
      select manifest_line.label, manifest.number, coalesce(manifest_line.mass_ug, 0) as mass_ug,
          ${posted('manifest_line', sql`manifest_line.id`, sql`account.manifest_line_id = manifest_line.id`)} as moved
        from manifest_line join manifest on manifest.id = manifest_line.manifest_id
        where manifest.loaded_on is not null) where mass_ug <> moved or mass_ug = 0`,
  ),
];

/** Loads that hold something after they were sold or brought back, or not all of it while they are out. */
export const loadsOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select what, held - due as off from (
      select 'load ' || manifest_line.label || ' of manifest ' || manifest.number as what,
          coalesce((select sum(balance.mass_ug) from balance join account on account.id = balance.account_id
            where account.manifest_line_id = manifest_line.id), 0) as held,
          case when exists (select 1 from ticket_line_load
              join ticket_line on ticket_line.id = ticket_line_load.ticket_line_id
              where ticket_line_load.manifest_line_id = manifest_line.id
                and exists (select 1 from ticket where ticket.id = ticket_line.ticket_id and ${isStandingTicket})) then 0
            when exists (select 1 from load_return where load_return.manifest_line_id = manifest_line.id
              and not exists (select 1 from load_return_undone
                where load_return_undone.load_return_id = load_return.id)) then 0
            else manifest_line.mass_ug end as due
        from manifest_line join manifest on manifest.id = manifest_line.manifest_id
        where manifest.loaded_on is not null) where held <> due`,
  );

/** What a ticket moved and did not take back, by the account it went to; signed, what came in is positive. */
const settled = (kind: string) => sql<number>`(
  select coalesce(sum(case when transfer.to_account_id = account.id then transfer.mass_ug else -transfer.mass_ug end), 0)
  from transfer cross join account on account.id in (transfer.to_account_id, transfer.from_account_id)
  where transfer.document_kind = 'ticket' and transfer.document_id = ticket.id and account.kind = ${sql.lit(kind)})`;

const groupSum = (mass: RawBuilder<unknown>) => sql<number>`(
  select coalesce(sum(${mass}), 0) from reconciliation_group
  where reconciliation_group.ticket_id = ticket.id and is_on_ticket = 1)`;

/** Tickets whose transfers are not what their groups say was loaded, read differently, deducted and sold. */
export function settlementsOff(db: Db): Off[] {
  const parts = [
    ['loaded', sql`-${settled('load')}`, groupSum(sql`home_ug`)],
    ['scale difference', settled('scale_difference'), groupSum(sql`home_ug - yard_ug`)],
    ['deducted', settled('deducted'), groupSum(sql`yard_ug - paid_ug`)],
    ['sold', settled('sold'), groupSum(sql`paid_ug`)],
  ] as const;
  return parts.flatMap(([name, moved, due]) =>
    offs(
      db,
      sql<Off>`select 'ticket ' || number || ', ' || ${sql.lit(name)} as what, moved - due as off from (
        select ticket.number, ${moved} as moved, ${due} as due from ticket) where moved <> due`,
    ),
  );
}

/** Tickets that were replaced or taken back and still have groups. */
export const goneWithGroups = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select distinct 'ticket ' || ticket.number as what, 0 as off from reconciliation_group
      join ticket on ticket.id = reconciliation_group.ticket_id
      where not ${isStandingTicket}`,
  );

/** Groups on a ticket whose shares by grade do not add up to them. */
export const sharesOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select 'ticket ' || ticket.number || ', group ' || whole.group_no as what,
        whole.paid_minor - coalesce(sum(share.paid_minor), 0) as off
      from reconciliation_group as whole join ticket on ticket.id = whole.ticket_id
      left join reconciliation_share as share on share.ticket_id = whole.ticket_id and share.group_no = whole.group_no
      where whole.is_on_ticket = 1 group by whole.ticket_id, whole.group_no
      having coalesce(sum(share.home_ug), 0) <> whole.home_ug or coalesce(sum(share.yard_ug), 0) <> whole.yard_ug
        or coalesce(sum(share.paid_ug), 0) <> whole.paid_ug or coalesce(sum(share.paid_minor), 0) <> whole.paid_minor`,
  );

/** Kilograms squared, kilograms times minor units, and minor units squared, over the shares of a month. */
const SPREADS = {
  home_squares: sql`sum((home_ug / 1e9) * (home_ug / 1e9))`,
  home_by_money: sql`sum((home_ug / 1e9) * (paid_minor - charges_minor))`,
  money_squares: sql`sum(1.0 * (paid_minor - charges_minor) * (paid_minor - charges_minor))`,
  weighed_squares: sql`sum((weighed_ug / 1e9) * (weighed_ug / 1e9))`,
  weighed_by_paid: sql`sum((weighed_ug / 1e9) * (paid_ug / 1e9))`,
  paid_squares: sql`sum((weighed_ug > 0) * (paid_ug / 1e9) * (paid_ug / 1e9))`,
} as const;
type SpreadSum = keyof typeof SPREADS;

/**
 * Whether a month's floating-point sum is another than that of its shares. They are added and taken away one by one, so
 * the order leaves a trace in the last digits; a slip of 100 t that was put right leaves some 1e-6 of a square kilogram.
 * So a millionth is let pass, and what such a slip leaves. A product is held against the squares of both its sides,
 * because its own terms can cancel.
 */
function spreadOff(name: SpreadSum, sides: readonly [SpreadSum, SpreadSum], dust: number): RawBuilder<boolean> {
  const [one, other] = sides.map((side) => sql.ref(`summed.${side}`));
  return sql<boolean>`abs(${sql.ref(`kept.${name}`)} - ${sql.ref(`summed.${name}`)})
    > 1e-6 * sqrt(${one} * ${other}) + ${sql.lit(dust)}`;
}

/** Months whose sums are not those of their shares. */
export function monthsOff(db: Db): Off[] {
  const sums = Object.entries(SPREADS).map(([name, sum]) => sql`${sum} as ${sql.ref(name)}`);
  const spreads = [
    spreadOff('home_squares', ['home_squares', 'home_squares'], 1e-5),
    spreadOff('home_by_money', ['home_squares', 'money_squares'], 0.1),
    spreadOff('money_squares', ['money_squares', 'money_squares'], 1000),
    spreadOff('weighed_squares', ['weighed_squares', 'weighed_squares'], 1e-5),
    spreadOff('weighed_by_paid', ['weighed_squares', 'paid_squares'], 1e-5),
    spreadOff('paid_squares', ['paid_squares', 'paid_squares'], 1e-5),
  ];
  return offs(
    db,
    sql<Off>`with summed as (
        select substr(sold_on, 1, 7) as month, grade_id, yard_id, sum(weighed_ug > 0) as sales, sum(home_ug) as home_ug,
            sum(yard_ug) as yard_ug, sum(paid_ug) as paid_ug, sum(weighed_ug) as weighed_ug, sum(quoted_ug) as quoted_ug,
            sum(quoted_micro) as quoted_micro, sum(paid_minor) as paid_minor, sum(charges_minor) as charges_minor,
            count(*) as sold, ${sql.join(sums)}
          from reconciliation_share group by substr(sold_on, 1, 7), grade_id, yard_id)
      select coalesce(kept.month, summed.month) || ', ' || grade.name as what,
          coalesce(kept.home_ug, 0) - coalesce(summed.home_ug, 0) as off
        from summed full join sale_month as kept
          on kept.month = summed.month and kept.grade_id = summed.grade_id and kept.yard_id = summed.yard_id
        join grade on grade.id = coalesce(kept.grade_id, summed.grade_id)
        where (kept.sales, kept.home_ug, kept.yard_ug, kept.paid_ug, kept.weighed_ug, kept.quoted_ug, kept.quoted_micro,
            kept.paid_minor, kept.charges_minor, kept.sold) is not (summed.sales, summed.home_ug, summed.yard_ug,
            summed.paid_ug, summed.weighed_ug, summed.quoted_ug, summed.quoted_micro, summed.paid_minor,
            summed.charges_minor, summed.sold)
          or ${sql.join(spreads, sql` or `)}`,
  );
}

/** A photo or paper in words. */
const attachmentName = sql`'photo or paper ' || attachment.id`;

/** Photos and papers whose bytes are missing, of another length or another kind than they say, or without a preview. */
export const bytesOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select ${attachmentName} as what, 0 as off from attachment
      left join attachment_bytes as whole on whole.attachment_id = attachment.id
      left join attachment_preview as preview on preview.attachment_id = attachment.id
      where coalesce(length(whole.bytes), 0) <> attachment.byte_count
        or hex(substr(whole.bytes, 1, 4)) not like case content when 'photo' then 'FFD8FF%' else '25504446' end
        or (content = 'photo') <> (preview.attachment_id is not null)
        or (content = 'photo' and hex(substr(preview.bytes, 1, 3)) <> 'FFD8FF')
        or length(sha256) <> 64 or sha256 glob '*[^0-9a-f]*'`,
  );

/** Photos and papers of documents that are not there. */
export const attachmentsAstray = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select ${attachmentName} as what, 0 as off from attachment
      where not case document_kind
        when 'ticket' then exists (select 1 from ticket where ticket.id = document_id)
        when 'manifest' then exists (select 1 from manifest where manifest.id = document_id)
        when 'bin' then exists (select 1 from bin where bin.id = document_id)
        when 'item' then exists (select 1 from item where item.id = document_id)
        else 0 end`,
  );

/**
 * Items whose account gave other than the in-weights that name them, and items that were sold whole or thrown away
 * although something of them is in a bin.
 */
export const itemsOff = (db: Db): Off[] => [
  ...offs(
    db,
    sql<Off>`with due as (
        select in_weight.item_id, bin.grade_id, sum(net_ug) as mass_ug from in_weight join bin on bin.id = in_weight.bin_id
        where in_weight.item_id is not null and ${isUndone} = 0 group by in_weight.item_id, bin.grade_id),
      held as (
        select account.item_id, balance.grade_id, -balance.mass_ug as mass_ug
        from balance join account on account.id = balance.account_id where account.item_id is not null)
      select 'item ' || coalesce(due.item_id, held.item_id) as what,
          coalesce(held.mass_ug, 0) - coalesce(due.mass_ug, 0) as off
        from due full join held on held.item_id = due.item_id and held.grade_id = due.grade_id
        where coalesce(held.mass_ug, 0) <> coalesce(due.mass_ug, 0)`,
  ),
  ...offs(
    db,
    sql<Off>`select 'item ' || item.id as what, 0 as off from item
      where item.status in ('sold whole', 'discarded') and exists (
        select 1 from in_weight where in_weight.item_id = item.id and ${isUndone} = 0)`,
  ),
];

/** Request keys that are there more than once. */
export const keysTwice = (db: Db): Off[] =>
  offs(db, sql<Off>`select key as what, count(*) as off from request not indexed group by key having count(*) > 1`);

export const loadedManifestIds = (db: Db): { id: number; number: string }[] =>
  db.many(
    build
      .selectFrom('manifest')
      .select(['manifest.id', 'manifest.number'])
      .where('manifest.loaded_on', 'is not', null)
      .orderBy('manifest.id'),
  );

/** What makes a load's frozen price and value. */
export type FrozenLoad = Pick<Load, 'label' | 'mass_ug' | 'price' | 'per' | 'expected_minor'>;

/** The rules that the database itself holds, by name. */
export const triggersOf = (db: Db): Map<string, string> =>
  new Map(
    db
      .many(sql<{ name: string; sql: string }>`select name, sql from sqlite_master where type = 'trigger'`)
      .map((row) => [row.name, row.sql]),
  );

/** What the tables, indexes and views of the ledger are, by name. */
export const tablesOf = (db: Db): Map<string, string> =>
  new Map(
    db
      .many(
        sql<{ name: string; sql: string }>`select name, sql from sqlite_master
          where type <> 'trigger' and sql is not null`,
      )
      .map((row) => [row.name, row.sql]),
  );

/** Accounts whose material is said to be there since a day on which none came in or, in a new account, went out. */
export const sinceOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select ${accountName} || ', ' || grade.name as what, 0 as off from balance
      join account on account.id = balance.account_id join grade on grade.id = balance.grade_id
      where not exists (select 1 from transfer where transfer.to_account_id = balance.account_id
          and transfer.occurred_on = balance.since_on and transfer.grade_id = balance.grade_id)
        and not exists (select 1 from transfer where transfer.from_account_id = balance.account_id
          and transfer.occurred_on = balance.since_on and transfer.grade_id = balance.grade_id)`,
  );

/** Devices that the trail is filtered by and that are in no line of it, or the other way round. */
export const devicesOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`select coalesce(listed.who, told.who) as what, 0 as off
      from trail_device as listed full join (select distinct who from event) as told on told.who = listed.who
      where listed.who is null or told.who is null`,
  );

/** Documents that are taken back twice at once, which no act can do. */
export const takenBackTwice = (db: Db): Off[] => [
  ...offs(
    db,
    sql<Off>`select 'price ' || quote_id as what, count(*) as off from quote_take_back
      where id not in (select quote_take_back_id from quote_take_back_undone) group by quote_id having count(*) > 1`,
  ),
  ...offs(
    db,
    sql<Off>`select 'ticket ' || ticket_id as what, count(*) as off from ticket_take_back
      where id not in (select ticket_take_back_id from ticket_take_back_undone) group by ticket_id having count(*) > 1`,
  ),
];

/**
 * Words that the search does not have as the documents have them: missing, different, or of no document. What it is
 * made of is written again from the tables and held against what is kept.
 */
export const wordsOff = (db: Db): Off[] =>
  offs(
    db,
    sql<Off>`with due (id, text) as (
        select 1099511627776 + id, text from ticket_text
        union all select 2199023255552 + id, text from manifest_text
        union all select 3298534883328 + id, note || char(10) || correction_reason from in_weight
          where note <> '' or correction_reason <> ''
        union all select 4398046511104 + id, note from recount where note <> ''
        union all select 5497558138880 + id, note from bin_transfer where note <> ''
        union all select 6597069766656 + id, note from scale_check where note <> ''
        union all select 7696581394432 + id, reason from load_return where reason <> ''
        union all select 8796093022208 + id, text from item_text
        union all select 9895604649984 + id, note from stripping where note <> ''
        union all select 10995116277760 + id, note from wire_sample where note <> '')
      select 'words ' || coalesce(due.id, found.rowid) as what, 0 as off
        from due full join found on found.rowid = due.id where due.text is not found.text`,
  );

/** What SQLite itself finds wrong with the file; empty when it is whole. */
export function damages(db: Db): string[] {
  const found = db.many(sql<{ integrity_check: string }>`pragma integrity_check`).map((row) => row.integrity_check);
  return found.filter((line) => line !== 'ok');
}

/** Rows that name a row which is not there. */
export const danglingRows = (db: Db): { table: string; parent: string; rowid: number | null }[] =>
  db.many(sql<{ table: string; parent: string; rowid: number | null }>`pragma foreign_key_check`);
