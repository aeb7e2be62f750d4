import type { Flag, Once } from '../db/columns.ts';
import type { AmountMinor } from '../money/money.ts';
import type { PriceUnit } from '../prices/compute.ts';
import type { Day } from '../units/day.ts';
import type { MassUg } from '../units/mass.ts';

export interface ReconciliationGroupTable {
  ticket_id: Once<number>;
  group_no: Once<number>;
  unit: Once<PriceUnit>;
  is_on_ticket: Once<Flag>;
  home_ug: Once<MassUg>;
  yard_ug: Once<MassUg>;
  paid_ug: Once<MassUg>;
  expected_minor: Once<AmountMinor>;
  scale_minor: Once<AmountMinor>;
  deduction_minor: Once<AmountMinor>;
  grade_minor: Once<AmountMinor>;
  price_minor: Once<AmountMinor>;
  rounding_minor: Once<AmountMinor>;
  arithmetic_minor: Once<AmountMinor>;
  paid_minor: Once<AmountMinor>;
}

export interface ReconciliationShareTable {
  ticket_id: Once<number>;
  group_no: Once<number>;
  grade_id: Once<number>;
  yard_id: Once<number>;
  sold_on: Once<Day>;
  home_ug: Once<MassUg>;
  yard_ug: Once<MassUg>;
  paid_ug: Once<MassUg>;
  weighed_ug: Once<MassUg>;
  quoted_ug: Once<MassUg>;
  quoted_micro: Once<number>;
  paid_minor: Once<AmountMinor>;
  charges_minor: Once<AmountMinor>;
}

/** Written only by the triggers on reconciliation_share. */
export interface SaleMonthTable {
  month: Once<string>;
  grade_id: Once<number>;
  yard_id: Once<number>;
  sales: Once<number>;
  home_ug: Once<MassUg>;
  yard_ug: Once<MassUg>;
  paid_ug: Once<MassUg>;
  weighed_ug: Once<MassUg>;
  quoted_ug: Once<MassUg>;
  quoted_micro: Once<number>;
  paid_minor: Once<AmountMinor>;
  charges_minor: Once<AmountMinor>;
  /** Sums of squares and products for intervals: weights in kilograms, money in minor units, floating-point. */
  sold: Once<number>;
  home_squares: Once<number>;
  home_by_money: Once<number>;
  money_squares: Once<number>;
  weighed_squares: Once<number>;
  weighed_by_paid: Once<number>;
  paid_squares: Once<number>;
}
