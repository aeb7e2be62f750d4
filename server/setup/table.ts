import type { Id } from '../db/columns.ts';
import type { GradeFamily } from '../ledger/families.ts';
import type { AmountMinor } from '../money/money.ts';
import type { PriceUnit } from '../prices/compute.ts';
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
