import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type AmountMinor, amountMinor, NO_MONEY, roundToMinor } from '../../server/money/money.ts';
import { valueOfMass } from '../../server/prices/compute.ts';
import {
  type ReconciledLine,
  type ReconciledLoad,
  type ReconciliationGroup,
  reconcileTicket,
} from '../../server/reconciliation/compute.ts';
import { shareGroup } from '../../server/reconciliation/shares.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { toMassUg, toWeight } from '../../server/units/mass.ts';

/*
 * Published examples of standard costing, run through our reconciliation. What the textbook calls standard or budget
 * is what the manifest printed (home weight at the quoted price); what it calls actual is what the yard paid. Then
 *   quantity (or volume) variance = (AQ − SQ) · SP = scale + deduction,
 *   price variance                = AQ · (AP − SP) = price.
 * Both sides are actual less standard. For a cost, plus is unfavourable; for a sale, as ours always is, plus is
 * favourable. The figures and their signs are the same, only the words differ. Sources stand in variances.json.
 */
interface Material {
  name: string;
  actual_qty: number;
  actual_cost?: number;
  actual_price?: number;
  standard_price: number;
  standard_qty?: number;
  price_variance: number;
  quantity_variance?: number;
  total?: number;
  labour?: {
    hours: number;
    cost: number;
    standard_rate: number;
    standard_hours: number;
    rate_variance: number;
    efficiency_variance: number;
  };
}
interface Sale {
  name: string;
  budget_units: number;
  budget_price?: number;
  budget_sales?: number;
  actual_units: number;
  actual_price?: number;
  actual_sales?: number;
  price_variance: number;
  volume_variance: number;
  total: number;
}
type Pairs = Record<'A' | 'B', [quantity: number, price: number]>;
interface Mix {
  budget: Pairs;
  actual: Pairs;
  price_variance: Record<'A' | 'B' | 'total', number>;
  volume_variance: Record<'A' | 'B' | 'total', number>;
  mix_variance: Record<'A' | 'B' | 'total', number>;
}
interface Shares {
  budget_units: Record<'A' | 'B', number>;
  actual_total: number;
  actual_total_at_budget_mix: Record<'A' | 'B', number>;
}
const published: { materials: Material[]; sales: unknown[] } = JSON.parse(
  readFileSync(new URL('variances.json', import.meta.url), 'utf8'),
);
const [salesOfOne, mix, mixShares] = [
  published.sales.slice(0, 3) as Sale[],
  published.sales[3] as Mix,
  published.sales[4] as Shares,
];

const dollars = (amount: number): AmountMinor => roundToMinor(new Decimal(amount), 'USD');

interface Example {
  standardQuantity: number;
  standardPrice: number;
  actualQuantity: number;
  actualPrice: Decimal;
}

const loadOf = (id: number, quantity: number, price: number): ReconciledLoad => {
  const mass = toMassUg({ amount: new Decimal(quantity), unit: 'lb' });
  const expected = valueOfMass(mass, { price: new Decimal(price), per: 'lb' });
  return {
    id,
    label: `L${id}`,
    gradeId: id,
    massUg: mass,
    price: String(price),
    per: 'lb',
    expectedMinor: roundToMinor(expected ?? new Decimal(0), 'USD'),
  };
};

/** A line paid in pounds; what it weighs above `quantity` is taken off as a deduction. */
const lineOf = (id: number, quantity: number, price: Decimal, deducted = 0): ReconciledLine => ({
  lineNo: id,
  description: '',
  gradeId: id,
  loadIds: [id],
  gross: new Decimal(quantity).plus(deducted).toString(),
  tare: '0',
  deduction: String(deducted),
  net: String(quantity),
  unit: 'lb',
  price: price.toString(),
  per: 'lb',
  amountMinor: roundToMinor(price.times(quantity), 'USD'),
  quoteForPaidGrade: null,
});

const reconcile = (loads: ReconciledLoad[], lines: ReconciledLine[]) =>
  reconcileTicket({
    currency: 'USD',
    unit: 'lb',
    loads,
    lines,
    chargesMinor: NO_MONEY,
    taxMinor: NO_MONEY,
    cashRoundingMinor: NO_MONEY,
    totalMinor: amountMinor(lines.reduce((sum, line) => sum + line.amountMinor, 0)),
  });

function groupOf(example: Example, deducted = 0): ReconciliationGroup {
  const loads = [loadOf(1, example.standardQuantity, example.standardPrice)];
  const [group] = reconcile(loads, [lineOf(1, example.actualQuantity, example.actualPrice, deducted)]).groups;
  if (group === undefined) throw new Error('no group');
  return group;
}

function expectVariances(example: Example, price: number, quantity: number): void {
  // The quantity lost by the scales alone, then with 25 lb more on the yard's scale and taken off again.
  for (const deducted of [0, 25]) {
    const group = groupOf(example, deducted);
    expect(group.priceMinor).toBe(dollars(price));
    expect(group.scaleMinor + group.deductionMinor).toBe(dollars(quantity));
    expect(group.paidMinor - group.expectedMinor).toBe(dollars(price) + dollars(quantity));
    expect([group.gradeMinor, group.roundingMinor, group.arithmeticMinor]).toEqual([0, 0, 0]);
  }
}

describe('materials and labour: price and quantity variance', () => {
  test.each(published.materials)('$name', (row) => {
    const actualPrice = new Decimal(row.actual_price ?? new Decimal(row.actual_cost ?? 0).div(row.actual_qty));
    // The price-only example has no standard quantity; with the actual one, all of its variance is price.
    const standardQuantity = row.standard_qty ?? row.actual_qty;
    const example = {
      standardQuantity,
      standardPrice: row.standard_price,
      actualQuantity: row.actual_qty,
      actualPrice,
    };
    expectVariances(example, row.price_variance, row.quantity_variance ?? 0);
    if (row.total !== undefined) {
      const group = groupOf(example);
      expect(group.paidMinor - group.expectedMinor).toBe(dollars(row.total));
    }
  });

  test('Barley, Inc., labour: rate and efficiency variance', () => {
    const labour = published.materials.find((row) => row.labour !== undefined)?.labour;
    if (labour === undefined) throw new Error('no labour example');
    const example = {
      standardQuantity: labour.standard_hours,
      standardPrice: labour.standard_rate,
      actualQuantity: labour.hours,
      actualPrice: new Decimal(labour.cost).div(labour.hours),
    };
    expectVariances(example, labour.rate_variance, labour.efficiency_variance);
  });
});

describe('sales: price and volume variance', () => {
  test.each(salesOfOne)('$name', (row) => {
    const example = {
      standardQuantity: row.budget_units,
      standardPrice: row.budget_price ?? new Decimal(row.budget_sales ?? 0).div(row.budget_units).toNumber(),
      actualQuantity: row.actual_units,
      actualPrice: new Decimal(row.actual_price ?? new Decimal(row.actual_sales ?? 0).div(row.actual_units)),
    };
    expectVariances(example, row.price_variance, row.volume_variance);
    const group = groupOf(example);
    expect(group.paidMinor - group.expectedMinor).toBe(dollars(row.total));
  });

  const loads = [loadOf(1, ...mix.budget.A), loadOf(2, ...mix.budget.B)];
  const lines = [
    lineOf(1, mix.actual.A[0], new Decimal(mix.actual.A[1])),
    lineOf(2, mix.actual.B[0], new Decimal(mix.actual.B[1])),
  ];

  test('two products on one ticket: price and volume of each, and their sums', () => {
    const { groups, sums } = reconcile(loads, lines);
    expect(groups.map((group) => group.priceMinor)).toEqual([
      dollars(mix.price_variance.A),
      dollars(mix.price_variance.B),
    ]);
    expect(groups.map((group) => group.scaleMinor)).toEqual([
      dollars(mix.volume_variance.A),
      dollars(mix.volume_variance.B),
    ]);
    expect(sums.priceMinor).toBe(dollars(mix.price_variance.total));
    expect(sums.scaleMinor).toBe(dollars(mix.volume_variance.total));
  });

  test('two products in one group: the mix variance is our grade effect, and the quantity variance our scale', () => {
    const together = lines.map((line, index) => ({
      ...line,
      loadIds: [1, 2],
      quoteForPaidGrade: { price: new Decimal((index === 0 ? mix.budget.A : mix.budget.B)[1]), per: 'lb' as const },
    }));
    const [group] = reconcile(loads, together).groups;
    expect(group).toMatchObject({
      scaleMinor: 0,
      deductionMinor: 0,
      gradeMinor: dollars(mix.mix_variance.total),
      priceMinor: dollars(mix.price_variance.total),
      roundingMinor: 0,
    });
  });

  test('an actual total at the budgeted mix is our share of a group by home weight', () => {
    const { A, B } = mixShares.budget_units;
    const shared = [loadOf(1, A, 1), loadOf(2, B, 1)];
    const paid = { ...lineOf(1, mixShares.actual_total, new Decimal(1)), loadIds: [1, 2] };
    const [group] = reconcile(shared, [paid]).groups;
    const shares = group ? shareGroup(group, shared, 'USD') : [];
    expect(shares.map((share) => toWeight(share.paidUg, 'lb').amount.toString())).toEqual([
      String(mixShares.actual_total_at_budget_mix.A),
      String(mixShares.actual_total_at_budget_mix.B),
    ]);
  });
});

test('price and quantity variance add up to the total for any whole figures', () => {
  const quantity = fc.integer({ min: 1, max: 100_000 });
  const price = fc.integer({ min: 0, max: 1000 });
  fc.assert(
    fc.property(quantity, price, quantity, price, (standardQuantity, standardPrice, actualQuantity, actualPrice) => {
      const example = { standardQuantity, standardPrice, actualQuantity, actualPrice: new Decimal(actualPrice) };
      const quantityVariance = (actualQuantity - standardQuantity) * standardPrice;
      expectVariances(example, actualQuantity * (actualPrice - standardPrice), quantityVariance);
    }),
  );
});

test('nothing budgeted divides by nothing: the money is not on the manifest', () => {
  const ticket = reconcile([], [{ ...lineOf(1, 10, new Decimal(2)), loadIds: [] }]);
  expect(ticket.notOnManifest.amountMinor).toBe(2000);
  expect(ticket.sums.expectedMinor).toBe(0);
});
