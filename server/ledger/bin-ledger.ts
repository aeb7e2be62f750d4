import { sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, massUg } from '../units/mass.ts';
import { type InWeight, inWeightColumns } from './queries.ts';
import type { AccountKind, DocumentKind } from './table.ts';
import { isNotFromOutside } from './transfers.ts';

const isReversed = sql<number>`exists (select 1 from transfer as reversal where reversal.reverses_id = transfer.id)`;

/** One line of a bin's ledger, as seen from the bin: what came in is positive. */
export interface BinLedgerRow {
  id: number;
  signed_ug: MassUg;
  occurred_on: Day;
  recorded_at: string;
  reason: string;
  document_kind: DocumentKind;
  document_id: number;
  reverses_id: number | null;
  is_reversed: number;
  other_kind: AccountKind;
  other_bin_code: string | null;
}

/** Where a page of a bin's ledger begins: just before this row. */
export interface LedgerCursor {
  day: Day;
  id: number;
}

/** Which rows of a bin's ledger: from a day on, and of some kinds of documents; null for all. */
export interface LedgerFilter {
  from: Day | null;
  kinds: readonly DocumentKind[] | null;
}

/**
 * The newest rows of a bin's ledger, or those before a cursor, newest first. Each side is read from its own index, so
 * the cost is the rows shown and not the history.
 */
export const binLedgerRows = (
  db: Db,
  accountId: number,
  before: LedgerCursor | null,
  count: number,
  { from, kinds }: LedgerFilter = { from: null, kinds: null },
): BinLedgerRow[] => {
  const side = (own: 'to_account_id' | 'from_account_id', sign: number) => {
    const rows = build
      .selectFrom('transfer')
      .select(['id', 'occurred_on', 'recorded_at', 'reason', 'document_kind', 'document_id', 'reverses_id'])
      .select(sql<MassUg>`mass_ug * ${sql.lit(sign)}`.as('signed_ug'))
      .select(own === 'to_account_id' ? 'from_account_id as other_account_id' : 'to_account_id as other_account_id')
      .where(own, '=', accountId)
      .$if(own === 'from_account_id', (query) => query.where(isNotFromOutside))
      .orderBy('occurred_on', 'desc')
      .orderBy('id', 'desc')
      .limit(count)
      .$if(from !== null, (query) => query.where('occurred_on', '>=', from as Day))
      // The plus keeps SQLite to the account's own index.
      .$if(kinds !== null, (query) => query.where(sql<DocumentKind>`+document_kind`, 'in', [...(kinds ?? [])]));
    return before === null
      ? rows
      : rows.where((eb) => eb(eb.refTuple('occurred_on', 'id'), '<', eb.tuple(before.day, before.id)));
  };
  return db.many(
    build
      .with('moved', () =>
        build
          .selectFrom(side('to_account_id', 1).as('in_rows'))
          .selectAll()
          .unionAll(build.selectFrom(side('from_account_id', -1).as('out_rows')).selectAll()),
      )
      .selectFrom('moved')
      .innerJoin('account', 'account.id', 'moved.other_account_id')
      .leftJoin('bin', 'bin.id', 'account.bin_id')
      .select(['moved.id', 'signed_ug', 'occurred_on', 'recorded_at', 'reason', 'document_kind', 'document_id'])
      .select(['reverses_id', 'account.kind as other_kind', 'bin.code as other_bin_code'])
      .select(
        sql<number>`exists (select 1 from transfer as reversal where reversal.reverses_id = moved.id)`.as(
          'is_reversed',
        ),
      )
      .orderBy('occurred_on', 'desc')
      .orderBy('moved.id', 'desc')
      .limit(count),
  );
};

/**
 * The sum of an account's signed movements at and after a row in ledger order, to find the balance further back. What
 * was taken back counts neither way, as on the page.
 */
export function movedSince(db: Db, accountId: number, cursor: LedgerCursor): MassUg {
  const side = (own: 'to_account_id' | 'from_account_id') =>
    db.one(
      build
        .selectFrom('transfer')
        .select((eb) => eb.fn.coalesce(eb.fn.sum<number>('mass_ug'), sql<number>`0`).as('mass'))
        .where(own, '=', accountId)
        .$if(own === 'from_account_id', (query) => query.where(isNotFromOutside))
        .where('reverses_id', 'is', null)
        .where(isReversed, '=', 0)
        .where((eb) => eb(eb.refTuple('occurred_on', 'id'), '>=', eb.tuple(cursor.day, cursor.id))),
    ).mass;
  return massUg(side('to_account_id') - side('from_account_id'));
}

/** The in-weights behind some lines of a ledger, by id. */
export const findInWeightsByIds = (db: Db, ids: readonly number[]): Map<number, InWeight> => {
  if (ids.length === 0) return new Map();
  const rows = db.many(
    build
      .selectFrom('in_weight')
      .select(inWeightColumns)
      .where('id', 'in', [...ids]),
  );
  return new Map(rows.map((row) => [row.id, row]));
};

/** What a line of a bin's ledger came from, apart from in-weights: its note, the other bin, the manifest. */
export interface LedgerDocument {
  kind: DocumentKind;
  id: number;
  note: string;
  from_code: string | null;
  to_code: string | null;
  manifest_id: number | null;
  manifest_number: string | null;
}

/** The documents behind some lines of a ledger. Kinds without a note or another place are left out. */
export function ledgerDocuments(db: Db, rows: readonly BinLedgerRow[]): LedgerDocument[] {
  const idsOf = (kind: DocumentKind) => [
    ...new Set(rows.filter((row) => row.document_kind === kind).map((row) => row.document_id)),
  ];
  const nothing = { note: '', from_code: null, to_code: null, manifest_id: null, manifest_number: null };
  const recounts = db.many(build.selectFrom('recount').select(['id', 'note']).where('id', 'in', idsOf('recount')));
  const moves = db.many(
    build
      .selectFrom('bin_transfer')
      .innerJoin('bin as source', 'source.id', 'bin_transfer.from_bin_id')
      .innerJoin('bin as target', 'target.id', 'bin_transfer.to_bin_id')
      .select(['bin_transfer.id', 'bin_transfer.note', 'source.code as from_code', 'target.code as to_code'])
      .where('bin_transfer.id', 'in', idsOf('bin_transfer')),
  );
  const strippings = db.many(
    build
      .selectFrom('stripping')
      .innerJoin('bin as source', 'source.id', 'stripping.from_bin_id')
      .innerJoin('bin as target', 'target.id', 'stripping.to_bin_id')
      .select(['stripping.id', 'stripping.note', 'source.code as from_code', 'target.code as to_code'])
      .where('stripping.id', 'in', idsOf('stripping')),
  );
  const loads = db.many(
    build
      .selectFrom('manifest_line')
      .innerJoin('manifest', 'manifest.id', 'manifest_line.manifest_id')
      .select(['manifest_line.id', 'manifest.id as manifest_id', 'manifest.number as manifest_number'])
      .where('manifest_line.id', 'in', idsOf('manifest_line')),
  );
  return [
    ...recounts.map((row) => ({ ...nothing, ...row, kind: 'recount' as const })),
    ...moves.map((row) => ({ ...nothing, ...row, kind: 'bin_transfer' as const })),
    ...strippings.map((row) => ({ ...nothing, ...row, kind: 'stripping' as const })),
    ...loads.map((row) => ({ ...nothing, ...row, kind: 'manifest_line' as const })),
  ];
}
