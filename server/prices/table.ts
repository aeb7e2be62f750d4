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
