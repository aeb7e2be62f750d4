import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { answerOf } from '../../server/earnings/answer.ts';
import { minutesEdge, priceEdges } from '../../server/earnings/break-even.ts';
import type { GradePrice, GradePrices } from '../../server/earnings/compute.ts';
import { learnFrom, type Teardown } from '../../server/earnings/learned.ts';
import {
  asIsOption,
  discardOption,
  learnedOption,
  type Option,
  rankOptions,
  type Thing,
  wholeOption,
} from '../../server/earnings/worth.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { type MassUg, type MassUnit, massUg } from '../../server/units/mass.ts';

const GRADES = [1, 2, 3];
const POUND_UG = 453_592_370;

/** A teardown that gave no more than the item weighed. */
const teardown = fc
  .record({
    weight: fc.integer({ min: 1, max: 500 }),
    shares: fc.array(fc.integer({ min: 0, max: 100 }), { minLength: 4, maxLength: 4 }),
    minutes: fc.integer({ min: 0, max: 240 }),
  })
  .map(({ weight, shares, minutes }): Teardown => {
    const weightUg = massUg(weight * POUND_UG);
    const all = Math.max(
      1,
      shares.reduce((sum, one) => sum + one, 0),
    );
    const part = (share: number): MassUg => massUg(Math.floor((weightUg * share) / all));
    const outputs = new Map(GRADES.map((gradeId, index) => [gradeId, part(shares[index] ?? 0)]));
    return { weightUg, seconds: minutes * 60, outputs, partsUg: massUg(0) };
  });
const teardowns = fc.array(teardown, { minLength: 1, maxLength: 8 });

const price = (gradeId: number) =>
  fc
    .record({
      cents: fc.integer({ min: 1, max: 5000 }),
      per: fc.constantFrom<MassUnit>('lb', 'kg', 'net ton'),
      realised: fc.option(fc.integer({ min: 50, max: 110 })),
    })
    .map(
      ({ cents, per, realised }): GradePrice => ({
        gradeId,
        gradeName: `grade ${gradeId}`,
        price: new Decimal(cents).div(100),
        per,
        yardName: '',
        seenOn: day('2025-03-15'),
        realisation: realised === null ? null : new Decimal(realised).div(100),
      }),
    );
const prices = fc
  .tuple(price(1), price(2), price(3))
  .map((all): GradePrices => new Map(all.map((one) => [one.gradeId, one])));

const question = fc.record({
  weight: fc.integer({ min: 1, max: 300 }),
  prices,
  coarse: teardowns,
  fine: teardowns,
  asIs: fc.constantFrom(...GRADES),
  whole: fc.integer({ min: 0, max: 20_000 }),
  waste: fc.option(fc.integer({ min: 0, max: 100 })),
  wage: fc.option(fc.integer({ min: 1, max: 60 })),
});
type Question = typeof question extends fc.Arbitrary<infer T> ? T : never;

function optionsOf(asked: Question, at: GradePrices = asked.prices): Option[] {
  const waste = asked.waste === null ? null : { price: new Decimal(asked.waste).div(100), per: 'lb' as const };
  const thing: Thing = { weightUg: massUg(asked.weight * POUND_UG), prices: at, waste };
  const [chance, none] = [new Decimal('0.5'), new Decimal(0)];
  return [
    wholeOption({
      price: new Decimal(asked.whole).div(100),
      chance,
      fees: none,
      postage: none,
      minutes: new Decimal(30),
    }),
    asIsOption(thing, asked.asIs, none),
    learnedOption(thing, 'coarse', asked.coarse),
    learnedOption(thing, 'fine', asked.fine),
    discardOption(new Decimal(1), none),
  ];
}

const wageOf = ({ wage }: Question) => (wage === null ? null : new Decimal(wage));
const withPrice = (at: GradePrices, gradeId: number, to: Decimal): GradePrices =>
  new Map([...at].map(([id, one]) => [id, id === gradeId ? { ...one, price: to } : one]));

describe('recovery', () => {
  test('lies between nothing and all of the weight, and what is not recovered is waste', () => {
    fc.assert(
      fc.property(teardowns, (past) => {
        const learned = learnFrom(past);
        const shares = learned?.yields.map(({ estimate }) => estimate.ratio) ?? [];
        const sum = shares.reduce((total, one) => total + one, 0);
        for (const one of shares) expect(one > 0 && one <= 1 + 1e-9).toBe(true);
        expect(sum + (learned?.wasteShare ?? 0)).toBeCloseTo(1, 6);
        expect(learned?.isTooMuch).toBe(false);
      }),
    );
  });
});

describe('money', () => {
  test('of an option is a straight line in every price', () => {
    fc.assert(
      fc.property(question, fc.constantFrom(...GRADES), (asked, gradeId) => {
        const moneyAt = (to: number) =>
          optionsOf(asked, withPrice(asked.prices, gradeId, new Decimal(to))).map(
            ({ money }) => money ?? new Decimal(0),
          );
        const [none, two, six] = [moneyAt(0), moneyAt(2), moneyAt(6)];
        none.forEach((at, index) => {
          const [first, second] = [two[index]?.minus(at), six[index]?.minus(at)];
          expect(
            second
              ?.minus(first?.times(3) ?? 0)
              .abs()
              .lt('1e-20'),
          ).toBe(true);
        });
      }),
    );
  });

  test('of the range surrounds the money', () => {
    fc.assert(
      fc.property(question, (asked) => {
        for (const { range, money } of optionsOf(asked)) {
          if (range === null || money === null) continue;
          expect(range.low).toBeLessThanOrEqual(money.toNumber() + 0.01);
          expect(range.high).toBeGreaterThanOrEqual(money.toNumber() - 0.01);
        }
      }),
    );
  });
});

describe('break-evens', () => {
  test('at the quote that is named the two options are level, and the named one is the best of the others', () => {
    let seen = 0;
    fc.assert(
      fc.property(question, fc.constantFrom(...GRADES), fc.nat({ max: 4 }), (asked, gradeId, place) => {
        const wage = wageOf(asked);
        const ranked = rankOptions(optionsOf(asked), wage);
        const own = ranked[place];
        const grade = asked.prices.get(gradeId);
        if (own === undefined || grade === undefined) return;
        const edges = priceEdges(own, ranked, grade);
        for (const edge of [edges?.above, edges?.below]) {
          if (!edge) continue;
          seen += 1;
          const there = rankOptions(optionsOf(asked, withPrice(asked.prices, gradeId, edge.at)), wage);
          const value = (key: string) => there.find(({ option }) => option.key === key)?.value ?? new Decimal(NaN);
          expect(value(own.option.key).minus(value(edge.with)).abs().lt('1e-9')).toBe(true);
          // Nothing else is better there, so it is the very edge.
          expect(there[0]?.value.minus(value(own.option.key)).lt('1e-9')).toBe(true);
        }
      }),
      { numRuns: 400 },
    );
    expect(seen).toBeGreaterThan(50);
  });

  test('the best option stays the best between the two quotes, and where there is none it never is', () => {
    fc.assert(
      fc.property(question, fc.constantFrom(...GRADES), (asked, gradeId) => {
        const wage = wageOf(asked);
        const ranked = rankOptions(optionsOf(asked), wage);
        const grade = asked.prices.get(gradeId) as GradePrice;
        for (const own of ranked) {
          const edges = priceEdges(own, ranked, grade);
          const isBest = ranked[0] !== undefined && own.value.gte(ranked[0].value);
          const lies =
            edges !== null && (edges.above?.at.lte(grade.price) ?? true) && (edges.below?.at.gte(grade.price) ?? true);
          // Level with another one, either may be called the best.
          if (ranked.filter(({ value }) => value.eq(own.value)).length === 1) expect(lies).toBe(isBest);
        }
      }),
    );
  });

  test('in the minutes that are named, an option is level with the best of the others', () => {
    fc.assert(
      fc.property(question, fc.integer({ min: 1, max: 60 }), (asked, hourly) => {
        const wage = new Decimal(hourly);
        const ranked = rankOptions(optionsOf(asked), wage);
        for (const own of ranked) {
          const edge = minutesEdge(own, ranked, wage);
          if (edge === null) continue;
          const others = ranked.filter((one) => one !== own);
          const value = (own.option.money as Decimal).minus(wage.times(edge.at).div(60));
          expect(
            value
              .minus(others[0]?.value ?? 0)
              .abs()
              .lt('1e-9'),
          ).toBe(true);
        }
      }),
    );
  });

  test('the lead is what the best is worth more than the next', () => {
    fc.assert(
      fc.property(question, (asked) => {
        const { best, next, lead } = answerOf(optionsOf(asked), wageOf(asked));
        if (best === null || next === null) return;
        expect(lead?.isNegative()).toBe(false);
        expect(lead?.eq(best.value.minus(next.value))).toBe(true);
      }),
    );
  });
});
