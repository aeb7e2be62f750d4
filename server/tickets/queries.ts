import type { Insertable, Selectable } from 'kysely';
import { type SqlBool, sql } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { AmountMinor } from '../money/money.ts';
import type { Day } from '../units/day.ts';
import type { TicketLineTable, TicketTable, TicketTakeBackTable, TicketTotalTable } from './table.ts';

export type TicketTotal = Selectable<TicketTotalTable>;
export type TicketLine = Selectable<TicketLineTable> & { grade_name: string; loadIds: number[] };

/**
 * A ticket with the names a page needs; `replaced_by_id` is set once another ticket took its place, `take_back_id` while
 * it is taken back.
 */
export interface Ticket extends Selectable<TicketTable> {
  yard_name: string;
  manifest_number: string;
  loaded_on: Day;
  replaced_by_id: number | null;
  take_back_id: number | null;
  take_back_reason: string | null;
}

const replacedBy = sql<number | null>`(select newer.id from ticket as newer where newer.replaces_id = ticket.id)`;

/** The standing take-back of a ticket; null while it was not taken back. */
const takeBackOfTicket = sql<number | null>`(
  select back.id from ticket_take_back as back
  left join ticket_take_back_undone as again on again.ticket_take_back_id = back.id
  where back.ticket_id = ticket.id and again.ticket_take_back_id is null)`;

/** Whether the ticket of the query around it counts: no other took its place, and it was not taken back. */
export const isStandingTicket = sql<SqlBool>`(not exists (select 1 from ticket as newer where newer.replaces_id = ticket.id)
  and ${takeBackOfTicket} is null)`;

const ticketColumns = [
  'ticket.id',
  'ticket.yard_id',
  'ticket.manifest_id',
  'ticket.number',
  'ticket.sold_on',
  'ticket.note',
  'ticket.recorded_at',
  'ticket.replaces_id',
  'ticket.replace_reason',
] as const;

const tickets = () =>
  build
    .selectFrom('ticket')
    .innerJoin('yard', 'yard.id', 'ticket.yard_id')
    .innerJoin('manifest', 'manifest.id', 'ticket.manifest_id')
    .select(ticketColumns)
    .select(['yard.name as yard_name', 'manifest.number as manifest_number'])
    .select((eb) => eb.ref('manifest.loaded_on').$notNull().as('loaded_on'))
    .leftJoin('ticket_take_back', (join) => join.on('ticket_take_back.id', '=', takeBackOfTicket))
    .select(['ticket_take_back.id as take_back_id', 'ticket_take_back.reason as take_back_reason'])
    .select(replacedBy.as('replaced_by_id'));

const ticketById = writtenOnce(() => tickets().where('ticket.id', '=', 0));
export const findTicket = (db: Db, id: number): Ticket | undefined => db.maybe(ticketById(id));

/** The tickets whose place a ticket took, one after the other, the newest first. */
export const ticketsReplacedBy = (db: Db, id: number): number[] =>
  db
    .many(
      sql<{ id: number }>`with recursive chain (id, step) as (
          select replaces_id, 1 from ticket where id = ${id} and replaces_id is not null
          union all select ticket.replaces_id, chain.step + 1 from chain join ticket on ticket.id = chain.id
            where ticket.replaces_id is not null)
        select id from chain order by step`,
    )
    .map((row) => row.id);

const standingByManifest = writtenOnce(() =>
  tickets()
    .where('ticket.manifest_id', '=', 0)
    .where(isStandingTicket)
    .orderBy('ticket.sold_on')
    .orderBy('ticket.number')
    .orderBy('ticket.id'),
);
/**
 * The tickets of a manifest that count: those no other ticket replaced and that were not taken back. They are in the order of their papers, by day
 * and number and not as they were written down, so that one that is put right keeps its place.
 */
export const standingTicketsOf = (db: Db, manifestId: number): Ticket[] => db.many(standingByManifest(manifestId));

/** The tickets of a manifest that were taken back, to be named on its page. */
export const ticketsTakenBackOf = (db: Db, manifestId: number): Ticket[] =>
  db.many(
    tickets()
      .where('ticket.manifest_id', '=', manifestId)
      .where(replacedBy, 'is', null)
      .where(takeBackOfTicket, 'is not', null)
      .orderBy('ticket.id'),
  );

const standingNumbered = writtenOnce(() =>
  tickets()
    .where('ticket.yard_id', '=', 0)
    .where('ticket.number', '=', '')
    .where(isStandingTicket)
    .orderBy('ticket.id'),
);
/** The standing tickets of a yard with one number, to ask about a ticket entered twice. */
export const standingTicketsNumbered = (db: Db, yardId: number, number: string): Ticket[] =>
  db.many(standingNumbered(yardId, number.trim()));

/** Every standing ticket in the order of sale, for the files. */
export const allStandingTickets = (db: Db): Ticket[] =>
  db.many(tickets().where(isStandingTicket).orderBy('ticket.sold_on').orderBy('ticket.id'));

/** A ticket in a list, with what was expected of its loads and what was paid. */
export interface TicketSummary extends Ticket {
  total_minor: AmountMinor | null;
  expected_minor: AmountMinor;
  paid_minor: AmountMinor;
}

export interface TicketFilter {
  yardId: number | null;
  gradeId: number | null;
  from: Day | null;
  to: Day | null;
  number: string;
  status: (typeof ticketStatuses)[number];
}

const groupSum = (column: 'expected_minor' | 'paid_minor') =>
  sql<AmountMinor>`coalesce((select sum(${sql.ref(column)}) from reconciliation_group
    where reconciliation_group.ticket_id = ticket.id), 0)`;

/** Which tickets a list shows: those that count, those taken back or replaced, or all. */
export const ticketStatuses = ['counting', 'not-counting', 'all'] as const;

/** A page of tickets, the newest sale first. */
export function listTickets(db: Db, filter: TicketFilter, offset: number, count: number): TicketSummary[] {
  let query = tickets()
    .leftJoin('ticket_total', 'ticket_total.ticket_id', 'ticket.id')
    .select(['ticket_total.total_minor'])
    .select([groupSum('expected_minor').as('expected_minor'), groupSum('paid_minor').as('paid_minor')])
    .orderBy('ticket.sold_on', 'desc')
    .orderBy('ticket.id', 'desc')
    .limit(count)
    .offset(offset);
  if (filter.status === 'counting') query = query.where(isStandingTicket);
  if (filter.status === 'not-counting') query = query.where(sql<SqlBool>`not ${isStandingTicket}`);
  if (filter.yardId !== null) query = query.where('ticket.yard_id', '=', filter.yardId);
  if (filter.from !== null) query = query.where('ticket.sold_on', '>=', filter.from);
  if (filter.to !== null) query = query.where('ticket.sold_on', '<=', filter.to);
  if (filter.number !== '') {
    // Searched as text: a number may well hold the signs that LIKE reads as wildcards.
    query = query.where(sql<number>`instr(lower(ticket.number), lower(${filter.number}))`, '>', 0);
  }
  const { gradeId } = filter;
  if (gradeId !== null) {
    query = query.where('ticket.id', 'in', (eb) =>
      eb.selectFrom('ticket_line').select('ticket_line.ticket_id').where('ticket_line.grade_id', '=', gradeId),
    );
  }
  return db.many(query);
}

/** A manifest with loads that are still on no ticket. */
export interface ManifestAtYard {
  id: number;
  number: string;
  yard_name: string;
  loaded_on: Day;
  /** Labels of those loads, joined by commas. */
  labels: string;
  expected_minor: AmountMinor;
}

/** Manifests that wait for a ticket: loads of theirs are neither paid for nor back in their bin. Newest first. */
export const manifestsAtYards = (db: Db): ManifestAtYard[] =>
  db.many(
    build
      .selectFrom('balance')
      .innerJoin('account', 'account.id', 'balance.account_id')
      .innerJoin('manifest_line', 'manifest_line.id', 'account.manifest_line_id')
      .innerJoin('manifest', 'manifest.id', 'manifest_line.manifest_id')
      .innerJoin('yard', 'yard.id', 'manifest.yard_id')
      .select(['manifest.id', 'manifest.number', 'yard.name as yard_name'])
      .select((eb) => eb.ref('manifest.loaded_on').$notNull().as('loaded_on'))
      .select(sql<string>`group_concat(manifest_line.label, ', ' order by manifest_line.id)`.as('labels'))
      .select(sql<AmountMinor>`coalesce(sum(manifest_line.expected_minor), 0)`.as('expected_minor'))
      // Written out, so that the small index of the loads that are out now is used.
      .where('balance.is_load', '=', sql.lit(1) as never)
      .where('balance.mass_ug', '>', sql.lit(0) as never)
      .groupBy('manifest.id')
      .orderBy('manifest.id', 'desc')
      .limit(100),
  );

export const ticketTotal = (db: Db, ticketId: number): TicketTotal | undefined => db.maybe(totalOfTicket(ticketId));

const totalOfTicket = writtenOnce(() =>
  build
    .selectFrom('ticket_total')
    .select([
      'ticket_id',
      'charges_minor',
      'tax_minor',
      'cash_rounding_minor',
      'total_minor',
      'paid_by',
      'recorded_at',
      'worked_out',
    ])
    .where('ticket_id', '=', 0),
);

const lineColumns = [
  'ticket_line.id',
  'ticket_line.ticket_id',
  'ticket_line.line_no',
  'ticket_line.description',
  'ticket_line.grade_id',
  'ticket_line.gross',
  'ticket_line.tare',
  'ticket_line.deduction',
  'ticket_line.net',
  'ticket_line.unit',
  'ticket_line.price',
  'ticket_line.per',
  'ticket_line.amount_minor',
  'ticket_line.quoted_price',
  'ticket_line.quoted_per',
  'ticket_line.worked_out',
] as const;

const linesOfTicket = writtenOnce(() =>
  build
    .selectFrom('ticket_line')
    .innerJoin('grade', 'grade.id', 'ticket_line.grade_id')
    .select(lineColumns)
    .select('grade.name as grade_name')
    .where('ticket_id', '=', 0)
    .orderBy('line_no'),
);
const loadsOfLines = writtenOnce(() =>
  build
    .selectFrom('ticket_line_load')
    .innerJoin('ticket_line', 'ticket_line.id', 'ticket_line_load.ticket_line_id')
    .select(['ticket_line_load.ticket_line_id', 'ticket_line_load.manifest_line_id'])
    .where('ticket_line.ticket_id', '=', 0)
    .orderBy('ticket_line_load.manifest_line_id'),
);

/** The lines of a ticket as printed, each with the loads (manifest lines) it pays for. */
export function ticketLines(db: Db, ticketId: number): TicketLine[] {
  const lines = db.many(linesOfTicket(ticketId));
  const joined = db.many(loadsOfLines(ticketId));
  return lines.map((line) => ({
    ...line,
    loadIds: joined.filter((row) => row.ticket_line_id === line.id).map((row) => row.manifest_line_id),
  }));
}

/** The standing ticket that pays for a load, if one does. */
export const ticketPayingFor = (db: Db, loadId: number): { id: number; number: string } | undefined =>
  db.maybe(payingTicket(loadId));

const payingTicket = writtenOnce(() =>
  build
    .selectFrom('ticket_line_load')
    .innerJoin('ticket_line', 'ticket_line.id', 'ticket_line_load.ticket_line_id')
    .innerJoin('ticket', 'ticket.id', 'ticket_line.ticket_id')
    .select(['ticket.id', 'ticket.number'])
    .where('ticket_line_load.manifest_line_id', '=', 0)
    .where(isStandingTicket)
    .limit(sql.lit(1)),
);

export const insertTicket = (db: Db, ticket: Insertable<TicketTable>): number => db.insert('ticket', ticket);
export const insertTicketTakeBack = (db: Db, takeBack: Insertable<TicketTakeBackTable>): void => {
  db.run(build.insertInto('ticket_take_back').values(takeBack));
};
export const insertTicketTakeBackUndone = (db: Db, takeBackId: number, now: string): void => {
  db.run(build.insertInto('ticket_take_back_undone').values({ ticket_take_back_id: takeBackId, recorded_at: now }));
};
export const insertTicketTotal = (db: Db, total: Insertable<TicketTotalTable>): void => {
  db.insert('ticket_total', total);
};

/** Stores a line and the loads it pays for. */
export function insertTicketLine(db: Db, line: Insertable<TicketLineTable>, loadIds: readonly number[]): number {
  const id = db.insert('ticket_line', line);
  for (const loadId of loadIds) db.insert('ticket_line_load', { ticket_line_id: id, manifest_line_id: loadId });
  return id;
}
