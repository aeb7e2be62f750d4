import { describe, expect, test } from 'vitest';
import { answerOf } from '../../server/earnings/answer.ts';
import { minutesEdge, priceEdges } from '../../server/earnings/break-even.ts';
import { belowWage, earningsByKind } from '../../server/earnings/by-kind.ts';
import { type EarningItem, type GradePrice, type GradePrices, itemEarnings } from '../../server/earnings/compute.ts';
import { learnFrom, likelyMoney, type Teardown } from '../../server/earnings/learned.ts';
import { median, pastSalesOf } from '../../server/earnings/past-sales.ts';
import {
  asIsOption,
  discardOption,
  learnedOption,
  type Option,
  optionPerHour,
  rankOptions,
  ruleOption,
  wholeOption,
} from '../../server/earnings/worth.ts';
import type { Holding } from '../../server/layers/queries.ts';
import { amountMinor, NO_MONEY } from '../../server/money/money.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { NO_MASS } from '../../server/units/mass.ts';
import { lb } from '../helper.ts';

const COPPER = 1;
const MOTORS = 2;
const STEEL = 3;
const CORD = 4;

const priceOf = (gradeId: number, price: string | Decimal, realisation: string | null = null): GradePrice => ({
  gradeId,
  gradeName: `grade ${gradeId}`,
  price: new Decimal(price),
  per: 'lb',
  yardName: 'Demo Yard North',
  seenOn: day('2025-03-15'),
  realisation: realisation === null ? null : new Decimal(realisation),
});
const pricesOf = (...prices: GradePrice[]): GradePrices => new Map(prices.map((price) => [price.gradeId, price]));

const anItem = (more: Partial<EarningItem> = {}): EarningItem => ({
  id: 1,
  kindId: 1,
  kindName: 'box fan',
  name: '',
  status: 'taken apart',
  depth: 'fine',
  closedOn: day('2025-03-02'),
  weightUg: lb('10'),
  costMinor: NO_MONEY,
  disposalMinor: NO_MONEY,
  seconds: 0,
  isRunning: false,
  reuseMinor: NO_MONEY,
  reuseSales: 0,
  partsKept: 0,
  ...more,
});
const held = (gradeId: number, more: Partial<Holding>): Holding => ({
  item_id: 1,
  grade_id: gradeId,
  grade_name: `grade ${gradeId}`,
  weighed_ug: NO_MASS,
  in_bins_ug: NO_MASS,
  loaded_ug: NO_MASS,
  sold_ug: NO_MASS,
  earned_minor: NO_MONEY,
  ...more,
});

describe('what an item earned', () => {
  const prices = pricesOf(priceOf(COPPER, '4.00', '0.9'), priceOf(STEEL, '0.10'));

  test('is what was sold, what is still there as an estimate, less its costs, for its hours', () => {
    const item = anItem({
      seconds: 5400,
      costMinor: amountMinor(200),
      disposalMinor: amountMinor(50),
      reuseMinor: amountMinor(1000),
      reuseSales: 1,
    });
    const earnings = itemEarnings(
      item,
      [
        held(COPPER, { sold_ug: lb('2'), earned_minor: amountMinor(640), in_bins_ug: lb('1'), loaded_ug: lb('0.5') }),
        held(STEEL, { in_bins_ug: lb('3') }),
      ],
      prices,
      'USD',
    );
    // By hand: 1.5 lb × 4.00 × 0.9 = 5.40, and 3 lb × 0.10 = 0.30, as nothing of the steel was realised yet.
    expect(earnings.soldMinor).toBe(1640);
    expect(earnings.grades.map(({ restMinor }) => restMinor)).toEqual([540, 30]);
    expect(earnings.restMinor).toBe(570);
    expect(earnings.moneyMinor).toBe(1640 + 570 - 250);
    // 19.60 in an hour and a half.
    expect(earnings.perHour?.toFixed(4)).toBe('13.0667');
    expect(earnings.isFullySold).toBe(false);
  });

  test('values what no yard quotes at nothing and says how much that is', () => {
    const earnings = itemEarnings(anItem(), [held(CORD, { in_bins_ug: lb('3') })], prices, 'USD');
    expect(earnings.grades[0]?.restMinor).toBeNull();
    expect(earnings).toMatchObject({ restMinor: 0, unquotedUg: lb('3'), perHour: null });
  });

  test('is complete when nothing is in bins or loaded, and never while the item waits', () => {
    const sold = [held(COPPER, { sold_ug: lb('2'), earned_minor: amountMinor(640) })];
    expect(itemEarnings(anItem(), sold, prices, 'USD').isFullySold).toBe(true);
    expect(itemEarnings(anItem({ status: 'waiting' }), sold, prices, 'USD').isFullySold).toBe(false);
  });
});

describe('what a kind earned', () => {
  const earned = (dollars: number, minutes: number, more: Partial<EarningItem> = {}) =>
    itemEarnings(
      anItem({ seconds: minutes * 60, reuseMinor: amountMinor(Math.round(dollars * 100)), ...more }),
      [],
      new Map(),
      'USD',
    );

  test('for an hour is all money over all hours, and items without minutes are counted apart', () => {
    const [row] = earningsByKind([earned(10, 60), earned(2, 30), earned(6, 0)], 'USD');
    expect(row).toMatchObject({ items: 3, timed: 2, moneyMinor: 1800, low: null, noInterval: 'few' });
    expect(row?.perHour?.toFixed()).toBe('8');
    expect(row?.moneyEach.toFixed()).toBe('6');
    expect(row?.minutesEach?.toFixed()).toBe('45');
  });

  test('has the interval of the ratio estimator', () => {
    // Source: Scheaffer, Mendenhall and Ott, Elementary Survey Sampling, Exercise 6.1 (references, item 6): r 21.19403,
    // standard error 0.684025 with the mean of the sample and without correction for a finite population; t with 11
    // degrees of freedom is 2.200985 (table value). Basal areas taken for hours, volumes for dollars.
    const hours = [0.3, 0.5, 0.4, 0.9, 0.7, 0.2, 0.6, 0.5, 0.8, 0.4, 0.8, 0.6];
    const dollars = [6, 9, 7, 19, 15, 5, 12, 9, 20, 9, 18, 13];
    const items = hours.map((hour, index) => earned(dollars[index] ?? 0, hour * 60));
    const [row] = earningsByKind(items, 'USD');
    expect(row?.perHour?.toFixed(5)).toBe('21.19403');
    expect(row?.low?.toNumber()).toBeCloseTo(21.19403 - 2.200985 * 0.684025, 4);
    expect(row?.high?.toNumber()).toBeCloseTo(21.19403 + 2.200985 * 0.684025, 4);
  });

  test('stands best per hour first; those below the wage as a whole are named, others not', () => {
    const fans = { kindId: 1, kindName: 'fan' };
    const lamps = { kindId: 2, kindName: 'lamp' };
    const clocks = { kindId: 3, kindName: 'clock' };
    const rows = earningsByKind(
      [
        ...[earned(2, 60, fans), earned(2.2, 60, fans), earned(1.8, 60, fans)],
        ...[earned(30, 60, lamps), earned(2, 60, lamps), earned(1, 60, lamps)],
        earned(1, 0, clocks),
      ],
      'USD',
    );
    expect(rows.map(({ kindName }) => kindName)).toEqual(['lamp', 'fan', 'clock']);
    expect(belowWage(rows, new Decimal(12)).map(({ kindName }) => kindName)).toEqual(['fan']);
    expect(belowWage(rows, null)).toEqual([]);
  });
});

const torn = (weight: string, outputs: readonly (readonly [number, string])[], minutes = 0): Teardown => ({
  weightUg: lb(weight),
  seconds: minutes * 60,
  outputs: new Map(outputs.map(([gradeId, mass]) => [gradeId, lb(mass)])),
  partsUg: NO_MASS,
});

describe('what past teardowns teach', () => {
  test('is a ratio of sums: a teardown without a grade counts as none of it', () => {
    const learned = learnFrom([
      torn('10', [
        [COPPER, '1'],
        [STEEL, '6'],
      ]),
      torn('30', [[STEEL, '18']], 60),
    ]);
    expect(learned?.yields.map(({ gradeId, estimate }) => [gradeId, estimate.ratio])).toEqual([
      [STEEL, 0.6],
      [COPPER, expect.closeTo(0.025, 9)],
    ]);
    expect(learned?.yields[0]?.estimate.interval).toBeNull();
    expect(learned?.wasteShare).toBeCloseTo(0.375, 9);
    expect(learned).toMatchObject({ count: 2, timed: 1, isTooMuch: false, meanMinutes: 60 });
  });

  test('is nothing without any, and says when more came out than went in', () => {
    expect(learnFrom([])).toBeNull();
    const learned = learnFrom([torn('10', [[COPPER, '11']])]);
    expect(learned).toMatchObject({ isTooMuch: true, wasteShare: 0 });
  });

  test('the money of a teardown spreads as the past ones would at today’s prices', () => {
    const past = [torn('10', [[COPPER, '1']], 30), torn('10', [[COPPER, '2']], 30), torn('10', [[COPPER, '3']], 30)];
    const likely = likelyMoney(past, pricesOf(priceOf(COPPER, '4.00')), 0);
    const option = learnedOption(
      { weightUg: lb('10'), prices: pricesOf(priceOf(COPPER, '4.00')), waste: null },
      'fine',
      past,
    );
    // By hand: 4, 8 and 12 dollars, mean 8, s = 4, se = 4 / √3; t with 2 degrees of freedom 4.302653 (table value).
    expect(option.money?.toNumber()).toBeCloseTo(8, 6);
    expect(option.range?.low).toBeCloseTo(8 - (4.302653 * 4) / Math.sqrt(3), 4);
    expect(option.range?.high).toBeCloseTo(8 + (4.302653 * 4) / Math.sqrt(3), 4);
    expect(likely?.perHour?.high).toBeCloseTo(2 * (option.range?.high ?? 0), 6);
  });
});

describe('options', () => {
  const thing = { weightUg: lb('10'), prices: pricesOf(priceOf(COPPER, '4.00'), priceOf(STEEL, '0.10')), waste: null };

  test('selling whole is price times chance less fees and postage', () => {
    const [price, chance, fees, postage] = ['40', '0.5', '3', '5'].map((text) => new Decimal(text)) as [
      Decimal,
      Decimal,
      Decimal,
      Decimal,
    ];
    const option = wholeOption({ price, chance, fees, postage, minutes: new Decimal(40) });
    expect(option.money?.toFixed()).toBe('12');
    expect(optionPerHour(option)?.toFixed()).toBe('18');
  });

  test('waste costs what a weight of it costs, and a grade without a quote counts as nothing', () => {
    const past = [
      torn('10', [
        [COPPER, '1'],
        [CORD, '2'],
      ]),
    ];
    const option = learnedOption({ ...thing, waste: { price: new Decimal('0.2'), per: 'lb' } }, 'fine', past);
    expect(option.money?.toFixed(6)).toBe('2.600000');
    expect(option.wasteMoney.toFixed(6)).toBe('1.400000');
    expect(option.parts.find(({ gradeId }) => gradeId === CORD)?.money).toBeNull();
    expect(option).toMatchObject({ minutes: null, range: null, noInterval: 'few' });
  });

  test('without a quote, a grade, a history or a rule there is no money, and the reason', () => {
    expect(asIsOption(thing, null, new Decimal(0))).toMatchObject({ money: null, missing: 'no grade' });
    expect(asIsOption(thing, CORD, new Decimal(0))).toMatchObject({ money: null, missing: 'no quote' });
    expect(learnedOption(thing, 'fine', [])).toMatchObject({ money: null, missing: 'no history' });
    expect(learnedOption(thing, 'fine', [torn('10', [[CORD, '2']])])).toMatchObject({ missing: 'no quote' });
    expect(ruleOption(thing, { yields: [], minutes: null })).toMatchObject({ missing: 'no history' });
  });

  test('what only throws away is no comparison', () => {
    const answer = answerOf([discardOption(new Decimal(2), new Decimal(0))], null);
    expect(answer).toMatchObject({ best: null, edges: null });
  });

  test('with a wage, what takes an unknown time is not compared', () => {
    const option = learnedOption(thing, 'fine', [torn('10', [[COPPER, '1']])]);
    expect(rankOptions([option], new Decimal(10))).toEqual([]);
    expect(rankOptions([option], null)).toHaveLength(1);
  });
});

describe('past sales', () => {
  const sale = (dollars: number, listedOn: string | null, seconds = 0) => ({
    price_minor: amountMinor(dollars * 100),
    fees_minor: amountMinor(100),
    postage_minor: NO_MONEY,
    listed_on: listedOn === null ? null : day(listedOn),
    sold_on: day('2025-03-10'),
    seconds,
  });

  test('speak by their medians', () => {
    const past = pastSalesOf([sale(10, '2025-03-01'), sale(20, '2025-03-07', 600), sale(900, null)], 12);
    expect(past).toEqual({
      count: 3,
      price: 2000,
      fees: 100,
      postage: 0,
      net: 1900,
      days: 6,
      minutes: 10,
      percentSold: 25,
      closed: 12,
    });
    expect(pastSalesOf([], 3)).toBeNull();
    expect(median([])).toBeNull();
    expect(median([4, 1])).toBe(2.5);
  });
});

// Common practice, no published source: a motor sold as is brings about 2 to 4 % of the No. 2 copper price for its
// weight, and about a tenth of its weight is copper; about half of small motors turn out to be wound in aluminium.
describe('a small motor of 5 lb, taken apart in 25 minutes', () => {
  const copperPrice = new Decimal('3.60');
  const wound = (copper: string) => [COPPER, copper] as const;
  const inCopper = Array.from({ length: 10 }, () => torn('5', [wound('0.5')], 25));
  const inEither = Array.from({ length: 10 }, (_, index) => torn('5', index % 2 === 0 ? [wound('0.5')] : [], 25));
  const answerFor = (past: readonly Teardown[], asIsShare: string, wage: string) => {
    const prices = pricesOf(priceOf(COPPER, copperPrice), priceOf(MOTORS, copperPrice.times(asIsShare)));
    const thing = { weightUg: lb('5'), prices, waste: null };
    const options = [asIsOption(thing, MOTORS, new Decimal(0)), learnedOption(thing, 'fine', past)];
    return answerOf(options, new Decimal(wage));
  };

  test('expects a twentieth of copper where half of them are wound in aluminium', () => {
    const learned = learnFrom(inEither);
    expect(learned?.yields[0]?.estimate.ratio).toBeCloseTo(0.05, 9);
    expect(learned?.yields[0]?.estimate.interval?.low).toBeLessThan(0.05);
  });

  test.each(['0.02', '0.03', '0.04'])(
    'as is at %s of copper: not worth unwinding while the winding is unknown',
    (share) => {
      const answer = answerFor(inEither, share, '3');
      expect(answer.best?.option.key).toBe('as is');
      expect(answer.edges).toMatchObject({ isBest: false });
      // It would have to be done in fewer minutes than it takes, or copper would have to be dearer.
      expect(answer.edges?.minutes?.at.lt(25)).toBe(true);
      expect(answer.edges?.price?.above?.at.gt(copperPrice)).toBe(true);
      // At a wage that anybody would call one, neither is it worth it with copper.
      expect(answerFor(inCopper, share, '15').best?.option.key).toBe('as is');
    },
  );

  test('as is at 0.02 of copper: once it is known to be copper, its work brings more than twice as much', () => {
    const extra = (past: readonly Teardown[]) => answerFor(past, '0.02', '3').edges?.extra?.perHour.toNumber() ?? 0;
    expect(extra(inEither)).toBeCloseTo((0.9 - 0.36) * (60 / 25), 6);
    expect(extra(inCopper)).toBeCloseTo((1.8 - 0.36) * (60 / 25), 6);
    expect(answerFor(inCopper, '0.02', '3').best?.option.key).toBe('fine');
  });
});

// Common practice, no published source: per weight, appliance cord brings about 0.29, single-insulated wire about 0.50 and
// yellow brass about 0.67 of the No. 2 copper price; cord is about 40 % copper, single-insulated wire about 60 %.
describe('insulated wire and brass, by the pound', () => {
  const answerFor = (asIs: string, copper: string, wage: string | null = null, minutes = 10) => {
    const thing = {
      weightUg: lb('1'),
      prices: pricesOf(priceOf(COPPER, '3.60'), priceOf(CORD, new Decimal('3.60').times(asIs))),
      waste: null,
    };
    const past = Array.from({ length: 3 }, () => torn('1', [[COPPER, copper]], minutes));
    const options = [asIsOption(thing, CORD, new Decimal(0)), learnedOption(thing, 'fine', past)];
    return answerOf(options, wage === null ? null : new Decimal(wage));
  };

  test.each([
    ['cord', '0.29', '0.4', 'fine'],
    ['single-insulated wire', '0.5', '0.6', 'fine'],
    ['cord with a quarter of copper', '0.29', '0.25', 'as is'],
    // From memory: yellow brass is nearly two thirds copper, so not even its copper alone is worth what the brass is.
    ['yellow brass', '0.67', '0.65', 'as is'],
  ])('%s: by money alone', (_, asIs, copper, best) => {
    expect(answerFor(asIs, copper).best?.option.key).toBe(best);
  });

  test('cord pays while copper is above its own price by the copper in it, and below a few minutes', () => {
    const answer = answerFor('0.29', '0.4', '12');
    expect(answer.best?.option.key).toBe('as is');
    // 0.29 × 3.60 / 0.4 and the ten minutes at 12.00; by minutes (1.44 − 1.044) / 12.
    expect(answer.edges?.price?.above?.at.toNumber()).toBeCloseTo((1.044 + 2) / 0.4, 6);
    expect(answer.edges?.minutes?.at.toNumber()).toBeCloseTo(1.98, 6);
    expect(answerFor('0.29', '0.4').edges?.price?.above?.at.toNumber()).toBeCloseTo(2.61, 6);
    expect(answerFor('0.29', '0.4', '12', 1.5).best?.option.key).toBe('fine');
  });
});

describe('break-evens', () => {
  const fixed = (key: Option['key'], money: string, minutes: string | null): Option => ({
    ...discardOption(new Decimal(money).negated(), new Decimal(minutes ?? '0')),
    key,
    minutes: minutes === null ? null : new Decimal(minutes),
  });

  test('without a wage the minutes are those at which the next best brings as much for an hour', () => {
    const ranked = rankOptions([fixed('fine', '20', '60'), fixed('whole', '10', '20')], null);
    const [own] = ranked;
    expect(own && minutesEdge(own, ranked, null)).toMatchObject({ at: new Decimal(40), by: 'per hour' });
    const bare = rankOptions([fixed('fine', '20', '60'), fixed('as is', '10', '0')], null);
    expect(bare[0] && minutesEdge(bare[0], bare, null)).toBeNull();
  });

  test('no price makes it the best where another is better at every price', () => {
    const ranked = rankOptions([fixed('fine', '5', '0'), fixed('whole', '10', '0')], null);
    const own = ranked[1];
    expect(own && priceEdges(own, ranked, priceOf(COPPER, '3.60'))).toBeNull();
  });
});
