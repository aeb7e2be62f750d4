/**
 * Digits after the decimal mark of the currencies a ledger can be kept in.
 * Source: ISO 4217 minor units (USD, CAD, EUR, GBP, AUD, JPY, CHF, SEK, NZD looked up; the others from memory).
 */
const MINOR_DIGITS = {
  USD: 2,
  CAD: 2,
  EUR: 2,
  GBP: 2,
  AUD: 2,
  NZD: 2,
  BRL: 2,
  CHF: 2,
  CZK: 2,
  DKK: 2,
  INR: 2,
  JPY: 0,
  KRW: 0,
  KWD: 3,
  MXN: 2,
  NOK: 2,
  PLN: 2,
  SEK: 2,
  TND: 3,
  ZAR: 2,
} as const;

export type Currency = keyof typeof MINOR_DIGITS;
export const currencies = Object.keys(MINOR_DIGITS) as readonly Currency[];
export const isCurrency = (code: string): code is Currency => Object.hasOwn(MINOR_DIGITS, code);
export const minorDigits = (currency: Currency): number => MINOR_DIGITS[currency];
