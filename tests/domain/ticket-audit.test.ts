import { describe, expect, test } from 'vitest';
import { type AmountMinor, amountMinor, NO_MONEY } from '../../server/money/money.ts';
import {
  auditTicket,
  checkLine,
  type Finding,
  type FindingCode,
  type TicketAuditInput,
} from '../../server/tickets/audit.ts';
import {
  completeLine,
  connectLoadsAndLines,
  type PartialLine,
  type PrintedLine,
  readDeduction,
  workOutCashRounding,
} from '../../server/tickets/compute.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { toMassUg } from '../../server/units/mass.ts';

const empty: PartialLine = {
  lineNo: 2,
  description: '',
  gradeId: 1,
  loadIds: [1],
  gross: '',
  tare: '',
  deduction: '',
  net: '',
  unit: 'lb',
  price: '3.20',
  per: 'lb',
  amountMinor: null,
};
const complete = (fields: Partial<PartialLine>) => completeLine({ ...empty, ...fields }, 'USD');
const refusalOf = (fields: Partial<PartialLine>): string => {
  const read = complete(fields);
  return read.ok ? 'accepted' : read.refusal;
};
const printed = (fields: Partial<PrintedLine> = {}): PrintedLine => ({
  ...empty,
  gross: '10.5',
  tare: '0',
  deduction: '0',
  net: '10.5',
  amountMinor: amountMinor(3360),
  ...fields,
});
const pounds = (amount: string) => toMassUg({ amount: new Decimal(amount), unit: 'lb' });

describe('completing a line', () => {
  test('a line printed in full is kept as printed, even when its arithmetic is wrong', () => {
    const line = { gross: '54.0', tare: '3.50', deduction: '0', net: '50.6', amountMinor: amountMinor(1) };
    expect(complete(line)).toMatchObject({ ok: true, value: { line, workedOut: [] } });
  });

  test('the net and the amount are worked out from gross, tare, deduction and price', () => {
    expect(complete({ gross: '54.0', tare: '3.5', deduction: '0.25' })).toMatchObject({
      ok: true,
      value: { line: { net: '50.25', amountMinor: 16080 }, workedOut: ['net', 'amount'] },
    });
  });

  test('the gross is worked back from the net; an empty tare or deduction is none', () => {
    expect(complete({ net: '10.5' })).toMatchObject({
      ok: true,
      value: { line: { gross: '10.5', tare: '0', deduction: '0', amountMinor: 3360 }, workedOut: ['gross', 'amount'] },
    });
    expect(complete({ net: '10.5', tare: '3', deduction: '1.25' })).toMatchObject({
      value: { line: { gross: '14.75' } },
    });
  });

  test('a percent is taken of gross less tare and rounded to the printed decimals', () => {
    // 5 % of 49.7 is 2.485, which is 2.5 at one decimal.
    expect(complete({ gross: '54.0', tare: '4.3', deduction: '5%' })).toMatchObject({
      value: { line: { net: '47.2' } },
    });
    expect(complete({ gross: '54', tare: '4', deduction: '5%' })).toMatchObject({ value: { line: { net: '47' } } });
  });

  test('a net that is not printed has the decimals at which net times price gives the printed amount', () => {
    // The yard rounded 5 % of 26.4 to two decimals; at one decimal the net would be 25.1 and the amount 0.04 off.
    const line = { gross: '27.9', tare: '1.5', deduction: '5%', price: '2.10' };
    const atYard = complete({ ...line, amountMinor: amountMinor(5267) });
    expect(atYard).toMatchObject({ value: { line: { net: '25.08', amountMinor: 5267 }, workedOut: ['net'] } });
    expect(atYard.ok && checkLine(atYard.value.line, 'USD')).toEqual([]);
    expect(complete({ ...line, amountMinor: amountMinor(5271) })).toMatchObject({ value: { line: { net: '25.1' } } });
    // Where no number of decimals gives the amount, and where none is printed, the line's own decimals stand.
    expect(complete({ ...line, amountMinor: amountMinor(5300) })).toMatchObject({ value: { line: { net: '25.1' } } });
    expect(complete(line)).toMatchObject({ value: { line: { net: '25.1', amountMinor: 5271 } } });
  });

  test('such a net begins at the most decimals that are printed, and may need up to four', () => {
    // 7.5 % of 25.53 is 1.91475: 23.62 at two decimals, 23.615 at three, 23.6152 at four.
    const line = { gross: '27.9', tare: '2.37', deduction: '7.5%', price: '100' };
    for (const [amount, net] of [
      [236200, '23.62'],
      [236150, '23.615'],
      [236152, '23.6152'],
      [236520, '23.62'],
    ] as const) {
      expect(complete({ ...line, amountMinor: amountMinor(amount) })).toMatchObject({ value: { line: { net } } });
    }
    const ton = { gross: '1.2', tare: '0.1', deduction: '3%', unit: 'tonne', price: '1000', per: 'tonne' } as const;
    expect(complete({ ...ton, amountMinor: amountMinor(106700) })).toMatchObject({ value: { line: { net: '1.067' } } });
    expect(complete({ ...line, deduction: '1.25', amountMinor: amountMinor(1) })).toMatchObject({
      value: { line: { net: '24.28' } },
    });
  });

  test('a cash rounding that is not printed is none when the total is unrounded, else what the step gives', () => {
    const worked = (before: number, total: number, step: number) =>
      workOutCashRounding(amountMinor(before), amountMinor(total), step);
    expect(worked(42856, 42855, 5)).toBe(-1);
    expect(worked(42856, 42856, 5)).toBe(0);
    expect(worked(42858, 41860, 5)).toBe(2);
    expect(worked(42856, 42850, 1)).toBe(0);
  });

  test('a gross worked back through a percent gives the same net again', () => {
    for (const deduction of ['3%', '5%', '12.5%', '40%', '99%']) {
      for (const net of ['47', '47.2', '0.1', '10.55']) {
        const read = complete({ net, deduction });
        expect(read.ok && checkLine(read.value.line, 'USD')).toEqual([]);
      }
    }
  });

  test('the amount rounds half away from zero', () => {
    expect(complete({ net: '209', price: '180', per: 'net ton' })).toMatchObject({
      value: { line: { amountMinor: 1881 } },
    });
    expect(complete({ net: '11', price: '190', per: 'net ton' })).toMatchObject({
      value: { line: { amountMinor: 105 } },
    });
  });

  test('pieces are counted and priced each', () => {
    expect(complete({ net: '12', unit: 'each', per: 'each', price: '4.5' })).toMatchObject({
      value: { line: { amountMinor: 5400 } },
    });
  });

  test.each<[Partial<PartialLine>, string]>([
    [{}, 'Enter the gross or the net as the ticket prints it.'],
    [{ gross: '10', price: '' }, 'Enter the price as the ticket prints it.'],
    [{ gross: '10', tare: '12' }, 'The tare, 12, is more than the gross, 10.'],
    [{ gross: '10', tare: '2', deduction: '8.5' }, 'The deduction, 8.5, is more than gross less tare, 8.'],
    [{ net: '0', deduction: '100%' }, 'With all of it taken off, enter the gross as the ticket prints it.'],
    [{ gross: '100.1', unit: 'tonne' }, 'More than 100 t cannot be right here. Check the unit.'],
    [{ gross: '1000001', unit: 'each', per: 'each' }, 'More than 1,000,000 pieces cannot be right here.'],
    [{ gross: '200000', price: '1000000' }, 'Weight times price is too large to be right here. Check both units.'],
    [
      { gross: '12', unit: 'each' },
      'The price is per piece and the line is a weight, or the reverse: enter the amount as printed.',
    ],
  ])('%j is refused', (fields, refusal) => {
    expect(refusalOf(fields)).toBe(refusal);
  });

  test('a piece price on a weighed line is fine when the amount is printed', () => {
    expect(complete({ gross: '40', per: 'each', price: '6', amountMinor: amountMinor(600) }).ok).toBe(true);
  });

  test('a deduction is read as a weight or a percent', () => {
    const read = (typed: string) => readDeduction(typed, { decimalMark: '.' });
    expect(read('')).toEqual({ ok: true, value: '0' });
    expect(read('3.50')).toEqual({ ok: true, value: '3.50' });
    expect(read('5 %')).toEqual({ ok: true, value: '5%' });
    expect(read('101%')).toEqual({ ok: false, refusal: 'A deduction cannot be above 100 %.' });
    expect(read('-1')).toMatchObject({ ok: false });
    expect(readDeduction('2,5%', { decimalMark: ',' })).toEqual({ ok: true, value: '2.5%' });
  });
});

describe('loads and lines that belong together', () => {
  const line = (lineNo: number, ...loadIds: number[]) => ({ lineNo, loadIds });
  const loads = [1, 2, 3, 4].map((id) => ({ id }));

  test('shared loads and shared lines join, however long the chain', () => {
    expect(connectLoadsAndLines(loads, [line(1, 1, 2), line(2, 3), line(3, 2, 3), line(4)])).toEqual([
      { loadIds: [1, 2, 3], lineNos: [1, 2, 3] },
      { loadIds: [4], lineNos: [] },
    ]);
  });

  test('a load that is not on the manifest is a programming error', () => {
    expect(() => connectLoadsAndLines(loads, [line(1, 9)])).toThrow('line 1 names a load that was not given');
  });
});

/** A ticket with nothing to find: 10.5 lb at 3.20 for a load of 10.75 lb, less a charge, in cash to five cents. */
const clean: TicketAuditInput = {
  currency: 'USD',
  decimalMark: '.',
  unit: 'lb',
  today: day('2025-03-10'),
  soldOn: day('2025-03-08'),
  loadedOn: day('2025-03-08'),
  number: '70011',
  numbersBefore: ['70010'],
  paidBy: 'cash',
  cashStepMinor: 5,
  chargesMinor: amountMinor(102),
  taxMinor: NO_MONEY,
  cashRoundingMinor: amountMinor(2),
  totalMinor: amountMinor(3260),
  lines: [printed()],
  loads: [{ id: 1, label: 'A', massUg: pounds('10.75') }],
  lastQuotes: new Map([[1, { price: new Decimal('3.30'), per: 'lb' }]]),
};
const audit = (fields: Partial<TicketAuditInput> = {}): Finding[] => auditTicket({ ...clean, ...fields });
const codes = (findings: readonly Finding[]): FindingCode[] => findings.map((finding) => finding.code);
/** The lines with the total that they come to, so that only what is tested is found. */
const withLines = (...lines: PrintedLine[]): Partial<TicketAuditInput> => ({
  lines,
  cashStepMinor: 1,
  cashRoundingMinor: NO_MONEY,
  totalMinor: amountMinor(lines.reduce((sum, line) => sum + line.amountMinor, 0) - 102) as AmountMinor,
});

describe('auditing a ticket', () => {
  test('a ticket without a slip has no findings', () => {
    expect(audit()).toEqual([]);
  });

  test('an amount that is not net times price is found, with its difference and whose favour', () => {
    const line = printed({ amountMinor: amountMinor(3306) });
    expect(audit(withLines(line))).toEqual([
      {
        code: 'amount_product',
        lineNo: 2,
        printed: '$33.06',
        shouldBe: '$33.60',
        differenceMinor: -54,
        favours: 'yard',
        text: "Line 2: 10.5 lb at $3.20 per lb is $33.60, the ticket says $33.06: $0.54 in the yard's favour.",
      },
    ]);
  });

  test('an amount in your favour is found just the same', () => {
    const [finding] = audit(withLines(printed({ amountMinor: amountMinor(3361) })));
    expect(finding).toMatchObject({ code: 'amount_product', differenceMinor: 1, favours: 'you' });
    expect(finding?.text).toMatch(/\$0\.01 in your favour\.$/);
  });

  test('an amount is reckoned across the units of weight and price', () => {
    const line = printed({ gross: '220', deduction: '11', net: '209', price: '180', per: 'net ton' });
    const [finding] = checkLine({ ...line, amountMinor: amountMinor(1880) }, 'USD');
    expect(finding?.text).toBe(
      "Line 2: 209 lb at $180.00 per net ton is $18.81, the ticket says $18.80: $0.01 in the yard's favour.",
    );
    expect(checkLine({ ...line, amountMinor: amountMinor(1881) }, 'USD')).toEqual([]);
  });

  test('a net that is not gross less tare less deduction is found and valued at the price', () => {
    const line = printed({ gross: '12.0', tare: '1.0', deduction: '0.5', net: '10.0', amountMinor: amountMinor(3200) });
    expect(audit(withLines(line))).toEqual([
      {
        code: 'net_sum',
        lineNo: 2,
        printed: '10.0',
        shouldBe: '10.5',
        differenceMinor: -160,
        favours: 'yard',
        text:
          'Line 2: gross 12.0 less tare 1.0 less deduction 0.5 is 10.5, the ticket says 10.0: ' +
          "$1.60 in the yard's favour.",
      },
    ]);
  });

  test('a percent that was rounded to the printed decimals is no slip', () => {
    const line = printed({ gross: '54.0', tare: '4.3', deduction: '5%', net: '47.2', amountMinor: amountMinor(15104) });
    expect(checkLine(line, 'USD')).toEqual([]);
    // With two decimals printed, the same percent has to be taken to two.
    expect(codes(checkLine({ ...line, net: '47.20' }, 'USD'))).toEqual(['net_sum']);
    expect(checkLine({ ...line, net: '47.21', amountMinor: amountMinor(15107) }, 'USD')).toEqual([]);
  });

  test('figures are written with the decimal mark of the ledger', () => {
    const [finding] = checkLine(printed({ amountMinor: amountMinor(3306) }), 'EUR', ',');
    expect(finding?.text).toBe(
      "Line 2: 10,5 lb at 3,20 € per lb is 33,60 €, the ticket says 33,06 €: 0,54 € in the yard's favour.",
    );
  });

  test('a total that its own figures do not give is found', () => {
    expect(audit({ totalMinor: amountMinor(3160) })).toEqual([
      {
        code: 'total_sum',
        lineNo: null,
        printed: '$31.60',
        shouldBe: '$32.60',
        differenceMinor: -100,
        favours: 'yard',
        text:
          "The lines, charges, tax and rounding come to $32.60, the ticket's total is $31.60: " +
          "$1.00 in the yard's favour.",
      },
    ]);
  });

  test('a tax is part of the total', () => {
    const figures = { taxMinor: amountMinor(100), cashRoundingMinor: amountMinor(2) };
    expect(audit({ ...figures, totalMinor: amountMinor(3360) })).toEqual([]);
  });

  test('a cash rounding that is not to the smallest coin of the yard is found', () => {
    const findings = audit({ cashRoundingMinor: amountMinor(-8), totalMinor: amountMinor(3250) });
    expect(findings).toMatchObject([{ code: 'cash_rounding', differenceMinor: -10, favours: 'yard' }]);
    expect(findings[0]?.text).toBe(
      "In cash, $32.58 to the nearest $0.05 is a rounding of $0.02, the ticket has −$0.08: $0.10 in the yard's favour.",
    );
  });

  test('a rounding although the ticket was not paid in cash is found', () => {
    const findings = audit({ paidBy: 'cheque' });
    expect(findings).toMatchObject([{ code: 'cash_rounding', shouldBe: '$0.00', differenceMinor: 2, favours: 'you' }]);
    expect(audit({ paidBy: 'card', cashRoundingMinor: NO_MONEY, totalMinor: amountMinor(3258) })).toEqual([]);
  });

  test('a line that pays for no load is asked about', () => {
    const extra = printed({ lineNo: 3, loadIds: [] });
    expect(audit(withLines(printed(), extra))).toMatchObject([
      { code: 'line_without_load', lineNo: 3, printed: '$33.60', differenceMinor: null, favours: null },
    ]);
  });

  test('a load that no line pays for is asked about', () => {
    const loads = [...clean.loads, { id: 2, label: 'B', massUg: pounds('48.25') }];
    expect(audit({ loads })).toMatchObject([
      {
        code: 'load_without_line',
        lineNo: null,
        shouldBe: '48.25 lb',
        text: 'Load B, 48.25 lb, is on no line of the ticket. Was it sold, or brought back?',
      },
    ]);
  });

  test('a number entered before for the yard is asked about, whatever its capitals', () => {
    expect(codes(audit({ number: ' n-7 ', numbersBefore: ['N-7'] }))).toEqual(['number_entered_before']);
    expect(audit({ number: '', numbersBefore: [''] })).toEqual([]);
  });

  test('a day after today is asked about, today is not', () => {
    expect(codes(audit({ soldOn: day('2025-03-11') }))).toEqual(['day_in_future']);
    expect(audit({ soldOn: day('2025-03-10') })).toEqual([]);
  });

  test('a day before the manifest was loaded is asked about', () => {
    const [finding] = audit({ soldOn: day('2025-03-07') });
    expect(finding?.code).toBe('sold_before_loaded');
    expect(finding?.text).toBe("The ticket's day, 7 Mar 2025, is before the day the manifest was loaded, 8 Mar 2025.");
    expect(audit({ soldOn: day('2025-03-07'), loadedOn: null })).toEqual([]);
  });

  test('a price more than 30 % off the last quote is asked about, 30 % is not', () => {
    const quoted = (price: string) => ({
      lastQuotes: new Map([[1, { price: new Decimal(price), per: 'lb' as const }]]),
    });
    expect(audit(quoted('2.461539'))).toEqual([]);
    expect(codes(audit(quoted('2.46')))).toEqual(['price_far_from_quote']);
    expect(audit(quoted('4.571428'))).toEqual([]);
    expect(codes(audit(quoted('4.58')))).toEqual(['price_far_from_quote']);
    expect(audit({ lastQuotes: new Map() })).toEqual([]);
  });

  test('a price is compared with a quote in another unit, and not with one per piece', () => {
    const quoted = (price: string, per: 'net ton' | 'each') => ({
      lastQuotes: new Map([[1, { price: new Decimal(price), per }]]),
    });
    expect(audit(quoted('6400', 'net ton'))).toEqual([]);
    expect(audit(quoted('3200', 'net ton'))).toMatchObject([{ printed: '$3.20 per lb', shouldBe: '$1.60 per lb' }]);
    expect(audit(quoted('1', 'each'))).toEqual([]);
  });

  test('a net more than 15 % off the load is asked about, 15 % is not', () => {
    const loaded = (amount: string) => ({ loads: [{ id: 1, label: 'A', massUg: pounds(amount) }] });
    expect(audit(loaded('12.35'))).toEqual([]);
    const [finding] = audit(loaded('12.36'));
    expect(finding).toMatchObject({ code: 'net_far_from_load', lineNo: 2, printed: '10.50 lb', shouldBe: '12.36 lb' });
    expect(finding?.text).toBe(
      'Line 2: the net, 10.50 lb, is far below what was loaded (A: 12.36 lb). Is it typed as printed?',
    );
    expect(audit(loaded('9.14'))).toEqual([]);
    expect(codes(audit(loaded('9.13')))).toEqual(['net_far_from_load']);
  });

  test('weights are compared for a whole set, so one load paid as two lines is no slip', () => {
    const lines = [printed(), printed({ lineNo: 3 })];
    expect(audit({ ...withLines(...lines), loads: [{ id: 1, label: 'A', massUg: pounds('21') }] })).toEqual([]);
    const findings = audit({ ...withLines(...lines), loads: [{ id: 1, label: 'A', massUg: pounds('30') }] });
    expect(findings).toMatchObject([{ code: 'net_far_from_load', lineNo: null, printed: '21.00 lb' }]);
  });

  test('pieces are not compared with weights', () => {
    const line = printed({
      unit: 'each',
      per: 'each',
      gross: '12',
      net: '12',
      price: '4.50',
      amountMinor: amountMinor(5400),
    });
    expect(audit({ ...withLines(line), lastQuotes: new Map() })).toEqual([]);
  });

  test('findings come line by line, then by load, then for the whole ticket', () => {
    const lines = [printed({ amountMinor: amountMinor(1) }), printed({ lineNo: 3, loadIds: [], net: '1' })];
    const loads = [...clean.loads, { id: 2, label: 'B', massUg: pounds('48.25') }];
    expect(codes(audit({ lines, loads, number: '70010', soldOn: day('2025-03-11') }))).toEqual([
      'amount_product',
      'net_sum',
      'amount_product',
      'line_without_load',
      'load_without_line',
      'total_sum',
      'cash_rounding',
      'number_entered_before',
      'day_in_future',
    ]);
  });
});
