import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { amountMinor, NO_MONEY, roundToMinor } from '../../server/money/money.ts';
import { splitWhole } from '../../server/money/split.ts';
import { type PriceUnit, type UnitPrice, valueOfMass } from '../../server/prices/compute.ts';
import {
  type ReconciledLine,
  type ReconciledLoad,
  type ReconciliationGroup,
  type ReconciliationInput,
  reconcileTicket,
} from '../../server/reconciliation/compute.ts';
import { shareCharges, shareGroup } from '../../server/reconciliation/shares.ts';
import { expectedAmount } from '../../server/tickets/compute.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';

/** Whole steps written with two decimals: 1234 is "12.34". */
const digits = (least: number, most: number) =>
  fc.integer({ min: least, max: most }).map((whole) => new Decimal(whole).div(100).toString());
// Pieces are rare, so that most groups of the random graphs are compared by weight.
const priceUnit = fc.oneof(
  { weight: 12, arbitrary: fc.constantFrom<PriceUnit>('lb', 'kg', 'net ton', 'cwt') },
  { weight: 1, arbitrary: fc.constant<PriceUnit>('each') },
);
const unitPrice = fc.record({ price: digits(0, 100_000), per: priceUnit });

const loadOf = (id: number): fc.Arbitrary<ReconciledLoad> =>
  fc
    .record({
      gradeId: fc.integer({ min: 1, max: 3 }),
      mass: fc.integer({ min: 1, max: 1_000_000_000_000 }),
      quote: fc.option(unitPrice, { freq: 6 }),
    })
    .map(({ gradeId, mass, quote }) => {
      const value = quote && valueOfMass(massUg(mass), { price: new Decimal(quote.price), per: quote.per });
      const expectedMinor = value ? roundToMinor(value, 'USD') : quote ? amountMinor(1234) : NO_MONEY;
      const [price, per] = [quote?.price ?? null, quote?.per ?? null];
      return { id, label: String.fromCharCode(64 + id), gradeId, massUg: massUg(mass), price, per, expectedMinor };
    });

const lineOf = (lineNo: number, loadCount: number): fc.Arbitrary<ReconciledLine> =>
  fc
    .record({
      gradeId: fc.integer({ min: 1, max: 3 }),
      loadIds: fc.subarray(Array.from({ length: loadCount }, (_, index) => index + 1)),
      gross: digits(1, 200_000),
      tare: digits(0, 10_000),
      deduction: digits(0, 10_000),
      net: digits(0, 200_000),
      unit: priceUnit,
      paid: unitPrice,
      slip: fc.oneof(fc.constant(0), fc.integer({ min: -500, max: 500 })),
      quote: fc.option(unitPrice),
    })
    .map(({ paid, slip, quote, ...printed }) => {
      const priced = { ...printed, ...paid };
      const right = expectedAmount(priced, 'USD') ?? amountMinor(777);
      const quoteForPaidGrade: UnitPrice | null = quote && { price: new Decimal(quote.price), per: quote.per };
      return { lineNo, description: '', ...priced, amountMinor: amountMinor(right + slip), quoteForPaidGrade };
    });

const minor = (least: number, most: number) => fc.integer({ min: least, max: most }).map(amountMinor);

const ticket: fc.Arbitrary<ReconciliationInput> = fc
  .record({ loadCount: fc.integer({ min: 0, max: 6 }), lineCount: fc.integer({ min: 0, max: 6 }) })
  .chain(({ loadCount, lineCount }) =>
    fc.record({
      currency: fc.constant('USD' as const),
      unit: fc.constant('lb' as const),
      loads: fc.tuple(...Array.from({ length: loadCount }, (_, index) => loadOf(index + 1))),
      lines: fc.tuple(...Array.from({ length: lineCount }, (_, index) => lineOf(index + 1, loadCount))),
      chargesMinor: minor(0, 10_000),
      taxMinor: minor(-1000, 1000),
      cashRoundingMinor: minor(-5, 5),
      totalMinor: minor(-100_000, 10_000_000),
    }),
  );

const add = (numbers: readonly number[]): number => numbers.reduce((a, b) => a + b, 0);
const explained = (group: ReconciliationGroup): number =>
  add([
    group.expectedMinor,
    group.scaleMinor,
    group.deductionMinor,
    group.gradeMinor,
    group.priceMinor,
    group.roundingMinor,
    group.arithmeticMinor,
  ]);

describe('any graph of loads and lines', () => {
  test('the effects of every group add up to what was paid', () => {
    fc.assert(
      fc.property(ticket, (input) => {
        for (const group of reconcileTicket(input).groups) {
          expect(explained(group)).toBe(group.paidMinor);
          const lines = input.lines.filter((line) => group.lineNos.includes(line.lineNo));
          expect(group.paidMinor).toBe(add(lines.map((line) => line.amountMinor)));
        }
      }),
    );
  });

  test('what is left for rounding is rounding: half a unit for each figure rounded', () => {
    fc.assert(
      fc.property(ticket, (input) => {
        const { groups } = reconcileTicket(input);
        for (const group of groups.filter((one) => one.isOnTicket && one.comparedByWeight)) {
          const rounded = group.loadIds.length + group.lineNos.length + 4;
          expect(Math.abs(group.roundingMinor)).toBeLessThanOrEqual(rounded / 2);
        }
      }),
    );
  });

  test('the steps of the ticket add up to its printed total', () => {
    fc.assert(
      fc.property(ticket, (input) => {
        const amounts = reconcileTicket(input).steps.map((step) => step.amountMinor);
        expect(add(amounts.slice(0, -1))).toBe(amounts.at(-1));
        expect(amounts.at(-1)).toBe(input.totalMinor);
        expect(amounts.some((amount) => Object.is(amount, -0))).toBe(false);
      }),
    );
  });

  test('the groups part the loads, and with the money not on the manifest the lines', () => {
    fc.assert(
      fc.property(ticket, (input) => {
        const { groups, notOnManifest } = reconcileTicket(input);
        const loadIds = groups.flatMap((group) => group.loadIds);
        expect(loadIds.toSorted((a, b) => a - b)).toEqual(input.loads.map((load) => load.id));
        const lineNos = [...groups.flatMap((group) => group.lineNos), ...notOnManifest.lineNos];
        expect(lineNos.toSorted((a, b) => a - b)).toEqual(input.lines.map((line) => line.lineNo));
        for (const line of input.lines) {
          const holders = groups.filter((group) => line.loadIds.some((id) => group.loadIds.includes(id)));
          expect(holders.length).toBe(line.loadIds.length > 0 ? 1 : 0);
        }
      }),
    );
  });

  test('the shares by grade and of the charges add up to the group and the ticket', () => {
    fc.assert(
      fc.property(ticket, (input) => {
        const { groups } = reconcileTicket(input);
        for (const group of groups) {
          const shares = shareGroup(group, input.loads, 'USD');
          expect(add(shares.map((share) => share.homeUg))).toBe(group.homeUg);
          expect(add(shares.map((share) => share.yardUg))).toBe(group.yardUg);
          expect(add(shares.map((share) => share.paidUg))).toBe(group.paidUg);
          expect(add(shares.map((share) => share.paidMinor))).toBe(group.paidMinor);
        }
        const charges = shareCharges(
          input.chargesMinor,
          groups.map((group) => group.paidMinor),
        );
        expect(add(charges)).toBe(groups.length > 0 ? input.chargesMinor : 0);
      }),
    );
  });
});

test('splitting conserves the total, and no share is more than one off its exact part', () => {
  const weights = fc.array(
    fc.integer({ min: 0, max: 1_000_000_000 }).map((weight) => new Decimal(weight).div(7)),
    { minLength: 1, maxLength: 12 },
  );
  fc.assert(
    fc.property(fc.maxSafeInteger(), weights, (total, shares) => {
      const parts = splitWhole(total, shares);
      // Added as decimals, because a running sum near the largest safe integer may pass it on the way.
      expect(parts.reduce((sum, part) => sum.plus(part), new Decimal(0)).eq(total)).toBe(true);
      const whole = shares.reduce((sum, share) => sum.plus(share), new Decimal(0));
      parts.forEach((part, index) => {
        const share = whole.isZero() ? new Decimal(1).div(shares.length) : (shares[index] ?? whole).div(whole);
        expect(share.times(total).minus(part).abs().lt('1.000001')).toBe(true);
      });
    }),
  );
});
