import type { Id, Once, OnceOr } from '../db/columns.ts';
import type { AmountMinor } from '../money/money.ts';
import type { PriceUnit } from '../prices/compute.ts';
import type { Day } from '../units/day.ts';

export const paymentKinds = ['cash', 'cheque', 'card', 'transfer', 'other'] as const;
export type PaidBy = (typeof paymentKinds)[number];

export interface TicketTable {
  id: Id;
  yard_id: Once<number>;
  manifest_id: Once<number>;
  number: Once<string>;
  sold_on: Once<Day>;
  note: Once<string>;
  recorded_at: Once<string>;
  replaces_id: OnceOr<number | null>;
  replace_reason: OnceOr<string>;
}

export interface TicketTakeBackTable {
  id: Id;
  ticket_id: Once<number>;
  reason: Once<string>;
  recorded_at: Once<string>;
}

/** A taken-back ticket that counts again. */
export interface TicketTakeBackUndoneTable {
  ticket_take_back_id: Once<number>;
  recorded_at: Once<string>;
}

export interface TicketTotalTable {
  ticket_id: Once<number>;
  charges_minor: Once<AmountMinor>;
  tax_minor: Once<AmountMinor>;
  cash_rounding_minor: Once<AmountMinor>;
  total_minor: Once<AmountMinor>;
  paid_by: Once<PaidBy>;
  recorded_at: Once<string>;
  /** 'cash_rounding' when the ticket did not print it. */
  worked_out: OnceOr<string>;
}

export interface TicketLineTable {
  id: Id;
  ticket_id: Once<number>;
  line_no: Once<number>;
  description: Once<string>;
  grade_id: Once<number>;
  gross: Once<string>;
  tare: Once<string>;
  deduction: Once<string>;
  net: Once<string>;
  unit: Once<PriceUnit>;
  price: Once<string>;
  per: Once<PriceUnit>;
  amount_minor: Once<AmountMinor>;
  quoted_price: Once<string | null>;
  quoted_per: Once<PriceUnit | null>;
  /** Figures that the ticket did not print, joined by commas: 'net,amount'. */
  worked_out: OnceOr<string>;
}

export interface TicketLineLoadTable {
  ticket_line_id: Once<number>;
  manifest_line_id: Once<number>;
}
