import type { Currency } from '../money/currencies.ts';
import type { DecimalMark } from '../units/decimal.ts';
import type { MassUnit } from '../units/mass.ts';

/** How this ledger is kept. One currency per ledger: amounts are never converted. */
export interface Settings {
  /** The unit that weights are typed and shown in unless another is chosen. */
  unit: MassUnit;
  currency: Currency;
  decimalMark: DecimalMark;
  /** A quote older than this many days is marked stale. */
  staleQuoteDays: number;
  /** A scale that was not checked for more than this many days is due for a check. */
  scaleCheckDays: number;
  /** What an hour of work is to bring, as the digits of a price; '' where none is aimed at. */
  wage: string;
  /** What it costs to throw waste away, as the digits of a price for one `wastePer`; '' where nothing is known. */
  wasteCost: string;
  wastePer: MassUnit;
}

export const defaultSettings: Settings = {
  unit: 'lb',
  currency: 'USD',
  decimalMark: '.',
  staleQuoteDays: 14,
  scaleCheckDays: 90,
  wage: '',
  wasteCost: '',
  wastePer: 'lb',
};
