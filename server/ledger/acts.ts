import type { Ledger } from '../context.ts';
import { flag } from '../db/columns.ts';
import { refuseGoneWhole } from '../items/compute.ts';
import { findItem } from '../items/queries.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, type MassUnit, massUg } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';
import { explainNoNet, netOf, type Weighing } from './compute.ts';
import {
  type Bin,
  type BinOnHand,
  balanceOf,
  balanceOn,
  findBin,
  findBinOfAccount,
  findInWeight,
  insertBinTransfer,
  insertInWeight,
  insertRecount,
  itemAccount,
  soleAccount,
  updateBin,
} from './queries.ts';
import type { DocumentKind } from './table.ts';
import type { Transfer } from './transfers.ts';
import { postSigned, postTransfer, reverseTransfers, standingTransfers } from './transfers.ts';

export interface InWeightInput extends Weighing {
  binId: number;
  scaleId: number | null;
  containerId: number | null;
  occurredOn: Day;
  isEstimate: boolean;
  note: string;
  /** The item that it came from; none when left out. */
  itemId?: number | null;
}

/** A bin that can take or give material. */
export function openBin({ db }: Ledger, binId: number, field = 'bin'): BinOnHand {
  const bin = findBin(db, binId);
  if (bin === undefined) throw new Refusal('not_found', field, 'Choose a bin from the list.');
  if (bin.closed_on !== null) throw new Refusal('bin_closed', field, `${bin.code} is closed. Open it again in Set-up.`);
  return bin;
}

/** Far more than any place at home holds, and few enough for all bins together to be added up exactly. */
const MOST_IN_BIN_UG = massUg(1_000_000_000_000_000);

/** Refuses what would fill a bin beyond any bin: a slip repeated, or a unit mistaken again and again. */
export function refuseOverfull(bin: BinOnHand, addedUg: MassUg, field: string): void {
  if (bin.mass_ug + addedUg <= MOST_IN_BIN_UG) return;
  throw new Refusal(
    'too_large',
    field,
    `${bin.code} would hold more than 1,000 t. Check the unit, and recount the bin.`,
  );
}

export function refuseFuture({ clock }: Ledger, day: Day, field = 'occurredOn'): void {
  if (day > clock.today()) throw new Refusal('day_in_future', field, 'This day has not come yet. Check the year.');
}

/** Posts one weighing into a bin. @returns the in-weight's id */
export function recordInWeight(ledger: Ledger, input: InWeightInput): number {
  return ledger.db.transaction(() => {
    const id = storeInWeight(ledger, input, null, '');
    noteEvent(ledger, 'weighed in', 'in_weight', id);
    return id;
  });
}

/** Nothing more comes out of an item that was sold whole or thrown away. */
function refuseItem({ db }: Ledger, itemId: number): void {
  const item = findItem(db, itemId);
  if (item === undefined)
    throw new Refusal('not_found', 'item', `There is no item ${itemId}. Look for it under Items.`);
  refuseGoneWhole(item, 'item');
}

function storeInWeight(ledger: Ledger, input: InWeightInput, correctsId: number | null, reason: string): number {
  const { db, clock, settings } = ledger;
  const bin = openBin(ledger, input.binId);
  refuseFuture(ledger, input.occurredOn);
  const netUg = netOf(input);
  if (netUg === null) throw new Refusal('net_not_positive', 'gross', explainNoNet(input, settings.decimalMark));
  refuseOverfull(bin, netUg, 'gross');
  const itemId = input.itemId ?? null;
  if (itemId !== null) refuseItem(ledger, itemId);
  const id = insertInWeight(db, {
    bin_id: input.binId,
    scale_id: input.scaleId,
    container_id: input.containerId,
    gross_typed: input.grossTyped,
    tare_typed: input.tareTyped,
    unit: input.unit,
    gross_ug: input.grossUg,
    tare_ug: input.tareUg,
    net_ug: netUg,
    is_estimate: flag(input.isEstimate),
    note: input.note,
    occurred_on: input.occurredOn,
    recorded_at: clock.now(),
    corrects_id: correctsId,
    correction_reason: reason,
    item_id: itemId,
  });
  postTransfer(ledger, {
    from: itemId === null ? soleAccount(db, 'outside') : itemAccount(db, itemId),
    to: bin.account_id,
    gradeId: bin.grade_id,
    massUg: netUg,
    occurredOn: input.occurredOn,
    reason: correctsId === null ? 'weighed in' : 'corrected in-weight',
    document: { kind: 'in_weight', id },
  });
  if (correctsId === null) rememberWithBin(ledger, bin, input);
  return id;
}

/**
 * Keeps the container and the scale with the bin, so that the next weighing needs no choice. A weighing without one
 * says nothing about the next, so it forgets none.
 */
function rememberWithBin({ db }: Ledger, bin: Bin, { containerId, scaleId }: InWeightInput): void {
  const kept = { container_id: containerId ?? bin.container_id, scale_id: scaleId ?? bin.scale_id };
  if (kept.container_id !== bin.container_id || kept.scale_id !== bin.scale_id) updateBin(db, bin.id, kept);
}

/** Takes an in-weight back. Both the weighing and its reversal stay in the bin's ledger. */
export function undoInWeight(ledger: Ledger, inWeightId: number, bookShortfall: boolean): void {
  ledger.db.transaction(() => {
    const inWeight = findInWeight(ledger.db, inWeightId);
    if (inWeight === undefined) throw new Refusal('not_found', '', 'There is no such in-weight.');
    if (standingTransfers(ledger.db, 'in_weight', inWeightId).length === 0) {
      throw new Refusal('already_undone', '', 'This in-weight was already taken back or corrected.');
    }
    coverShortfall(ledger, {
      binId: inWeight.bin_id,
      leavingUg: inWeight.net_ug,
      day: inWeight.occurred_on,
      confirmed: bookShortfall,
      document: { kind: 'shortfall', id: inWeightId },
    });
    reverseTransfers(ledger, 'in_weight', inWeightId, 'undone');
    noteEvent(ledger, 'took back an in-weight', 'in_weight', inWeightId);
  });
}

/** Reverses an in-weight and enters it again as it should have been, in one transaction. @returns the new id */
export function correctInWeight(
  ledger: Ledger,
  inWeightId: number,
  input: InWeightInput,
  reason: string,
  bookShortfall: boolean,
): number {
  return ledger.db.transaction(() => {
    const before = findInWeight(ledger.db, inWeightId);
    if (before === undefined) throw new Refusal('not_found', '', 'There is no such in-weight.');
    if (standingTransfers(ledger.db, 'in_weight', inWeightId).length === 0) {
      throw new Refusal('already_corrected', '', 'This in-weight was already taken back or corrected.');
    }
    // The new weight goes in before the old one comes out, so the bin dips no lower than it must.
    const id = storeInWeight(ledger, input, inWeightId, reason);
    coverShortfall(ledger, {
      binId: before.bin_id,
      leavingUg: before.net_ug,
      day: before.occurred_on,
      confirmed: bookShortfall,
      document: { kind: 'shortfall', id },
    });
    reverseTransfers(ledger, 'in_weight', inWeightId, `corrected: ${reason}`);
    noteEvent(ledger, 'corrected an in-weight', 'in_weight', id);
    return id;
  });
}

export interface Shortfall {
  binId: number;
  leavingUg: MassUg;
  day: Day;
  /** The person saw that the bin holds less than leaves it, and wants the difference booked. */
  confirmed: boolean;
  document: { kind: DocumentKind; id: number };
  field?: string;
}

/**
 * A bin may not go below zero. When more leaves it than the book says is there, the person is asked first; confirmed,
 * the missing mass is booked as a count difference, so that what happened is recorded and not refused.
 */
export function coverShortfall(ledger: Ledger, { binId, leavingUg, day, confirmed, document, field }: Shortfall): void {
  const { db, settings } = ledger;
  const bin = findBin(db, binId) as BinOnHand;
  const shortUg = leavingUg - bin.mass_ug;
  if (shortUg <= 0) return;
  if (!confirmed) {
    const write = (mass: MassUg) => writeWeight(mass, settings.unit, settings.decimalMark);
    throw new Refusal(
      'bin_below_zero',
      field ?? 'bookShortfall',
      `${bin.code} holds ${write(bin.mass_ug)} by the book, ${write(massUg(shortUg))} less than leaves it here. ` +
        `Recount the bin first, or tick “book the difference as a count difference”.`,
    );
  }
  postTransfer(ledger, {
    from: soleAccount(db, 'count_difference'),
    to: bin.account_id,
    gradeId: bin.grade_id,
    massUg: massUg(shortUg),
    occurredOn: day,
    reason: 'count difference',
    document,
  });
}

export interface RecountInput {
  binId: number;
  netTyped: string;
  unit: MassUnit;
  netUg: MassUg;
  occurredOn: Day;
  note: string;
}

/** Sets a bin to what was weighed; the difference from the book goes to count difference. @returns the recount's id */
export function recordRecount(ledger: Ledger, input: RecountInput): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const bin = openBin(ledger, input.binId);
    refuseFuture(ledger, input.occurredOn);
    const account = bin.account_id;
    const differenceUg = massUg(input.netUg - balanceOn(db, account, bin.grade_id, input.occurredOn));
    refuseRecountBelowZero(ledger, bin, account, differenceUg);
    const id = insertRecount(db, {
      bin_id: bin.id,
      net_typed: input.netTyped,
      unit: input.unit,
      net_ug: input.netUg,
      difference_ug: differenceUg,
      note: input.note,
      occurred_on: input.occurredOn,
      recorded_at: clock.now(),
    });
    postSigned(ledger, {
      from: soleAccount(db, 'count_difference'),
      to: account,
      gradeId: bin.grade_id,
      massUg: differenceUg,
      occurredOn: input.occurredOn,
      reason: 'recount',
      document: { kind: 'recount', id },
    });
    noteEvent(ledger, 'recounted a bin', 'recount', id);
    return id;
  });
}

function refuseRecountBelowZero({ db }: Ledger, bin: Bin, account: number, differenceUg: MassUg): void {
  if (balanceOf(db, account, bin.grade_id) + differenceUg >= 0) return;
  throw new Refusal(
    'bin_below_zero',
    'occurredOn',
    `More has left ${bin.code} since that day than this recount leaves in it. Recount it as it stands today.`,
  );
}

export interface BinTransferInput {
  fromBinId: number;
  toBinId: number;
  netTyped: string;
  unit: MassUnit;
  netUg: MassUg;
  occurredOn: Day;
  note: string;
  bookShortfall: boolean;
}

/**
 * Moves material to another bin, for example because it turned out to be another grade: it leaves as the old grade and
 * arrives as the new one, by way of `outside`, so that each grade's accounts still sum to zero.
 * @returns the bin transfer's id
 */
export function recordBinTransfer(ledger: Ledger, input: BinTransferInput): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    if (input.fromBinId === input.toBinId) throw new Refusal('same_bin', 'toBin', 'Choose another bin to move it to.');
    const from = openBin(ledger, input.fromBinId);
    const to = openBin(ledger, input.toBinId, 'toBin');
    refuseFuture(ledger, input.occurredOn);
    refuseOverfull(to, input.netUg, 'net');
    const id = insertBinTransfer(db, {
      from_bin_id: from.id,
      to_bin_id: to.id,
      net_typed: input.netTyped,
      unit: input.unit,
      net_ug: input.netUg,
      note: input.note,
      occurred_on: input.occurredOn,
      recorded_at: clock.now(),
    });
    const document = { kind: 'bin_transfer', id } as const;
    const shortfall = { binId: from.id, leavingUg: input.netUg, day: input.occurredOn, document, field: 'net' };
    coverShortfall(ledger, { ...shortfall, confirmed: input.bookShortfall });
    const posting = { massUg: input.netUg, occurredOn: input.occurredOn, document };
    const [source, target] = [from.account_id, to.account_id];
    if (from.grade_id === to.grade_id) {
      postTransfer(ledger, {
        ...posting,
        from: source,
        to: target,
        gradeId: to.grade_id,
        reason: 'moved to another bin',
      });
    } else {
      const outside = soleAccount(db, 'outside');
      postTransfer(ledger, { ...posting, from: source, to: outside, gradeId: from.grade_id, reason: 'regraded' });
      postTransfer(ledger, { ...posting, from: outside, to: target, gradeId: to.grade_id, reason: 'regraded' });
    }
    noteEvent(ledger, 'moved to another bin', 'bin_transfer', id);
    return id;
  });
}

/** Documents of a bin's ledger that are taken back whole, as the trail calls them. */
const TAKEN_BACK = { recount: 'recount', bin_transfer: 'move', stripping: 'stripping' } as const;
export type BinDocumentKind = keyof typeof TAKEN_BACK;

/** Takes a recount, a move to another bin or a stripping back; all of it stays visible. */
export function undoBinDocument(ledger: Ledger, kind: BinDocumentKind, id: number): void {
  ledger.db.transaction(() => {
    const { db } = ledger;
    const standing = standingTransfers(db, kind, id);
    if (standing.length === 0) throw new Refusal('already_undone', '', 'This was already taken back.');
    refuseClosedBins(ledger, standing);
    refuseBinBelowZero(ledger, standing);
    reverseTransfers(ledger, kind, id, 'undone');
    noteEvent(ledger, `took back a ${TAKEN_BACK[kind]}`, kind, id);
  });
}

/** A reversal may not put material back into a closed bin, where nobody would see it. */
function refuseClosedBins(ledger: Ledger, standing: readonly Transfer[]): void {
  for (const transfer of standing) {
    const bin = findBinOfAccount(ledger.db, transfer.from_account_id);
    if (bin !== undefined) openBin(ledger, bin.id, '');
  }
}

/** A reversal may not take more out of a bin than is there, all of its transfers taken together. */
function refuseBinBelowZero({ db }: Ledger, standing: readonly Transfer[]): void {
  for (const accountId of new Set(standing.map((transfer) => transfer.to_account_id))) {
    if (findBinOfAccount(db, accountId) === undefined) continue;
    const takenOut = standing.filter((transfer) => transfer.to_account_id === accountId);
    const putBack = standing.filter((transfer) => transfer.from_account_id === accountId);
    const held = balanceOf(db, accountId, takenOut[0]?.grade_id ?? 0);
    if (held + total(putBack) < total(takenOut)) {
      throw new Refusal('bin_below_zero', '', 'Material has left the bin since. Recount it as it stands today.');
    }
  }
}

const total = (transfers: readonly Transfer[]): number =>
  transfers.reduce((sum, transfer) => sum + transfer.mass_ug, 0);
