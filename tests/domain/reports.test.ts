import { beforeEach, describe, expect, test } from 'vitest';
import { type Ledger, openLedger } from '../../server/context.ts';
import {
  addMonths,
  everySale,
  type Month,
  periodsBetween,
  type ReportFilter,
  readMonth,
  realisedPriceForFile,
  realisedPrices,
  realisedPricesOverall,
  type SaleMonth,
  shrinkageByPeriod,
  shrinkageForFile,
  shrinkageOverall,
  startOfPeriod,
} from '../../server/reports/compute.ts';
import { realisedPriceRows, saleMonths, shrinkageRows, soldBetween } from '../../server/reports/queries.ts';
import { changeSettings } from '../../server/setup/acts.ts';
import { replaceTicket } from '../../server/tickets/acts.ts';
import { massUg } from '../../server/units/mass.ts';
import { clock, gradeId, newBin, newLedger, newYard, setUpWorkedExample } from '../helper.ts';
import { type Sale, sell, sellCopper, ticketOf } from '../sales.ts';

const together: ReportFilter = { ...everySale, splitYards: false };
const month = (text: string) => text as Month;

let ledger: Ledger;
let yards: { north: number; south: number };
beforeEach(() => {
  ledger = newLedger();
  yards = { north: setUpWorkedExample(ledger).yardId, south: newYard(ledger, 'Demo Yard South') };
});

const prices = (filter: ReportFilter) =>
  realisedPriceRows(ledger.db, ledger.settings, filter).map(realisedPriceForFile);
const shrunk = (filter: ReportFilter) => shrinkageRows(ledger.db, ledger.settings, filter).map(shrinkageForFile);
const copperSale = (changes: Partial<Sale> = {}): Sale => ({
  yardId: yards.north,
  number: 'N9',
  on: '2025-03-03',
  loads: [{ code: 'CU2', net: '10', price: '3.00' }],
  lines: [
    { loads: [0], paidAs: 'No. 2 copper', gross: '10', deduction: '0', net: '10', price: '3.00', amount: '30.00' },
  ],
  ...changes,
});

describe('months and periods', () => {
  test('a month is read as year and month', () => {
    expect(readMonth(' 2025-03 ')).toEqual({ ok: true, value: '2025-03' });
    for (const text of ['', '2025', '2025-3', '2025-13', '2025-00', '1989-12', '２０２５-03', '2025-03-01', 'NaN']) {
      expect(readMonth(text).ok).toBe(false);
    }
  });

  test('counting months crosses the year both ways', () => {
    expect(addMonths(month('2024-12'), 1)).toBe('2025-01');
    expect(addMonths(month('2025-01'), -1)).toBe('2024-12');
    expect(addMonths(month('2025-02'), -23)).toBe('2023-03');
  });

  test('the periods between two months are without holes', () => {
    expect(periodsBetween(month('2024-11'), month('2025-02'), 'month')).toEqual([
      '2024-11',
      '2024-12',
      '2025-01',
      '2025-02',
    ]);
    expect(periodsBetween(month('2024-09'), month('2025-04'), 'quarter')).toEqual([
      '2024-Q3',
      '2024-Q4',
      '2025-Q1',
      '2025-Q2',
    ]);
    expect(periodsBetween(month('2023-12'), month('2025-01'), 'year')).toEqual(['2023', '2024', '2025']);
  });

  test('a period starts with its first month', () => {
    expect(startOfPeriod(month('2025-05'), 'month')).toBe('2025-05');
    expect(startOfPeriod(month('2025-05'), 'quarter')).toBe('2025-04');
    expect(startOfPeriod(month('2025-05'), 'year')).toBe('2025-01');
  });
});

describe('realised prices', () => {
  test('are quotients of sums, with the charges taken off', () => {
    sellCopper(ledger, yards);
    // December: quoted 530 / 150, paid 509.40 / 147, realised (509.40 - 6) / 150, realisation 503.40 / 530.
    expect(prices(together)).toEqual([
      {
        period: '2024-12',
        grade: 'No. 2 copper',
        yard: '',
        unit: 'lb',
        home: '150.0000',
        paid_weight: '147.0000',
        quoted_price: '3.5333',
        paid_price: '3.4653',
        realised_price: '3.3560',
        realisation: '0.9498',
      },
      {
        period: '2025-02',
        grade: 'No. 2 copper',
        yard: '',
        unit: 'lb',
        home: '20.0000',
        paid_weight: '15.0000',
        quoted_price: '3.8000',
        paid_price: '3.8000',
        realised_price: '2.8500',
        realisation: '0.7500',
      },
    ]);
  });

  test('stand apart by yard, and over all periods together', () => {
    sellCopper(ledger, yards);
    expect(prices(everySale).map((row) => [row.period, row.yard, row.realised_price])).toEqual([
      ['2024-12', 'Demo Yard North', '3.3000'],
      ['2024-12', 'Demo Yard South', '3.4680'],
      ['2025-02', 'Demo Yard North', '2.8500'],
    ]);
    const overall = realisedPricesOverall(saleMonths(ledger.db, together), together, ledger.settings);
    // 560.40 / 170 for what left home, where the mean of the two months would be 3.1030.
    expect(overall.map(realisedPriceForFile)).toMatchObject([
      { period: '', home: '170.0000', quoted_price: '3.5647', realised_price: '3.2965' },
    ]);
  });

  test('by quarter and by year join the months of a period', () => {
    sellCopper(ledger, yards);
    sell(ledger, copperSale());
    const row = (by: ReportFilter['by']) => prices({ ...together, by }).map((each) => [each.period, each.home]);
    expect(row('quarter')).toEqual([
      ['2024-Q4', '150.0000'],
      ['2025-Q1', '30.0000'],
    ]);
    expect(row('year')).toEqual([
      ['2024', '150.0000'],
      ['2025', '30.0000'],
    ]);
  });

  test('keep to the grade, the yard and the months asked for', () => {
    sellCopper(ledger, yards);
    expect(prices({ ...together, yardId: yards.south }).map((row) => [row.period, row.yard])).toEqual([
      ['2024-12', 'Demo Yard South'],
    ]);
    expect(prices({ ...together, from: month('2025-01') }).map((row) => row.period)).toEqual(['2025-02']);
    expect(prices({ ...together, to: month('2025-01') }).map((row) => row.period)).toEqual(['2024-12']);
    expect(prices({ ...together, gradeId: gradeId(ledger, 'Yellow brass') })).toEqual([]);
    expect(soldBetween(ledger.db)).toEqual({ first: '2024-12', newest: '2025-02' });
  });

  test('share the charges of a ticket by what each grade was paid', () => {
    sell(
      ledger,
      copperSale({
        loads: [
          { code: 'CU2', net: '100', price: '3.00' },
          { code: 'YB1', net: '50', price: '2.00' },
        ],
        lines: [
          {
            loads: [0],
            paidAs: 'No. 2 copper',
            gross: '100',
            deduction: '0',
            net: '100',
            price: '3',
            amount: '300.00',
          },
          { loads: [1], paidAs: 'Yellow brass', gross: '50', deduction: '0', net: '50', price: '2', amount: '100.00' },
        ],
        charges: '4.00',
      }),
    );
    // 4.00 is shared 3 to 1: (300 - 3) / 100 and (100 - 1) / 50.
    expect(prices(together).map((row) => [row.grade, row.paid_price, row.realised_price])).toEqual([
      ['No. 2 copper', '3.0000', '2.9700'],
      ['Yellow brass', '2.0000', '1.9800'],
    ]);
  });

  test('share a line for loads of two grades by their expected value', () => {
    newBin(ledger, 'CUL', 'Light copper');
    sell(
      ledger,
      copperSale({
        loads: [
          { code: 'CU2', net: '30', price: '3.00' },
          { code: 'CUL', net: '10', price: '1.00' },
        ],
        lines: [
          {
            loads: [0, 1],
            paidAs: 'No. 2 copper',
            gross: '40',
            deduction: '4',
            net: '36',
            price: '2.50',
            amount: '90.00',
          },
        ],
      }),
    );
    // Expected 90 and 10, so 81.00 and 9.00 of the 90.00; the weights follow the home weights, 3 to 1.
    expect(prices(together).map((row) => [row.grade, row.paid_weight, row.paid_price, row.realised_price])).toEqual([
      ['No. 2 copper', '27.0000', '3.0000', '2.7000'],
      ['Light copper', '9.0000', '1.0000', '0.9000'],
    ]);
  });

  test('forget a ticket that was replaced', () => {
    const sale = copperSale();
    const { manifestId, ticketId } = sell(ledger, sale);
    const line = { ...sale.lines[0], gross: '8', net: '8', amount: '24.00' } as Sale['lines'][number];
    replaceTicket(ledger, ticketId, ticketOf(ledger, copperSale({ number: 'N9b', lines: [line] }), manifestId), 'slip');
    expect(prices(together)).toMatchObject([{ home: '10.0000', paid_weight: '8.0000', realised_price: '2.4000' }]);
    expect(shrunk(together)).toMatchObject([{ sales: '1', total_share: '0.2000' }]);
  });

  test('move to the month of the ticket that took the place of another', () => {
    const { manifestId, ticketId } = sell(ledger, copperSale({ on: '2025-02-27' }));
    replaceTicket(ledger, ticketId, ticketOf(ledger, copperSale({ number: 'N9b' }), manifestId), 'wrong day');
    expect(prices(together).map((row) => row.period)).toEqual(['2025-03']);
  });

  test('have no realisation where nothing was quoted', () => {
    sell(ledger, copperSale({ loads: [{ code: 'CU2', net: '10', price: '0' }] }));
    expect(prices(together)).toMatchObject([{ quoted_price: '0.0000', realised_price: '3.0000', realisation: '' }]);
  });

  test('have no paid price where no weight was paid for', () => {
    sell(
      ledger,
      copperSale({
        lines: [
          { loads: [0], paidAs: 'No. 2 copper', gross: '10', deduction: '10', net: '0', price: '3', amount: '0' },
        ],
      }),
    );
    expect(prices(together)).toMatchObject([{ paid_price: '', realised_price: '0.0000', realisation: '0.0000' }]);
    expect(shrunk(together)).toMatchObject([{ deduction_share: '1.0000', total_share: '1.0000' }]);
  });

  test('are per the unit a grade is quoted in, unless a unit is chosen; the file keeps to one unit', () => {
    sell(
      ledger,
      copperSale({
        loads: [{ code: 'FE1', net: '212', price: '190', per: 'net ton' }],
        lines: [
          {
            loads: [0],
            paidAs: 'Shreddable steel',
            gross: '220',
            deduction: '11',
            net: '209',
            price: '180',
            per: 'net ton',
            amount: '18.81',
          },
        ],
      }),
    );
    const [row] = realisedPriceRows(ledger.db, ledger.settings, together);
    expect([row?.per, row?.quotedPrice?.toFixed(), row?.paidPrice?.toFixed()]).toEqual(['net ton', '190', '180']);
    expect(prices(together)).toMatchObject([{ unit: 'lb', quoted_price: '0.0950', paid_price: '0.0900' }]);
    const inTons: ReportFilter = { ...together, unit: 'net ton' };
    expect(prices(inTons)).toMatchObject([{ unit: 'net ton', home: '0.1060', quoted_price: '190.0000' }]);
  });

  test('of a ledger in kilograms are per kilogram in its file', () => {
    changeSettings(ledger, { ...ledger.settings, unit: 'kg', currency: 'EUR' });
    ledger = openLedger(ledger.db, clock);
    sell(
      ledger,
      copperSale({
        unit: 'kg',
        loads: [{ code: 'CU2', net: '10', price: '8.00' }],
        lines: [
          {
            loads: [0],
            paidAs: 'No. 2 copper',
            gross: '10',
            deduction: '0.5',
            net: '9.5',
            price: '8',
            amount: '76.00',
          },
        ],
      }),
    );
    expect(prices(together)).toMatchObject([
      { unit: 'kg', home: '10.0000', paid_weight: '9.5000', quoted_price: '8.0000', realised_price: '7.6000' },
    ]);
    expect(shrunk(together)).toMatchObject([{ unit: 'kg', paid_weight: '9.5000', deduction_share: '0.0500' }]);
  });

  test('of a currency without a minor unit are in whole units', () => {
    const sold: SaleMonth = {
      month: month('2025-03'),
      gradeId: 1,
      gradeName: 'No. 2 copper',
      quotedPer: 'kg',
      yardId: 1,
      yardName: 'Demo Yard North',
      sales: 1,
      homeUg: massUg(2_000_000_000),
      yardUg: massUg(2_000_000_000),
      paidUg: massUg(2_000_000_000),
      weighedUg: massUg(2_000_000_000),
      quotedUg: massUg(2_000_000_000),
      quotedMicro: 2_200_000_000,
      paidMinor: 2000,
      chargesMinor: 0,
      sold: 1,
      homeSquares: 4,
      homeByMoney: 4000,
      moneySquares: 4_000_000,
      weighedSquares: 4,
      weighedByPaid: 4,
      paidSquares: 4,
    };
    const [row] = realisedPrices([sold], together, { unit: 'kg', currency: 'JPY' });
    expect([row?.quotedPrice?.toFixed(), row?.paidPrice?.toFixed()]).toEqual(['1100', '1000']);
  });

  test('a load that nobody quoted does not pull the quoted price of its month down', () => {
    sell(ledger, copperSale());
    sell(ledger, copperSale({ number: 'N10', loads: [{ code: 'CU2', net: '10', price: '' }] }));
    // Quoted 30.00 for the one quoted load of 10 lb; realised 60.00 for 20 lb.
    expect(prices(together)).toMatchObject([
      { quoted_price: '3.0000', realised_price: '3.0000', realisation: '1.0000' },
    ]);
  });
});

describe('shrinkage', () => {
  test('leaves out what was paid by the piece, which has no weight at the yard', () => {
    sellCopper(ledger, yards);
    const before = shrunk(together);
    const piece = { loads: [0], paidAs: 'No. 2 copper', gross: '10', deduction: '0', net: '10', price: '4.00' };
    sell(ledger, copperSale({ number: 'P1', lines: [{ ...piece, per: 'each', amount: '40.00' }] }));
    expect(shrunk(together)).toEqual(before);
    expect(prices(together).map((row) => row.home)).toEqual(['150.0000', '20.0000', '10.0000']);
  });

  test('is the ratio of the sums, not the mean of the ratios', () => {
    sellCopper(ledger, yards);
    // Home 170, yard 168, paid for 162: 2/170, 6/170, 8/170. The mean of 4/100, -1/50 and 5/20 would be 0.0900.
    expect(shrunk(together)).toEqual([
      {
        grade: 'No. 2 copper',
        yard: '',
        sales: '3',
        unit: 'lb',
        home: '170.0000',
        yard_weight: '168.0000',
        paid_weight: '162.0000',
        scale_share: '0.0118',
        deduction_share: '0.0353',
        total_share: '0.0471',
        low: '-0.1176',
        high: '0.2117',
      },
    ]);
  });

  test('by yard is negative where the yard weighed more', () => {
    sellCopper(ledger, yards);
    const rows = shrunk(everySale).map((row) => [row.yard, row.scale_share, row.deduction_share, row.total_share]);
    expect(rows).toEqual([
      ['Demo Yard North', '0.0250', '0.0500', '0.0750'],
      ['Demo Yard South', '-0.0200', '0.0000', '-0.0200'],
    ]);
  });

  test('by period leaves out a month without a sale', () => {
    sellCopper(ledger, yards);
    const rows = shrinkageByPeriod(saleMonths(ledger.db, together), together, ledger.settings);
    expect(rows.map((row) => [row.period, shrinkageForFile(row).total_share])).toEqual([
      ['2024-12', '0.0200'],
      ['2025-02', '0.2500'],
    ]);
  });

  test('of all grades together counts a sale once for each grade in it', () => {
    sellCopper(ledger, yards);
    sell(
      ledger,
      copperSale({
        loads: [{ code: 'YB1', net: '30', price: '2' }],
        lines: [
          { loads: [0], paidAs: 'Yellow brass', gross: '30', deduction: '0', net: '30', price: '2', amount: '60' },
        ],
      }),
    );
    const [row] = shrinkageOverall(saleMonths(ledger.db, together), together, ledger.settings);
    expect([row?.gradeName, row?.sales, row && shrinkageForFile(row).total_share]).toEqual([null, 4, '0.0400']);
  });

  test('has nothing to say while a load is on no ticket', () => {
    sell(
      ledger,
      copperSale({
        loads: [
          { code: 'CU2', net: '10', price: '3.00' },
          { code: 'YB1', net: '99', price: '2.00' },
        ],
      }),
    );
    expect(shrunk(together).map((row) => [row.grade, row.home])).toEqual([['No. 2 copper', '10.0000']]);
  });
});
