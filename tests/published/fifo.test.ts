import { expect, test } from 'vitest';
import { type Layer, massOfLayers, type Part, takeFromFront } from '../../server/layers/compute.ts';
import { day } from '../../server/units/day.ts';

// First in, first out, against published worked examples. A lot stands for an item, its units for micrograms; what the
// examples cost out is the units taken of each lot times its price.

/** Lots by number from 1, each with its price. */
const costOf = (parts: readonly Part[], prices: readonly number[]): number =>
  parts.reduce((sum, [lot, units]) => sum + units * (prices[lot - 1] ?? Number.NaN), 0);

const lot = (number: number, units: number, on: string): Layer => [day(on), [[number, units]]];
const partsOf = (layers: readonly Layer[]): Part[] => layers.flatMap(([, parts]) => [...parts]);

// OpenStax, Principles of Accounting, Volume 1: Financial Accounting (2019), 10.3, perpetual, and 10.2, periodic.
const GPS_PRICES = [21, 27, 33];

test('OpenStax 10.3, perpetual: cost of sales 7,200, stock 8,955 of 75 at 27 and 210 at 33', () => {
  let layers: readonly Layer[] = [lot(1, 150, '2025-07-01')];
  const first = takeFromFront(layers, 120);
  layers = [...first.left, lot(2, 225, '2025-07-10')];
  const second = takeFromFront(layers, 180);
  layers = [...second.left, lot(3, 210, '2025-07-25')];
  expect(costOf(first.taken, GPS_PRICES) + costOf(second.taken, GPS_PRICES)).toBe(7_200);
  expect(partsOf(layers)).toEqual([
    [2, 75],
    [3, 210],
  ]);
  expect(costOf(partsOf(layers), GPS_PRICES)).toBe(8_955);
});

test('OpenStax 10.2, periodic: first in, first out gives the same when all is sold at the end', () => {
  const layers = [lot(1, 150, '2025-07-01'), lot(2, 225, '2025-07-10'), lot(3, 210, '2025-07-25')];
  const { taken, left } = takeFromFront(layers, 300);
  expect(costOf(taken, GPS_PRICES)).toBe(7_200);
  expect(costOf(partsOf(left), GPS_PRICES)).toBe(8_955);
});

// Warren, Reeve and Duchac, Financial Accounting, an exercise with its published solution (attribution from memory).
test('four lots, 208 left of 800: cost of sales 65,888, stock 24,912', () => {
  const layers = [
    lot(1, 180, '2025-01-01'),
    lot(2, 224, '2025-03-01'),
    lot(3, 200, '2025-06-01'),
    lot(4, 196, '2025-09-01'),
  ];
  const prices = [108, 110, 116, 120];
  const { taken, left } = takeFromFront(layers, 592);
  expect(costOf(taken, prices)).toBe(65_888);
  expect(costOf(partsOf(left), prices)).toBe(24_912);
  expect(massOfLayers(left)).toBe(208);
});

test('a sale larger than the stock is refused', () => {
  expect(() => takeFromFront([lot(1, 150, '2025-07-01')], 151)).toThrow('1 µg more are taken than there are');
});
