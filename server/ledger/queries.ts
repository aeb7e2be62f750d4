import type { Insertable, Selectable } from 'kysely';
import { sql } from 'kysely';
import type { Ledger } from '../context.ts';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, massUg, NO_MASS } from '../units/mass.ts';
import type {
  AccountKind,
  BinTable,
  BinTransferTable,
  DocumentKind,
  InWeightTable,
  RecountTable,
  TransferTable,
} from './table.ts';

export type Bin = Selectable<BinTable>;
export type InWeight = Selectable<InWeightTable>;
export type Transfer = Selectable<TransferTable>;

const binColumns = [
  'bin.id',
  'bin.code',
  'bin.grade_id',
  'bin.place',
  'bin.container_id',
  'bin.scale_id',
  'bin.full_mark_typed',
  'bin.full_mark_ug',
  'bin.opened_on',
  'bin.closed_on',
] as const;

/** A bin with what is in it now. */
export interface BinOnHand extends Bin {
  grade_name: string;
  family: string;
  mass_ug: MassUg;
  since_on: Day | null;
}

const binsOnHand = () =>
  build
    .selectFrom('bin')
    .innerJoin('grade', 'grade.id', 'bin.grade_id')
    .innerJoin('account', 'account.bin_id', 'bin.id')
    .leftJoin('balance', 'balance.account_id', 'account.id')
    .select(binColumns)
    .select(['grade.name as grade_name', 'grade.family'])
    .select((eb) => eb.fn.coalesce('balance.mass_ug', sql<MassUg>`0`).as('mass_ug'))
    .select('balance.since_on');

/** The open bins with what is in them, in the order they were made. */
export const listBinsOnHand = (db: Db): BinOnHand[] =>
  db.many(binsOnHand().where('bin.closed_on', 'is', null).orderBy('bin.id'));
/** Every bin, closed ones too. */
export const listAllBins = (db: Db): BinOnHand[] => db.many(binsOnHand().orderBy('bin.id'));
const binById = writtenOnce(() => binsOnHand().where('bin.id', '=', 0));
export const findBin = (db: Db, id: number): BinOnHand | undefined => db.maybe(binById(id));
export const findBinByCode = (db: Db, code: string): BinOnHand | undefined =>
  db.maybe(binsOnHand().where('bin.code', '=', code.trim()));

/** Stores a bin and opens its account. */
export function insertBin(db: Db, bin: Insertable<BinTable>): number {
  const { id } = db.run(build.insertInto('bin').values(bin));
  db.run(build.insertInto('account').values({ kind: 'bin', bin_id: id }));
  return id;
}

type BinChange = Partial<
  Pick<Bin, 'code' | 'place' | 'container_id' | 'scale_id' | 'full_mark_typed' | 'full_mark_ug' | 'closed_on'>
>;
export const updateBin = (db: Db, id: number, change: BinChange): void => {
  db.run(build.updateTable('bin').set(change).where('id', '=', id));
};

const accountByBin = writtenOnce(() => build.selectFrom('account').select('id').where('bin_id', '=', 0));
/** Whether a bin ever held or was meant to hold anything. */
export function isBinUsed(db: Db, binId: number): boolean {
  const account = binAccount(db, binId);
  const moved = build
    .selectFrom('transfer')
    .select('id')
    .where((eb) => eb.or([eb('from_account_id', '=', account), eb('to_account_id', '=', account)]));
  const loaded = build.selectFrom('manifest_line').select('id').where('bin_id', '=', binId);
  return db.maybe(moved.limit(1)) !== undefined || db.maybe(loaded.limit(1)) !== undefined;
}

/** Removes a bin that was never used, with its account. */
export function deleteBin(db: Db, id: number): void {
  db.run(build.deleteFrom('account').where('bin_id', '=', id));
  db.run(build.deleteFrom('bin').where('id', '=', id));
}

export const binAccount = (db: Db, binId: number): number => db.one(accountByBin(binId)).id;
export const loadAccount = (db: Db, manifestLineId: number): number =>
  db.one(build.selectFrom('account').select('id').where('manifest_line_id', '=', manifestLineId)).id;
export const openLoadAccount = (db: Db, manifestLineId: number): number =>
  db.run(build.insertInto('account').values({ kind: 'load', manifest_line_id: manifestLineId })).id;

/** The bin that an account belongs to; undefined for an account of another kind. */
export const findBinOfAccount = (db: Db, accountId: number): BinOnHand | undefined =>
  db.maybe(binsOnHand().where('account.id', '=', accountId));

const accountByKind = writtenOnce(() => build.selectFrom('account').select('id').where('kind', '=', 'outside'));
/** The one account of a kind that is not a bin, load or item. */
export const soleAccount = (db: Db, kind: Exclude<AccountKind, 'bin' | 'load' | 'item'>): number =>
  db.one(accountByKind(kind)).id;

/** Mass of a grade in an account now, from the maintained balances. */
export function balanceOf(db: Db, accountId: number, gradeId: number): MassUg {
  const row = db.maybe(
    build.selectFrom('balance').select('mass_ug').where('account_id', '=', accountId).where('grade_id', '=', gradeId),
  );
  return row?.mass_ug ?? NO_MASS;
}

/**
 * Mass in an account at the end of a day: the balance now less what moved on later days, so that a document entered
 * late is compared with what was there then.
 */
export function balanceOn(db: Db, accountId: number, gradeId: number, day: Day): MassUg {
  const moved = (side: 'to_account_id' | 'from_account_id') =>
    db.one(
      build
        .selectFrom('transfer')
        .select((eb) => eb.fn.coalesce(eb.fn.sum<number>('mass_ug'), sql<number>`0`).as('mass'))
        .where(side, '=', accountId)
        .where('occurred_on', '>', day),
    ).mass;
  return massUg(balanceOf(db, accountId, gradeId) - moved('to_account_id') + moved('from_account_id'));
}

export interface Posting {
  from: number;
  to: number;
  gradeId: number;
  massUg: MassUg;
  occurredOn: Day;
  reason: string;
  document: { kind: DocumentKind; id: number };
}

/** Appends one transfer; the balances follow by trigger. A posting of nothing is left out. */
export function postTransfer({ db, clock }: Ledger, posting: Posting): void {
  if (posting.massUg === 0) return;
  db.insert('transfer', {
    from_account_id: posting.from,
    to_account_id: posting.to,
    grade_id: posting.gradeId,
    mass_ug: posting.massUg,
    occurred_on: posting.occurredOn,
    recorded_at: clock.now(),
    reason: posting.reason,
    document_kind: posting.document.kind,
    document_id: posting.document.id,
  });
}

/** Posts a signed mass: what is negative goes the other way. */
export function postSigned(ledger: Ledger, posting: Posting): void {
  const { from, to, massUg: signedUg } = posting;
  postTransfer(ledger, signedUg >= 0 ? posting : { ...posting, from: to, to: from, massUg: massUg(-signedUg) });
}

const transferColumns = [
  'id',
  'from_account_id',
  'to_account_id',
  'grade_id',
  'mass_ug',
  'occurred_on',
  'recorded_at',
  'reason',
  'document_kind',
  'document_id',
  'reverses_id',
] as const;

/** The transfers of a document that still stand: not reversals, and not reversed. */
export const standingTransfers = (db: Db, kind: DocumentKind, documentId: number): Transfer[] =>
  db.many(
    build
      .selectFrom('transfer')
      .select(transferColumns)
      .where('document_kind', '=', kind)
      .where('document_id', '=', documentId)
      // The plus keeps SQLite from the index of reversals, whose empty entries are nearly the whole history.
      .where(sql<number | null>`+reverses_id`, 'is', null)
      .where(sql<number>`exists (select 1 from transfer as reversal where reversal.reverses_id = transfer.id)`, '=', 0)
      .orderBy('id'),
  );

/**
 * Reverses transfers that stand, newest first. Both the transfer and its reversal stay in the ledger. A reversal counts
 * for the day of what it reverses: to correct a slip must not change what other days show.
 */
export function reverseGiven({ db, clock }: Ledger, standing: readonly Transfer[], reason: string): void {
  for (const transfer of [...standing].reverse()) {
    db.insert('transfer', {
      from_account_id: transfer.to_account_id,
      to_account_id: transfer.from_account_id,
      grade_id: transfer.grade_id,
      mass_ug: transfer.mass_ug,
      occurred_on: transfer.occurred_on,
      recorded_at: clock.now(),
      reason,
      document_kind: transfer.document_kind,
      document_id: transfer.document_id,
      reverses_id: transfer.id,
    });
  }
}

/** Reverses every standing transfer of a document. */
export const reverseTransfers = (ledger: Ledger, kind: DocumentKind, documentId: number, reason: string): void =>
  reverseGiven(ledger, standingTransfers(ledger.db, kind, documentId), reason);

export const insertInWeight = (db: Db, inWeight: Insertable<InWeightTable>): number => db.insert('in_weight', inWeight);
export const insertRecount = (db: Db, recount: Insertable<RecountTable>): number =>
  db.run(build.insertInto('recount').values(recount)).id;
export const insertBinTransfer = (db: Db, binTransfer: Insertable<BinTransferTable>): number =>
  db.run(build.insertInto('bin_transfer').values(binTransfer)).id;

const inWeightColumns = [
  'in_weight.id',
  'in_weight.bin_id',
  'in_weight.scale_id',
  'in_weight.container_id',
  'in_weight.gross_typed',
  'in_weight.tare_typed',
  'in_weight.unit',
  'in_weight.gross_ug',
  'in_weight.tare_ug',
  'in_weight.net_ug',
  'in_weight.is_estimate',
  'in_weight.note',
  'in_weight.occurred_on',
  'in_weight.recorded_at',
  'in_weight.corrects_id',
  'in_weight.correction_reason',
] as const;

export const findInWeight = (db: Db, id: number): InWeight | undefined =>
  db.maybe(build.selectFrom('in_weight').select(inWeightColumns).where('id', '=', id));

export interface RecentInWeight extends InWeight {
  bin_code: string;
  grade_name: string;
  is_undone: number;
}

const isUndone = sql<number>`exists (
  select 1 from transfer as posted join transfer as reversal on reversal.reverses_id = posted.id
  where posted.document_kind = 'in_weight' and posted.document_id = in_weight.id)`;

const inWeightsWithBin = () =>
  build
    .selectFrom('in_weight')
    .innerJoin('bin', 'bin.id', 'in_weight.bin_id')
    .innerJoin('grade', 'grade.id', 'bin.grade_id')
    .select(inWeightColumns)
    .select(['bin.code as bin_code', 'grade.name as grade_name', isUndone.as('is_undone')]);

/** The in-weights last written down, newest first, undone ones marked. */
export const recentInWeights = (db: Db, count: number): RecentInWeight[] =>
  db.many(inWeightsWithBin().orderBy('in_weight.id', 'desc').limit(count));
export const findInWeightWithBin = (db: Db, id: number): RecentInWeight | undefined =>
  db.maybe(inWeightsWithBin().where('in_weight.id', '=', id));

/** Every in-weight that stands, by day, for the files. */
export const standingInWeights = (db: Db): (RecentInWeight & { scale_name: string | null })[] =>
  db.many(
    inWeightsWithBin()
      .leftJoin('scale', 'scale.id', 'in_weight.scale_id')
      .select('scale.name as scale_name')
      .where(isUndone, '=', 0)
      .orderBy('in_weight.occurred_on')
      .orderBy('in_weight.id'),
  );

/** The readings of the in-weights that stand, from one day to another, to tell whether a file repeats them. */
export const standingReadings = (
  db: Db,
  from: Day,
  to: Day,
): Pick<InWeight, 'bin_id' | 'occurred_on' | 'gross_ug' | 'tare_ug'>[] =>
  db.many(
    build
      .selectFrom('in_weight')
      .select(['bin_id', 'occurred_on', 'gross_ug', 'tare_ug'])
      .where('occurred_on', '>=', from)
      .where('occurred_on', '<=', to)
      .where(isUndone, '=', 0),
  );

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

/**
 * The newest rows of a bin's ledger, or those before a cursor, newest first. Each side is read from its own index, so
 * the cost is the rows shown and not the history.
 */
export const binLedgerRows = (
  db: Db,
  accountId: number,
  before: LedgerCursor | null,
  count: number,
): BinLedgerRow[] => {
  const side = (own: 'to_account_id' | 'from_account_id', sign: number) => {
    const rows = build
      .selectFrom('transfer')
      .select(['id', 'occurred_on', 'recorded_at', 'reason', 'document_kind', 'document_id', 'reverses_id'])
      .select(sql<MassUg>`mass_ug * ${sql.lit(sign)}`.as('signed_ug'))
      .select(own === 'to_account_id' ? 'from_account_id as other_account_id' : 'to_account_id as other_account_id')
      .where(own, '=', accountId)
      .orderBy('occurred_on', 'desc')
      .orderBy('id', 'desc')
      .limit(count);
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
    ...loads.map((row) => ({ ...nothing, ...row, kind: 'manifest_line' as const })),
  ];
}
