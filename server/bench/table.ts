import type { Id, Once, OnceOr } from '../db/columns.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';

export interface WireKindTable {
  id: Id;
  name: string;
  /** What it is sold as with its insulation on. */
  grade_id: number;
  /** What its metal is sold as. */
  bare_grade_id: number;
  note: string;
}

export interface WireSampleTable {
  id: Id;
  wire_kind_id: Once<number>;
  before_typed: Once<string>;
  after_typed: Once<string>;
  unit: Once<MassUnit>;
  before_ug: Once<MassUg>;
  after_ug: Once<MassUg>;
  seconds: Once<number | null>;
  sampled_on: Once<Day>;
  note: Once<string>;
  recorded_at: Once<string>;
  /** The stripped lot that it is; null for a piece that was weighed for itself. */
  stripping_id: OnceOr<number | null>;
}

export interface WireSampleUndoneTable {
  wire_sample_id: Once<number>;
  recorded_at: Once<string>;
}

export interface StrippingTable {
  id: Id;
  from_bin_id: Once<number>;
  to_bin_id: Once<number>;
  before_typed: Once<string>;
  after_typed: Once<string>;
  unit: Once<MassUnit>;
  before_ug: Once<MassUg>;
  after_ug: Once<MassUg>;
  seconds: Once<number | null>;
  occurred_on: Once<Day>;
  note: Once<string>;
  recorded_at: Once<string>;
}
