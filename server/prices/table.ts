import type { Id, Once } from '../db/columns.ts';
import type { Day } from '../units/day.ts';
import type { PriceUnit } from './compute.ts';

export interface QuoteTable {
  id: Id;
  yard_id: Once<number>;
  grade_id: Once<number>;
  price: Once<string>;
  per: Once<PriceUnit>;
  seen_on: Once<Day>;
  seen_where: Once<string>;
  recorded_at: Once<string>;
}

export interface QuoteTakeBackTable {
  id: Id;
  quote_id: Once<number>;
  recorded_at: Once<string>;
}

/** A taken-back quote that counts again. */
export interface QuoteTakeBackUndoneTable {
  quote_take_back_id: Once<number>;
  recorded_at: Once<string>;
}
