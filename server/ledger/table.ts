import type { ColumnType } from 'kysely';
import type { Flag, Id, Once, OnceOr } from '../db/columns.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';

export type AccountKind =
  | 'bin'
  | 'item'
  | 'outside'
  | 'load'
  | 'sold'
  | 'deducted'
  | 'scale_difference'
  | 'count_difference'
  | 'waste'
  | 'parts'
  | 'loss';

/**
 * The documents that cause transfers. A `shortfall` is named by the
 * in-weight that was taken back after its material had left; it stays when that in-weight is put right once more.
 */
export type DocumentKind =
  | 'in_weight'
  | 'shortfall'
  | 'recount'
  | 'bin_transfer'
  | 'stripping'
  | 'manifest_line'
  | 'load_return'
  | 'ticket';

export interface BinTable {
  id: Id;
  code: string;
  grade_id: Once<number>;
  place: string;
  /** The container and the scale last used with it, kept for the next weighing. */
  container_id: number | null;
  scale_id: ColumnType<number | null, number | null | undefined, number | null>;
  full_mark_typed: string;
  full_mark_ug: MassUg | null;
  opened_on: Day;
  closed_on: Day | null;
}

export interface AccountTable {
  id: Id;
  kind: Once<AccountKind>;
  bin_id: OnceOr<number | null>;
  manifest_line_id: OnceOr<number | null>;
  item_id: OnceOr<number | null>;
}

export interface InWeightTable {
  id: Id;
  bin_id: Once<number>;
  scale_id: Once<number | null>;
  container_id: Once<number | null>;
  gross_typed: Once<string>;
  tare_typed: Once<string>;
  unit: Once<MassUnit>;
  gross_ug: Once<MassUg>;
  tare_ug: Once<MassUg>;
  net_ug: Once<MassUg>;
  is_estimate: Once<Flag>;
  note: Once<string>;
  occurred_on: Once<Day>;
  recorded_at: Once<string>;
  corrects_id: OnceOr<number | null>;
  correction_reason: OnceOr<string>;
  /** The item it came from; null for material of no item in the ledger. */
  item_id: OnceOr<number | null>;
}

export interface RecountTable {
  id: Id;
  bin_id: Once<number>;
  net_typed: Once<string>;
  unit: Once<MassUnit>;
  net_ug: Once<MassUg>;
  difference_ug: Once<MassUg>;
  note: Once<string>;
  occurred_on: Once<Day>;
  recorded_at: Once<string>;
}

export interface BinTransferTable {
  id: Id;
  from_bin_id: Once<number>;
  to_bin_id: Once<number>;
  net_typed: Once<string>;
  unit: Once<MassUnit>;
  net_ug: Once<MassUg>;
  note: Once<string>;
  occurred_on: Once<Day>;
  recorded_at: Once<string>;
}

export interface TransferTable {
  id: Id;
  from_account_id: Once<number>;
  to_account_id: Once<number>;
  grade_id: Once<number>;
  mass_ug: Once<MassUg>;
  occurred_on: Once<Day>;
  recorded_at: Once<string>;
  reason: Once<string>;
  document_kind: Once<DocumentKind>;
  document_id: Once<number>;
  reverses_id: OnceOr<number | null>;
}

/** Written only by the trigger on transfer. */
export interface BalanceTable {
  account_id: Once<number>;
  grade_id: Once<number>;
  mass_ug: Once<MassUg>;
  since_on: Once<Day>;
  is_load: Once<Flag>;
}

export interface RequestTable {
  key: Once<string>;
  fingerprint: Once<string>;
  location: Once<string>;
  recorded_at: Once<string>;
}

export interface EventTable {
  id: Id;
  recorded_at: Once<string>;
  who: Once<string>;
  act: Once<string>;
  document_kind: Once<string>;
  document_id: Once<number>;
  /** What exactly, in words: "division 0.05 → 0.1". */
  detail: OnceOr<string>;
  /** A TrailChange as JSON, '' where nothing can be put back from here. */
  change: OnceOr<string>;
}

/** Written only by the trigger on event. */
export interface TrailDeviceTable {
  who: Once<string>;
}
