import type { Id, Once, OnceOr } from '../db/columns.ts';
import type { GradeFamily } from '../ledger/families.ts';
import type { AmountMinor } from '../money/money.ts';
import type { PriceUnit } from '../prices/compute.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';

export interface SettingTable {
  name: string;
  value: string;
}

export interface GradeTable {
  id: Id;
  name: string;
  family: GradeFamily;
  quoted_per: PriceUnit;
  code: string;
  falls_back_to_id: number | null;
  recognise: string;
  spoiled_by: string;
}

export interface ContainerTable {
  id: Id;
  name: string;
  tare_typed: string;
  tare_ug: MassUg;
}

export interface ScaleTable {
  id: Id;
  name: string;
  division: string;
  unit: MassUnit;
  class: string;
  tolerance: string;
  capacity: string;
  /** The day it came into use; null where that is not known. */
  added_on: OnceOr<Day | null>;
}

export interface YardTable {
  id: Id;
  name: string;
  unit: MassUnit;
  cash_step_minor: AmountMinor;
  scale_division: string;
  scale_class: string;
  notes: string;
}

export interface YardGradeTable {
  yard_id: number;
  grade_id: number;
  name: string;
}

/** A further scale of a yard, beside the one that the yard's own row describes. */
export interface YardScaleTable {
  id: Id;
  yard_id: Once<number>;
  name: string;
  division: string;
  class: string;
}

/** Which families of grades go over a further scale of a yard; each over one at most. */
export interface YardScaleFamilyTable {
  yard_id: Once<number>;
  family: Once<GradeFamily>;
  yard_scale_id: Once<number>;
}
