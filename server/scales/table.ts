import type { Flag, Id, Once, OnceOr } from '../db/columns.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';

/** A known weight on a home scale and what the scale showed. */
export interface ScaleCheckTable {
  id: Id;
  scale_id: Once<number>;
  checked_on: Once<Day>;
  weight_typed: Once<string>;
  reading_typed: Once<string>;
  unit: Once<MassUnit>;
  weight_ug: Once<MassUg>;
  reading_ug: Once<MassUg>;
  /** 1 when the scale was adjusted after this check. */
  is_adjusted: OnceOr<Flag>;
  note: OnceOr<string>;
  recorded_at: Once<string>;
}

export interface ScaleCheckUndoneTable {
  scale_check_id: Once<number>;
  recorded_at: Once<string>;
}

/** A weighing that the book weight of a load rests on, as of when it was loaded. */
export interface LoadWeighingTable {
  manifest_line_id: Once<number>;
  weighing_no: Once<number>;
  scale_id: Once<number | null>;
  gross_ug: Once<MassUg>;
  /** −1 for what was weighed out again. */
  sign: Once<1 | -1>;
  weighed_on: Once<Day>;
  is_estimate: Once<Flag>;
}
