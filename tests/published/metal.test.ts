import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { densityOf, matchesOf, rangeOf, waterDensity } from '../../server/bench/density.ts';
import { metals } from '../../server/bench/metals.ts';
import { partingTests, unparted } from '../../server/bench/parting.ts';

// Sources stand in water-density.json and beside each metal.

interface Published {
  check: { celsius: number; kg_per_m3: number };
  tanaka: [celsius: number, kgPerM3: number][];
  crc53: [celsius: number, kgPerM3: number][];
}
const published: Published = JSON.parse(readFileSync(new URL('water-density.json', import.meta.url), 'utf8'));

const metal = (name: string) => {
  const found = metals.find((each) => each.name.includes(name));
  if (found === undefined) throw new Error(`no ${name} in the table`);
  return found;
};

describe('water', () => {
  test('has the published check value at 20 °C', () => {
    expect(waterDensity(published.check.celsius)).toBeCloseTo(published.check.kg_per_m3, 5);
  });

  test.each(published.tanaka)('at %s °C has %s kg/m³', (celsius, density) => {
    expect(Math.abs(waterDensity(celsius) - density)).toBeLessThan(0.0006);
  });

  test.each(published.crc53)(
    'at %s °C agrees with an older table, %s kg/m³, to 4 parts in a million',
    (celsius, density) => {
      expect(Math.abs(waterDensity(celsius) / density - 1)).toBeLessThan(5e-6);
    },
  );
});

/** A piece of a density, weighed in water of 22 °C (997.773 kg/m³) on a scale with steps of `division` grams. */
const weighed = (gramsPerCm3: number, division: number, dry = 1000) => {
  const submerged = dry * (1 - 0.997773 / gramsPerCm3);
  return densityOf({ dry, submerged, celsius: 22, doubt: { division, dryTolerance: null, wetTolerance: null } });
};
const namesFor = (gramsPerCm3: number, division: number) =>
  matchesOf(weighed(gramsPerCm3, division)).candidates.map(({ name }) => name);

test('a piece in water of 22 °C comes out at its own density', () => {
  for (const density of [1.74, 2.7, 6.6, 7.85, 8.5, 8.89, 11.34]) {
    expect(weighed(density, 0.1).gramsPerCm3).toBeCloseTo(density, 5);
  }
});

test('6061 and cast 356 cannot be told apart by weight in water, and that is said by listing both', () => {
  const found = namesFor(2.7, 1);
  expect(found).toContain('aluminium 6061');
  expect(found).toContain('aluminium cast 356.0');
  const both = [metal('6061'), metal('356.0')];
  expect(partingTests(both).map(({ test }) => test)).toEqual(['make']);
});

test('Zamak 3, brass and aluminium are well apart', () => {
  expect(namesFor(6.6, 1)).toEqual(['zinc die-cast Zamak 3']);
  expect(namesFor(8.5, 1).some((name) => /zinc|aluminium/.test(name))).toBe(false);
  expect(namesFor(2.7, 1).every((name) => name.startsWith('aluminium'))).toBe(true);
});

test('304 and 430 need better than 2 %, and the magnet parts them anyway', () => {
  const coarse = namesFor(7.85, 5);
  expect(coarse).toContain('stainless 304');
  expect(coarse).toContain('stainless 430');
  const [first] = partingTests([metal('304'), metal('430')]);
  expect(first?.test).toBe('magnet');
  const fine = namesFor(8, 0.1);
  expect(fine).toContain('stainless 304');
  expect(fine).not.toContain('stainless 430');
});

test('what gives the same answer everywhere is said not to be parted', () => {
  const same = [metal('C26000'), metal('C36000'), metal('C28000')];
  expect(partingTests(same)).toEqual([]);
  expect(unparted(same)).toEqual([same]);
});

test('every density is one, and says where it is from and whether it was looked up', () => {
  for (const each of metals) {
    const { low, high } = rangeOf(each);
    expect([each.name, low > 1.5, high < 12, low < high]).toEqual([each.name, true, true, true]);
    expect(each.source).not.toBe('');
    expect(each.status).toMatch(/looked up|from memory/);
  }
});
