import type { Id, Once, OnceOr } from '../db/columns.ts';
import type { AmountMinor } from '../money/money.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';

export interface ItemKindTable {
  id: Id;
  name: string;
  /** Keys of seed/cautions.ts, joined by commas. */
  cautions: string;
  as_is_grade_id: number | null;
  /** A rule of thumb, as typed; '' for none. */
  rule_minutes: string;
  note: string;
}

/** A rule of thumb: what such a thing gives, in percent of its weight. */
export interface KindYieldTable {
  item_kind_id: number;
  grade_id: number;
  percent: string;
}

/** How an item came into the house. */
export type Got = 'given' | 'found' | 'bought';
export type ItemStatus = 'waiting' | 'taken apart' | 'as is' | 'sold whole' | 'discarded';
/** Down to the pieces that yards take as they are, or down to clean metal; '' while it is whole. */
export type Depth = '' | 'coarse' | 'fine';

export interface ItemTable {
  id: Id;
  item_kind_id: number;
  name: string;
  picked_up_on: Day;
  got: Got;
  source: string;
  proof: string;
  cost_minor: AmountMinor;
  weight_typed: string;
  weight_unit: MassUnit | '';
  weight_ug: MassUg | null;
  note: string;
  status: ItemStatus;
  depth: Depth;
  closed_on: Day | null;
  disposal_minor: AmountMinor;
  recorded_at: Once<string>;
}

export interface WorkTable {
  id: Id;
  item_id: Once<number>;
  worked_on: Once<Day>;
  seconds: Once<number>;
  minutes_typed: OnceOr<string>;
  started_at: OnceOr<string | null>;
  note: OnceOr<string>;
  recorded_at: Once<string>;
}

export interface WorkUndoneTable {
  work_id: Once<number>;
  recorded_at: Once<string>;
}

/** The items whose time is running. */
export interface WorkClockTable {
  item_id: Once<number>;
  started_at: Once<string>;
}

export interface ItemOutputTable {
  id: Id;
  item_id: Once<number>;
  kind: Once<'waste' | 'part'>;
  name: Once<string>;
  net_typed: Once<string>;
  unit: Once<MassUnit>;
  net_ug: Once<MassUg | null>;
  occurred_on: Once<Day>;
  recorded_at: Once<string>;
}

export interface ItemOutputUndoneTable {
  item_output_id: Once<number>;
  recorded_at: Once<string>;
}

export interface PartSaleTable {
  id: Id;
  item_id: Once<number>;
  /** The part; null when the whole item was sold. */
  item_output_id: Once<number | null>;
  listed_on: Once<Day | null>;
  sold_on: Once<Day>;
  price_minor: Once<AmountMinor>;
  fees_minor: Once<AmountMinor>;
  postage_minor: Once<AmountMinor>;
  note: Once<string>;
  recorded_at: Once<string>;
}

export interface PartSaleUndoneTable {
  part_sale_id: Once<number>;
  recorded_at: Once<string>;
}
