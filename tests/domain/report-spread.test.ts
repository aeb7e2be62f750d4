import fc from 'fast-check';
import { beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import {
  everySale,
  type Month,
  type ReportFilter,
  realisedPricesOverall,
  shrinkageByPeriod,
  shrinkageForFile,
} from '../../server/reports/compute.ts';
import {
  expectedShrinkages,
  planningMonths,
  saleMonths,
  shrinkageRows,
  shrinkageSums,
} from '../../server/reports/queries.ts';
import { realisedPriceOf, shrinkageOf } from '../../server/reports/spread.ts';
import { type RatioEstimate, ratioOf } from '../../server/statistics/ratio.ts';
import { replaceTicket } from '../../server/tickets/acts.ts';
import { gradeId, newBin, newLedger, newYard, setUpWorkedExample } from '../helper.ts';
import { type Sale, sell, sellCopper, ticketOf } from '../sales.ts';

/**
 * Student's t for 95 %, two sides, by degrees of freedom, as a printed table has it.
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2 (from memory).
 */
const T = { 2: 4.303, 3: 3.182 } as const;

const together: ReportFilter = { ...everySale, splitYards: false };
const month = (text: string) => text as Month;

let ledger: Ledger;
let yards: { north: number; south: number };
beforeEach(() => {
  ledger = newLedger();
  yards = { north: setUpWorkedExample(ledger).yardId, south: newYard(ledger, 'Demo Yard South') };
});

interface Pounds {
  yardId?: number;
  on?: string;
  code?: string;
  paidAs?: string;
  home: string;
  paid: string;
  /** Cents a pound. */
  cents?: number;
  /** In whole dollars, paid by the piece instead of by weight. */
  byPiece?: number;
}

let sold = 0;
/** A sale of whole pounds of one grade without deduction or charges. */
function saleOf({ yardId = yards.north, on = '2025-03-03', home, paid, ...rest }: Pounds): Sale {
  const { code = 'CU2', paidAs = 'No. 2 copper', cents = 300, byPiece } = rest;
  sold += 1;
  const line = { loads: [0], paidAs, gross: paid, deduction: '0', net: paid };
  const price = (cents / 100).toFixed(2);
  return {
    yardId,
    number: `T${sold}`,
    on,
    loads: [{ code, net: home, price: '3.00' }],
    lines: [
      byPiece === undefined
        ? { ...line, price, amount: ((Number.parseInt(paid, 10) * cents) / 100).toFixed(2) }
        : { ...line, price: String(byPiece), per: 'each', amount: String(byPiece * Number.parseInt(paid, 10)) },
    ],
  };
}
const sellPounds = (pounds: Pounds) => sell(ledger, saleOf(pounds));
const shrunk = (filter: ReportFilter) => shrinkageRows(ledger.db, ledger.settings, filter);

/** R ± t √(Σ(y − R x)² / (n − 1) / n) / x̄, written out once more, to be held against what the reports say. */
function intervalByHand(pairs: readonly (readonly [x: number, y: number])[], t: number): [number, number] {
  const n = pairs.length;
  const [x, y] = [0, 1].map((side) => pairs.reduce((sum, pair) => sum + (pair[side] ?? 0), 0)) as [number, number];
  const squares = pairs.reduce((sum, pair) => sum + (pair[1] - (y / x) * pair[0]) ** 2, 0);
  const half = (t * Math.sqrt(squares / (n - 1) / n)) / (x / n);
  return [y / x - half, y / x + half];
}

describe('the interval of the shrinkage', () => {
  test('of three sales is the one worked out by hand', () => {
    sellCopper(ledger, yards);
    // Home 100, 50, 20; paid for 96, 51, 15. R = 162/170; residuals 0.706, 3.353, −4.059, squares 28.21 in all;
    // se = √(28.21 / 2 / 3) / 56.667 = 0.03827; times 4.303 is 0.1647 to either side of 0.0471.
    const [row] = shrunk(together);
    expect(row?.spread).toMatchObject({ count: 3, noInterval: null });
    expect(row?.spread.low?.toNumber()).toBeCloseTo(0.0471 - 0.1647, 3);
    expect(row?.spread.high?.toNumber()).toBeCloseTo(0.0471 + 0.1647, 3);
    const [low, high] = intervalByHand(
      [
        [100, 96],
        [50, 51],
        [20, 15],
      ],
      T[2],
    );
    expect(row?.spread.low?.toNumber()).toBeCloseTo(1 - high, 4);
    expect(row?.spread.high?.toNumber()).toBeCloseTo(1 - low, 4);
    expect(row && shrinkageForFile(row)).toMatchObject({ total_share: '0.0471', low: '-0.1176', high: '0.2117' });
  });

  test('of four sales takes t with three degrees of freedom', () => {
    sellCopper(ledger, yards);
    sellPounds({ home: '40', paid: '39' });
    const pairs = [
      [100, 96],
      [50, 51],
      [20, 15],
      [40, 39],
    ] as const;
    const [low, high] = intervalByHand(pairs, T[3]);
    const [row] = shrunk(together);
    expect(row?.spread.low?.toNumber()).toBeCloseTo(1 - high, 4);
    expect(row?.spread.high?.toNumber()).toBeCloseTo(1 - low, 4);
  });

  test('is none below three sales, and an empty cell in the file', () => {
    sellCopper(ledger, yards);
    const rows = shrunk(everySale);
    expect(rows.map((row) => [row.yardName, row.spread])).toEqual([
      ['Demo Yard North', { count: 2, low: null, high: null, noInterval: 'few' }],
      ['Demo Yard South', { count: 1, low: null, high: null, noInterval: 'few' }],
    ]);
    expect(rows.map(shrinkageForFile)).toMatchObject([
      { low: '', high: '' },
      { low: '', high: '' },
    ]);
  });

  test('is none where the sales are all alike', () => {
    for (const home of ['50', '100', '150']) {
      sellPounds({ home, paid: String(Number.parseInt(home, 10) * 0.98) });
    }
    expect(shrunk(together)[0]?.spread).toEqual({ count: 3, low: null, high: null, noInterval: 'equal' });
  });

  test('counts what was sold by weight only', () => {
    sellPounds({ home: '50', paid: '49' });
    sellPounds({ home: '50', paid: '47' });
    sellPounds({ home: '7', paid: '7', byPiece: 2 });
    expect(shrunk(together)[0]?.spread).toMatchObject({ count: 2, noInterval: 'few' });
    sellPounds({ home: '30', paid: '29' });
    const [low, high] = intervalByHand(
      [
        [50, 49],
        [50, 47],
        [30, 29],
      ],
      T[2],
    );
    const [row] = shrunk(together);
    expect([row?.sales, row?.spread.count]).toEqual([3, 3]);
    expect(row?.spread.low?.toNumber()).toBeCloseTo(1 - high, 4);
    expect(row?.spread.high?.toNumber()).toBeCloseTo(1 - low, 4);
  });

  test('of a quarter joins its months', () => {
    for (const [on, paid] of [
      ['2025-01-10', '48'],
      ['2025-02-10', '49'],
      ['2025-03-10', '47'],
    ] as const) {
      sellPounds({ on, home: '50', paid });
    }
    const rows = (by: ReportFilter['by']) =>
      shrinkageByPeriod(saleMonths(ledger.db, together), { ...together, by }, ledger.settings);
    expect(rows('month').map((row) => row.spread.noInterval)).toEqual(['few', 'few', 'few']);
    // R = 0.96, residuals 0, 1 and −1 on a mean of 50: 4.303 × √(2 / 2 / 3) / 50 = 0.0497.
    const [quarter] = rows('quarter');
    expect(quarter?.spread.low?.toNumber()).toBeCloseTo(0.04 - 0.0497, 4);
    expect(quarter?.spread.high?.toNumber()).toBeCloseTo(0.04 + 0.0497, 4);
  });
});

describe('the interval of the realised price', () => {
  const overall = (filter: ReportFilter) =>
    realisedPricesOverall(saleMonths(ledger.db, filter), filter, ledger.settings);

  test('of three sales is the one worked out by hand, after charges', () => {
    sellCopper(ledger, yards);
    // Home 100, 50, 20; money 330.00, 173.40, 57.00. R = 560.40/170; residuals 0.353, 8.576, −8.929.
    const [low, high] = intervalByHand(
      [
        [100, 330],
        [50, 173.4],
        [20, 57],
      ],
      T[2],
    );
    const [row] = overall(together);
    expect(row?.per).toBe('lb');
    expect([low, high].map((end) => end.toFixed(2))).toEqual(['2.91', '3.68']);
    expect(row?.spread.low?.toNumber()).toBeCloseTo(low, 3);
    expect(row?.spread.high?.toNumber()).toBeCloseTo(high, 3);
  });

  test('is in the unit of the row', () => {
    sellCopper(ledger, yards);
    const [byPound] = overall(together);
    const [byTon] = overall({ ...together, unit: 'net ton' });
    expect(byTon?.spread.low?.div(2000).toNumber()).toBeCloseTo(byPound?.spread.low?.toNumber() ?? 0, 9);
  });

  test('counts what was sold by the piece as well', () => {
    sellPounds({ home: '50', paid: '49' });
    sellPounds({ home: '50', paid: '47' });
    sellPounds({ home: '7', paid: '7', byPiece: 2 });
    const [low, high] = intervalByHand(
      [
        [50, 147],
        [50, 141],
        [7, 14],
      ],
      T[2],
    );
    const [row] = overall(together);
    expect(row?.spread.count).toBe(3);
    expect(row?.spread.low?.toNumber()).toBeCloseTo(low, 3);
    expect(row?.spread.high?.toNumber()).toBeCloseTo(high, 3);
  });
});

describe('the sums by month', () => {
  const pick = fc.record({
    home: fc.integer({ min: 1, max: 400 }),
    paid: fc.integer({ min: 1, max: 400 }),
    cents: fc.integer({ min: 1, max: 900 }),
    month: fc.integer({ min: 1, max: 3 }),
    isSouth: fc.boolean(),
    isByPiece: fc.boolean(),
  });
  type Pick = typeof pick extends fc.Arbitrary<infer Value> ? Value : never;

  const asPounds = ({ home, paid, cents, month: number, isSouth, isByPiece }: Pick): Pounds => ({
    yardId: isSouth ? yards.south : yards.north,
    on: `2025-0${number}-05`,
    home: String(home),
    paid: String(paid),
    cents,
    ...(isByPiece ? { byPiece: 3 } : {}),
  });

  interface Share {
    home: number;
    weighed: number;
    paid: number;
    money: number;
  }
  const shares = () =>
    ledger.db.sqlite
      .prepare(
        `SELECT home_ug / 1e9 AS home, weighed_ug / 1e9 AS weighed, paid_ug / 1e9 AS paid,
          paid_minor - charges_minor AS money FROM reconciliation_share`,
      )
      .all() as Share[];

  function expectClose(found: RatioEstimate | null, due: RatioEstimate | null): void {
    expect([found?.count, found?.noInterval]).toEqual([due?.count, due?.noInterval]);
    const ends = (estimate: RatioEstimate | null) => [
      estimate?.ratio ?? 0,
      estimate?.interval?.low ?? 0,
      estimate?.interval?.high ?? 0,
    ];
    // A millionth of the ratio, which is never far from its interval; an end itself may lie beside zero.
    const allowed = 1e-6 * Math.max(...ends(due).map(Math.abs));
    for (const [index, end] of ends(found).entries()) {
      expect(Math.abs(end - (ends(due)[index] ?? 0))).toBeLessThanOrEqual(allowed);
    }
  }

  /** 1 − the estimate, the other way round. */
  const missing = (paid: RatioEstimate | null): RatioEstimate | null =>
    paid && {
      ...paid,
      ratio: 1 - paid.ratio,
      interval: paid.interval && { low: 1 - paid.interval.high, high: 1 - paid.interval.low },
    };

  test('give the interval that the single sales give, also after tickets were replaced', () => {
    fc.assert(
      fc.property(fc.array(pick, { minLength: 1, maxLength: 8 }), fc.array(pick, { maxLength: 4 }), (first, later) => {
        ledger = newLedger();
        yards = { north: setUpWorkedExample(ledger).yardId, south: newYard(ledger, 'Demo Yard South') };
        const tickets = first.map((one) => ({ ...sellPounds(asPounds(one)), one }));
        later.forEach((one, index) => {
          const old = tickets[index % tickets.length];
          if (old === undefined) return;
          const sale = saleOf({ ...asPounds(one), yardId: old.one.isSouth ? yards.south : yards.north });
          old.ticketId = replaceTicket(ledger, old.ticketId, ticketOf(ledger, sale, old.manifestId), 'a slip');
        });
        const pairs = shares();
        expect(pairs).toHaveLength(first.length);
        const byWeight = pairs.filter((pair) => pair.weighed > 0).map(({ home, paid }) => ({ x: home, y: paid }));
        const months = saleMonths(ledger.db, together);
        const shrinkage = missing(ratioOf(byWeight));
        expectClose(shrinkageOf(months), shrinkage);
        expectClose(shrinkageOf(shrinkageSums(ledger.db, together)), shrinkage);
        expectClose(realisedPriceOf(months), ratioOf(pairs.map(({ home, money }) => ({ x: home, y: money }))));
      }),
      { numRuns: 40 },
    );
  });
});

describe('the shrinkage to reckon with', () => {
  const copper = () => gradeId(ledger, 'No. 2 copper');
  const brass = () => gradeId(ledger, 'Yellow brass');
  const expectedAt = (yardId: number, grade = copper()) =>
    expectedShrinkages(ledger.db, { yardId, gradeIds: [grade], ...planningMonths(ledger.db) }).get(grade);
  const sellTo = (yardId: number, times: number, paid = '49', on = '2025-03-03') => {
    for (let index = 0; index < times; index += 1) sellPounds({ yardId, home: '50', paid, on });
  };

  test('is none before the first sale by weight', () => {
    expect(expectedAt(yards.north)).toBeNull();
    sellPounds({ home: '7', paid: '7', byPiece: 2 });
    expect(expectedAt(yards.north)).toBeNull();
  });

  test('is that of the grade at the yard from five sales on, and of the grade at any yard before', () => {
    sellTo(yards.south, 2, '45');
    sellTo(yards.north, 4);
    // Paid for 2 × 45 and 4 × 49 of 300 lb: 14 of 300 are missing.
    expect(expectedAt(yards.north)).toMatchObject({ basis: 'grade', sales: 6 });
    expect(expectedAt(yards.north)?.share).toBeCloseTo(14 / 300, 9);
    sellTo(yards.north, 1, '44');
    // Now 5 sales here: paid for 240 of 250 lb.
    expect(expectedAt(yards.north)).toMatchObject({ basis: 'yard and grade', sales: 5 });
    expect(expectedAt(yards.north)?.share).toBeCloseTo(10 / 250, 9);
    expect(expectedAt(yards.south)).toMatchObject({ basis: 'grade', sales: 7 });
  });

  test('does not count what was paid by the piece to the five', () => {
    sellTo(yards.north, 4);
    sellPounds({ home: '7', paid: '7', byPiece: 2 });
    expect(expectedAt(yards.north)).toMatchObject({ basis: 'grade', sales: 4 });
  });

  test('of a grade that was never sold is that of the whole ledger, with its interval', () => {
    sellCopper(ledger, yards);
    const found = expectedAt(yards.south, brass());
    expect(found).toMatchObject({ basis: 'ledger', sales: 3 });
    expect(found?.share).toBeCloseTo(8 / 170, 9);
    expect([found?.low, found?.high].map((end) => end?.toFixed(4))).toEqual(['-0.1176', '0.2117']);
  });

  test('has no interval where the sales are few or alike', () => {
    sellTo(yards.north, 1);
    expect(expectedAt(yards.north)).toMatchObject({ basis: 'grade', sales: 1, low: null, high: null });
    sellTo(yards.north, 4);
    expect(expectedAt(yards.north)).toMatchObject({ basis: 'yard and grade', sales: 5, low: null, high: null });
  });

  test('looks back on 24 months from the newest sale, or on what is asked', () => {
    sellTo(yards.north, 5, '40', '2023-03-31');
    sellTo(yards.north, 5, '49', '2025-03-03');
    expect(planningMonths(ledger.db)).toEqual({ from: '2023-04', to: '2025-03' });
    expect(expectedAt(yards.north)?.share).toBeCloseTo(0.02, 9);
    const asked = { yardId: yards.north, gradeIds: [copper()], from: month('2023-01'), to: month('2023-12') };
    expect(expectedShrinkages(ledger.db, asked).get(copper())?.share).toBeCloseTo(0.2, 9);
  });

  test('answers for every grade asked about', () => {
    newBin(ledger, 'CUL', 'Light copper');
    sellTo(yards.north, 5);
    const gradeIds = [copper(), brass(), gradeId(ledger, 'Light copper')];
    const found = expectedShrinkages(ledger.db, { yardId: yards.north, gradeIds, from: null, to: null });
    expect([...found.keys()]).toEqual(gradeIds);
    expect([...found.values()].map((one) => one?.basis)).toEqual(['yard and grade', 'ledger', 'ledger']);
  });
});
