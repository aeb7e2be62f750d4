import type { Insertable, Selectable } from 'kysely';
import { sql } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, massUg, NO_MASS } from '../units/mass.ts';
import type { AccountKind, BinTable, BinTransferTable, InWeightTable, RecountTable } from './table.ts';
import { isNotFromOutside } from './transfers.ts';

export type Bin = Selectable<BinTable>;
export type InWeight = Selectable<InWeightTable>;

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
  account_id: number;
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
    .select(['account.id as account_id', 'grade.name as grade_name', 'grade.family'])
    .select((eb) => eb.fn.coalesce('balance.mass_ug', sql<MassUg>`0`).as('mass_ug'))
    .select('balance.since_on');

const openBinsOnHand = writtenOnce(() => binsOnHand().where('bin.closed_on', 'is', null).orderBy('bin.id'));
/** The open bins with what is in them, in the order they were made. */
export const listBinsOnHand = (db: Db): BinOnHand[] => db.many(openBinsOnHand());
/** Every bin, closed ones too. */
export const listAllBins = (db: Db): BinOnHand[] => db.many(binsOnHand().orderBy('bin.id'));
const binById = writtenOnce(() => binsOnHand().where('bin.id', '=', 0));
export const findBin = (db: Db, id: number): BinOnHand | undefined => db.maybe(binById(id));
const binByCode = writtenOnce(() => binsOnHand().where('bin.code', '=', ''));
export const findBinByCode = (db: Db, code: string): BinOnHand | undefined => db.maybe(binByCode(code.trim()));

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
    .where((eb) =>
      eb.or([eb.and([eb('from_account_id', '=', account), isNotFromOutside]), eb('to_account_id', '=', account)]),
    );
  const loaded = build.selectFrom('manifest_line').select('id').where('bin_id', '=', binId);
  const kept = build
    .selectFrom('attachment')
    .select('id')
    .where('document_kind', '=', 'bin')
    .where('document_id', '=', binId);
  const isThere = (row: unknown): boolean => row !== undefined;
  return isThere(db.maybe(moved.limit(1))) || isThere(db.maybe(loaded.limit(1))) || isThere(db.maybe(kept.limit(1)));
}

/** Removes a bin that was never used, with its account. */
export function deleteBin(db: Db, id: number): void {
  db.run(build.deleteFrom('account').where('bin_id', '=', id));
  db.run(build.deleteFrom('bin').where('id', '=', id));
}

export const binAccount = (db: Db, binId: number): number => db.one(accountByBin(binId)).id;
const accountByLoad = writtenOnce(() => build.selectFrom('account').select('id').where('manifest_line_id', '=', 0));
export const loadAccount = (db: Db, manifestLineId: number): number => db.one(accountByLoad(manifestLineId)).id;
export const openLoadAccount = (db: Db, manifestLineId: number): number =>
  db.insert('account', { kind: 'load', manifest_line_id: manifestLineId });
const accountByItem = writtenOnce(() => build.selectFrom('account').select('id').where('item_id', '=', 0));
/** Where an item's material comes from: opened with its first in-weight. */
export const itemAccount = (db: Db, itemId: number): number =>
  db.maybe(accountByItem(itemId))?.id ?? db.insert('account', { kind: 'item', item_id: itemId });

const binOfAccount = writtenOnce(() => binsOnHand().where('account.id', '=', 0));
/** The bin that an account belongs to; undefined for an account of another kind. */
export const findBinOfAccount = (db: Db, accountId: number): BinOnHand | undefined => db.maybe(binOfAccount(accountId));

const accountByKind = writtenOnce(() => build.selectFrom('account').select('id').where('kind', '=', 'outside'));
type SoleKind = Exclude<AccountKind, 'bin' | 'load' | 'item'>;
/** They come with the ledger and never change, so each is asked for once. */
const soleAccounts = new WeakMap<Db, Map<SoleKind, number>>();

/** The one account of a kind that is not a bin, load or item. */
export function soleAccount(db: Db, kind: SoleKind): number {
  const known = soleAccounts.get(db) ?? new Map<SoleKind, number>();
  soleAccounts.set(db, known);
  const id = known.get(kind) ?? db.one(accountByKind(kind)).id;
  known.set(kind, id);
  return id;
}

const balance = writtenOnce(() =>
  build.selectFrom('balance').select('mass_ug').where('account_id', '=', 0).where('grade_id', '=', 0),
);
/** Mass of a grade in an account now, from the maintained balances. */
export const balanceOf = (db: Db, accountId: number, gradeId: number): MassUg =>
  db.maybe(balance(accountId, gradeId))?.mass_ug ?? NO_MASS;

/**
 * Mass in a bin's account at the end of a day: the balance now less what moved on later days, so that a document entered
 * late is compared with what was there then.
 */
export function balanceOn(db: Db, accountId: number, gradeId: number, day: Day): MassUg {
  const cameIn = db.one(movedIn(accountId, day)).mass;
  const wentOut = db.one(movedOut(accountId, day)).mass;
  return massUg(balanceOf(db, accountId, gradeId) - cameIn + wentOut);
}

const movedAfter = (side: 'to_account_id' | 'from_account_id') =>
  writtenOnce(() =>
    build
      .selectFrom('transfer')
      .select((eb) => eb.fn.coalesce(eb.fn.sum<number>('mass_ug'), sql<number>`0`).as('mass'))
      .where(side, '=', 0)
      .$if(side === 'from_account_id', (query) => query.where(isNotFromOutside))
      .where('occurred_on', '>', '' as Day),
  );
const movedIn = movedAfter('to_account_id');
const movedOut = movedAfter('from_account_id');

export const insertInWeight = (db: Db, inWeight: Insertable<InWeightTable>): number => db.insert('in_weight', inWeight);
export const insertRecount = (db: Db, recount: Insertable<RecountTable>): number =>
  db.run(build.insertInto('recount').values(recount)).id;
export const insertBinTransfer = (db: Db, binTransfer: Insertable<BinTransferTable>): number =>
  db.run(build.insertInto('bin_transfer').values(binTransfer)).id;

export const inWeightColumns = [
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
  'in_weight.item_id',
] as const;

export const findInWeight = (db: Db, id: number): InWeight | undefined =>
  db.maybe(build.selectFrom('in_weight').select(inWeightColumns).where('id', '=', id));

export interface RecentInWeight extends InWeight {
  bin_code: string;
  grade_name: string;
  is_undone: number;
}

/** 1 when an in-weight was taken back or corrected. */
export const isUndone = sql<number>`exists (
  select 1 from transfer as posted join transfer as reversal on reversal.reverses_id = posted.id
  where posted.document_kind = 'in_weight' and posted.document_id = in_weight.id)`;

export const inWeightsWithBin = () =>
  build
    .selectFrom('in_weight')
    .innerJoin('bin', 'bin.id', 'in_weight.bin_id')
    .innerJoin('grade', 'grade.id', 'bin.grade_id')
    .select(inWeightColumns)
    .select(['bin.code as bin_code', 'grade.name as grade_name', isUndone.as('is_undone')]);

const newestInWeights = writtenOnce(() => inWeightsWithBin().orderBy('in_weight.id', 'desc').limit(0));
/** The in-weights last written down, newest first, undone ones marked. */
export const recentInWeights = (db: Db, count: number): RecentInWeight[] => db.many(newestInWeights(count));
const inWeightWithBin = writtenOnce(() => inWeightsWithBin().where('in_weight.id', '=', 0));
export const findInWeightWithBin = (db: Db, id: number): RecentInWeight | undefined => db.maybe(inWeightWithBin(id));

/** Every in-weight that stands, by day, for the files. */
export const standingInWeights = (db: Db): Iterable<RecentInWeight & { scale_name: string | null }> =>
  db.each(
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
