import { type RawBuilder, sql } from 'kysely';
import { build, type Db } from '../../db/database.ts';
import type { AccountKind, DocumentKind } from '../../ledger/table.ts';
import type { AmountMinor } from '../../money/money.ts';
import { type Quote, takeBackOf } from '../../prices/queries.ts';
import { isStandingTicket } from '../../tickets/queries.ts';
import type { PaidBy } from '../../tickets/table.ts';
import type { Day } from '../../units/day.ts';
import type { MassUg } from '../../units/mass.ts';

/** An account that is not a load's; those of bins have a code, those of items a kind. */
export interface JournalAccount {
  id: number;
  kind: AccountKind;
  bin_id: number | null;
  code: string | null;
  item_id: number | null;
  item_kind: string | null;
}

export const accountsButLoads = (db: Db): JournalAccount[] =>
  db.many(
    build
      .selectFrom('account')
      .leftJoin('bin', 'bin.id', 'account.bin_id')
      .leftJoin('item', 'item.id', 'account.item_id')
      .leftJoin('item_kind', 'item_kind.id', 'item.item_kind_id')
      .select(['account.id', 'account.kind', 'account.bin_id', 'bin.code'])
      .select(['account.item_id', 'item_kind.name as item_kind'])
      .where('account.kind', '<>', 'load')
      .orderBy('account.id'),
  );

/** A list of ids as a table, so that one statement serves lists of any length. */
const listed = (ids: Iterable<number>): RawBuilder<unknown> => sql`json_each(${JSON.stringify([...ids])}) as wanted`;

/** The account of a load, by what a person calls it. Neither changes once it is loaded. */
export interface LoadAccount {
  id: number;
  manifest_line_id: number;
  label: string;
  manifest_id: number;
  number: string;
  yard_id: number;
}

export const loadAccounts = (db: Db, ids: Iterable<number>): LoadAccount[] =>
  db.many(
    sql<LoadAccount>`select account.id, account.manifest_line_id, manifest_line.label, manifest.id as manifest_id,
        manifest.number, manifest.yard_id
      from ${listed(ids)} cross join account on account.id = wanted.value
        join manifest_line on manifest_line.id = account.manifest_line_id
        join manifest on manifest.id = manifest_line.manifest_id`,
  );

/** What is only ever appended, and told in the order of its days. */
const DAYS = { transfer: sql`occurred_on`, quote: sql`seen_on` } as const;
export type Appended = keyof typeof DAYS;

export const newestId = (db: Db, table: Appended): number =>
  db.one(sql<{ id: number }>`select coalesce(max(id), 0) as id from ${sql.table(table)}`).id;

/** Days and ids in one number, so that a million of them take 8 MB and sort as numbers do; ids below 2^26. */
const DAY_FACTOR = 2 ** 26;
export const idInKey = (key: number): number => key % DAY_FACTOR;

/** The keys of up to `count` rows after an id, in the order of ids. */
export const keysAfter = (db: Db, table: Appended, afterId: number, count: number): number[] =>
  db
    .many(
      sql<{ key: number }>`select cast(replace(${DAYS[table]}, '-', '') as integer) * ${sql.lit(DAY_FACTOR)} + id as key
        from ${sql.table(table)} where id > ${afterId} order by id limit ${count}`,
    )
    .map(({ key }) => key);

/** Some quotes in the order of a list of ids, without those that were taken back. */
export const quotesListed = (db: Db, ids: readonly number[]): Quote[] =>
  db.many(
    sql<Quote>`select quote.id, yard_id, grade_id, price, per, seen_on, seen_where, recorded_at
      from ${listed(ids)} cross join quote on quote.id = wanted.value
      where ${takeBackOf('quote')} is null order by wanted.key`,
  );

export interface JournalTransfer {
  id: number;
  from_account_id: number;
  to_account_id: number;
  grade_id: number;
  mass_ug: MassUg;
  occurred_on: Day;
  reason: string;
  document_kind: DocumentKind;
  document_id: number;
  reverses_id: number | null;
  /** What was noted with the document; a ticket's stands with its money. */
  note: string | null;
}

/** Some transfers in the order of a list of ids. */
export const transfersListed = (db: Db, ids: readonly number[]): JournalTransfer[] =>
  db.many(
    sql<JournalTransfer>`select transfer.id, from_account_id, to_account_id, grade_id, mass_ug, occurred_on, reason,
        document_kind, document_id, reverses_id, case document_kind
          when 'in_weight' then (select note from in_weight where in_weight.id = document_id)
          when 'recount' then (select note from recount where recount.id = document_id)
          when 'bin_transfer' then (select note from bin_transfer where bin_transfer.id = document_id)
          when 'load_return' then (select load_return.reason from load_return where load_return.id = document_id)
          end as note
      from ${listed(ids)} cross join transfer on transfer.id = wanted.value order by wanted.key`,
  );

/** A standing ticket and the sums of its groups, as they are kept; the foot is null while it is not in the ledger. */
export interface JournalTicket {
  id: number;
  yard_id: number;
  number: string;
  sold_on: Day;
  expected: AmountMinor;
  scale: AmountMinor;
  deduction: AmountMinor;
  grade: AmountMinor;
  price: AmountMinor;
  rounding: AmountMinor;
  arithmetic: AmountMinor;
  paid: AmountMinor;
  lines: AmountMinor;
  charges: AmountMinor | null;
  tax: AmountMinor | null;
  cash_rounding: AmountMinor | null;
  total: AmountMinor | null;
  paid_by: PaidBy | null;
}

/** Every standing ticket with its money, in the order of sale. */
export const ticketMoney = (db: Db): JournalTicket[] =>
  db.many(
    sql<JournalTicket>`select ticket.id, ticket.yard_id, ticket.number, ticket.sold_on,
        coalesce(sum(expected_minor), 0) as expected, coalesce(sum(scale_minor), 0) as scale,
        coalesce(sum(deduction_minor), 0) as deduction, coalesce(sum(grade_minor), 0) as grade,
        coalesce(sum(price_minor), 0) as price, coalesce(sum(rounding_minor), 0) as rounding,
        coalesce(sum(arithmetic_minor), 0) as arithmetic, coalesce(sum(paid_minor), 0) as paid,
        (select coalesce(sum(amount_minor), 0) from ticket_line where ticket_line.ticket_id = ticket.id) as lines,
        ticket_total.charges_minor as charges, ticket_total.tax_minor as tax,
        ticket_total.cash_rounding_minor as cash_rounding, ticket_total.total_minor as total, ticket_total.paid_by
      from ticket left join ticket_total on ticket_total.ticket_id = ticket.id
        left join reconciliation_group on reconciliation_group.ticket_id = ticket.id
      where ${isStandingTicket} group by ticket.id order by ticket.sold_on, ticket.id`,
  );

/** What was expected of the loads that a ticket pays for, by the grade of their bins. */
export interface TicketExpected {
  ticket_id: number;
  grade_id: number;
  expected: AmountMinor;
}

export const expectedByGrade = (db: Db, ticketIds: readonly number[]): TicketExpected[] =>
  db.many(
    sql<TicketExpected>`select paid.ticket_id, bin.grade_id, sum(manifest_line.expected_minor) as expected
      from (select distinct ticket_line.ticket_id, ticket_line_load.manifest_line_id
          from ${listed(ticketIds)} cross join ticket_line on ticket_line.ticket_id = wanted.value
          join ticket_line_load on ticket_line_load.ticket_line_id = ticket_line.id) as paid
        join manifest_line on manifest_line.id = paid.manifest_line_id join bin on bin.id = manifest_line.bin_id
      group by paid.ticket_id, bin.grade_id order by paid.ticket_id, bin.grade_id`,
  );

export const ticketNotes = (db: Db, ticketIds: readonly number[]): Map<number, string> => {
  const rows = db.many(
    sql<{ id: number; note: string }>`select ticket.id, ticket.note
      from ${listed(ticketIds)} cross join ticket on ticket.id = wanted.value`,
  );
  return new Map(rows.map(({ id, note }) => [id, note]));
};
