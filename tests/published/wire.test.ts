import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { areaMm2, COPPER_DENSITY, copperIn, diameterMm, type Stranding } from '../../server/bench/conductor.ts';
import { breakEvenRecovery, gainPerWeight, type StripTerms, stripOrSell } from '../../server/bench/strip-or-sell.ts';
import { Decimal } from '../../server/units/decimal.ts';

// Sources stand in copper-wire.json: a gauge table of an open textbook, and the largest resistances of IEC 60228.

interface Published {
  gauges: [gauge: number, diameterIn: number, lbPer1000ft: number | null][];
  iec60228: { sizes: [nominalMm2: number, metalClass1: number, metalClass5: number][] };
}
const published: Published = JSON.parse(readFileSync(new URL('copper-wire.json', import.meta.url), 'utf8'));

const MM_PER_IN = 25.4;
const GRAMS_PER_LB = 453.59237;

describe.each(published.gauges)('%s AWG', (gauge, diameterIn, lbPer1000ft) => {
  test('has the diameter of the table to 0.0001 in', () => {
    expect(Math.abs(diameterMm(gauge) / MM_PER_IN - diameterIn)).toBeLessThan(0.0001);
  });

  test.skipIf(lbPer1000ft === null)('weighs what the table says within 0.5 %', () => {
    const size = { unit: 'AWG', gauge } as const;
    const piece = { size, stranding: 'solid', conductors: 1, length: new Decimal(1000), lengthUnit: 'ft' } as const;
    const pounds = copperIn(piece).grams / GRAMS_PER_LB;
    expect(Math.abs(pounds / (lbPer1000ft ?? 0) - 1)).toBeLessThan(0.005);
  });
});

// ASTM B258 (looked up): the two sizes that the formula is defined by, 39 steps apart.
test('36 AWG is 0.0050 in and 4/0 is 0.4600 in', () => {
  expect(diameterMm(36) / MM_PER_IN).toBeCloseTo(0.005, 12);
  expect(diameterMm(-3) / MM_PER_IN).toBeCloseTo(0.46, 12);
  expect(diameterMm(13) / diameterMm(14)).toBeCloseTo(1.1229322, 7);
});

// By calculation from the table's formula: 2 × 12.43 lb per 1000 ft.
test('100 ft of two-wire 14 AWG hold 2.486 lb of copper, stranded 2 % more (ASTM B496)', () => {
  const size = { unit: 'AWG', gauge: 14 } as const;
  const pounds = (stranding: Stranding) =>
    copperIn({ size, stranding, conductors: 2, length: new Decimal(100), lengthUnit: 'ft' }).grams / GRAMS_PER_LB;
  expect(pounds('solid')).toBeCloseTo(2.486, 3);
  expect(pounds('stranded') / pounds('solid')).toBeCloseTo(1.02, 12);
});

test('the standard’s copper has 8.89 g/cm³ (IACS, NBS Handbook 100, ASTM B496)', () => {
  expect(COPPER_DENSITY).toBe(8.89);
});

// A size in mm² is a resistance: the least metal that IEC 60228 asks for lies within the range that is given.
test.each(published.iec60228.sizes)(
  '%s mm² may hold as little as %s mm² solid and %s mm² flexible',
  (nominal, one, five) => {
    const size = { unit: 'mm²', areaMm2: nominal } as const;
    const areaBy = (stranding: Stranding) => {
      const { lowGrams, highGrams } = copperIn({
        size,
        stranding,
        conductors: 1,
        length: new Decimal(1),
        lengthUnit: 'm',
      });
      return { low: lowGrams / COPPER_DENSITY, high: highGrams / COPPER_DENSITY };
    };
    expect(areaMm2(size)).toBe(nominal);
    for (const [stranding, least] of [
      ['solid', one],
      ['fine strands', five],
    ] as const) {
      const { low, high } = areaBy(stranding);
      expect(high).toBeCloseTo(nominal, 9);
      expect(low).toBeLessThanOrEqual(least);
    }
  },
);

// Common practice, no published source: per weight, appliance cord brings about 0.29 of the No. 2 copper price and is
// about 40 % copper, single-insulated wire brings about 0.50 and is about 60 %. Typed in as inputs.
describe.each([
  ['appliance cord', '0.29', '0.40'],
  ['single-insulated wire', '0.50', '0.60'],
])('%s at %s of the copper price with a recovery of %s', (_what, insulated, share) => {
  const terms: StripTerms = {
    bare: new Decimal(1),
    insulated: new Decimal(insulated),
    waste: new Decimal(0),
    labour: new Decimal(0),
  };
  const recovery = { ratio: new Decimal(share), range: null };

  test('is worth stripping before one’s own time is counted', () => {
    const verdict = stripOrSell(recovery, terms, null);
    expect([verdict.advice, verdict.gain.toString()]).toEqual([
      'strip',
      new Decimal(share).minus(insulated).toString(),
    ]);
    expect(verdict.breakEvenRecovery?.toString()).toBe(new Decimal(insulated).toString());
  });

  test('is not once an hour costs more than it brings', () => {
    const perHour = new Decimal(5);
    const gainPerHour = gainPerWeight(recovery.ratio, terms).times(perHour);
    const at = (wage: Decimal) => stripOrSell(recovery, { ...terms, labour: wage.div(perHour) }, perHour).advice;
    expect([at(gainPerHour.times('0.9')), at(gainPerHour), at(gainPerHour.times('1.1'))]).toEqual([
      'strip',
      'even',
      'sell',
    ]);
  });

  test('is not with a recovery below what it is paid', () => {
    expect(gainPerWeight(new Decimal(insulated).minus('0.01'), terms).isNegative()).toBe(true);
    expect(breakEvenRecovery({ ...terms, waste: new Decimal('0.05') })?.gt(insulated)).toBe(true);
  });
});
