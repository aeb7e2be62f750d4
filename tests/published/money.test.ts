import { describe, expect, test } from 'vitest';
import { type Currency, currencies, minorDigits } from '../../server/money/currencies.ts';
import { amountMinor, roundCash, roundToMinor, writeMoneyForFile } from '../../server/money/money.ts';
import { auditTicket, type TicketAuditInput } from '../../server/tickets/audit.ts';
import type { PrintedLine } from '../../server/tickets/compute.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';

const rounded = (amount: string, step: number, currency: Currency): string =>
  writeMoneyForFile(roundCash(roundToMinor(new Decimal(amount), currency), step), currency);

describe('minor units of currencies', () => {
  // ISO 4217 as reproduced in OPC 10000-3, 8.61 (JPY, USD, EUR, GBP, AUD) and in an open value set (the others).
  test.each<[Currency, number]>([
    ['USD', 2],
    ['CAD', 2],
    ['EUR', 2],
    ['GBP', 2],
    ['AUD', 2],
    ['JPY', 0],
    ['CHF', 2],
    ['SEK', 2],
    ['NZD', 2],
  ])('%s has %i', (currency, decimals) => {
    expect(minorDigits(currency)).toBe(decimals);
  });

  // Second opinion for all of them: the currency data in JavaScript's own Intl (Unicode CLDR).
  test.each(currencies)('Intl agrees on %s', (currency) => {
    const { maximumFractionDigits } = new Intl.NumberFormat('en', { style: 'currency', currency }).resolvedOptions();
    expect(maximumFractionDigits).toBe(minorDigits(currency));
  });
});

describe('rounding of cash totals', () => {
  // Government of Canada, Budget 2012, rounding page; Quebec consumer office page; a broadcaster quoting the guideline.
  test.each([
    ['4.92', '4.90'],
    ['5.98', '6.00'],
    ['5.97', '5.95'],
    ['772.72', '772.70'],
    ['1.02', '1.00'],
    ['1.03', '1.05'],
    ['1.07', '1.05'],
    ['1.08', '1.10'],
  ])('Canada: %s in cash is %s', (amount, paid) => {
    expect(rounded(amount, 5, 'CAD')).toBe(paid);
  });

  // The same: 1 and 2 down, 3 and 4 up to 5, 6 and 7 down to 5, 8 and 9 up, 0 and 5 unchanged.
  test.each([
    ['10.00', '10.00'],
    ['10.01', '10.00'],
    ['10.02', '10.00'],
    ['10.03', '10.05'],
    ['10.04', '10.05'],
    ['10.05', '10.05'],
    ['10.06', '10.05'],
    ['10.07', '10.05'],
    ['10.08', '10.10'],
    ['10.09', '10.10'],
  ])('Canada, the ten last digits: %s is %s', (amount, paid) => {
    expect(rounded(amount, 5, 'CAD')).toBe(paid);
  });

  // Australia, five cents, as given in an encyclopaedia article.
  test.each([
    ['20.42', '20.40'],
    ['20.43', '20.45'],
  ])('Australia: %s in cash is %s', (amount, paid) => {
    expect(rounded(amount, 5, 'AUD')).toBe(paid);
  });

  // Sweden, the nearest whole krona since 2010: encyclopaedia article; that a half rounds up is from memory.
  test('Sweden: whole kronor', () => {
    expect(rounded('12.49', 100, 'SEK')).toBe('12.00');
    expect(rounded('12.50', 100, 'SEK')).toBe('13.00');
  });

  // From memory, no published rule found: the absolute amount is rounded, then the sign is put back.
  test('a total that is owed to the yard rounds like one that is paid', () => {
    expect(rounded('-4.92', 5, 'CAD')).toBe('-4.90');
    expect(rounded('-1.03', 5, 'CAD')).toBe('-1.05');
  });

  // Common practice, no published source: half up at a ten-cent step (New Zealand leaves a five-cent tie open).
  test('a tie at a ten-cent step rounds up', () => {
    expect(rounded('1.05', 10, 'NZD')).toBe('1.10');
  });

  // Government of Canada, same page: no rounding for card or cheque; on the total after tax, never per line.
  test('the ticket audit takes 4.92 by card as it is, and 4.90 in cash once for the whole ticket', () => {
    const line = (lineNo: number): PrintedLine => ({
      lineNo,
      description: '',
      gradeId: 1,
      loadIds: [],
      gross: '2.46',
      tare: '0',
      deduction: '0',
      net: '2.46',
      unit: 'lb',
      price: '1.00',
      per: 'lb',
      amountMinor: amountMinor(246),
    });
    const ticket: Omit<TicketAuditInput, 'paidBy' | 'cashRoundingMinor' | 'totalMinor'> = {
      currency: 'CAD',
      decimalMark: '.',
      unit: 'lb',
      today: day('2025-03-08'),
      soldOn: day('2025-03-08'),
      loadedOn: null,
      number: '1',
      numbersBefore: [],
      cashStepMinor: 5,
      chargesMinor: amountMinor(0),
      taxMinor: amountMinor(0),
      lines: [line(1), line(2)],
      loads: [],
      lastQuotes: new Map(),
    };
    const findings = (paidBy: 'card' | 'cheque' | 'cash', rounding: number) =>
      auditTicket({
        ...ticket,
        paidBy,
        cashRoundingMinor: amountMinor(rounding),
        totalMinor: amountMinor(492 + rounding),
      }).filter(({ code }) => code !== 'line_without_load');
    expect(findings('card', 0)).toEqual([]);
    expect(findings('cheque', 0)).toEqual([]);
    expect(findings('cash', -2)).toEqual([]);
    expect(findings('card', -2).map(({ code }) => code)).toEqual(['cash_rounding']);
    expect(findings('cash', 0).map(({ code }) => code)).toEqual(['cash_rounding']);
  });
});
