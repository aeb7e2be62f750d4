import { expect, test } from 'vitest';
import { addMoney, amountMinor } from '../../server/money/money.ts';
import { valueOfMass } from '../../server/prices/compute.ts';
import { type Day, day, writeDay } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { addMass, massUg, type Weight } from '../../server/units/mass.ts';

// The compiler is the test here: `tsc --noEmit` fails when a line below an expected error compiles. What runs only
// shows that the right way round does compile.

test('a mass cannot be passed as money, nor money as a mass', () => {
  const [mass, amount] = [massUg(1), amountMinor(1)];
  expect(addMoney(amount, amount)).toBe(2);
  expect(addMass(mass, mass)).toBe(2);
  // @ts-expect-error a mass is not money
  addMoney(amount, mass);
  // @ts-expect-error money is not a mass
  addMass(mass, amount);
  // @ts-expect-error a bare number is not a mass
  valueOfMass(1, { price: new Decimal(1), per: 'lb' });
});

test('pounds cannot be passed as kilograms', () => {
  const pounds: Weight<'lb'> = { amount: new Decimal(1), unit: 'lb' };
  const kilograms = (weight: Weight<'kg'>): string => weight.unit;
  expect(kilograms({ amount: new Decimal(1), unit: 'kg' })).toBe('kg');
  // @ts-expect-error pounds are not kilograms
  kilograms(pounds);
});

test('text is not a day until it was read as one', () => {
  const on: Day = day('2025-03-08');
  expect(writeDay(on)).toBe('8 Mar 2025');
  // @ts-expect-error text is not a day
  writeDay('2025-03-08');
  // @ts-expect-error a day is not a mass
  expect(() => addMass(on, massUg(1))).toThrow(RangeError);
});

test('a price unit is one of the closed list', () => {
  // @ts-expect-error a bare ton stands for none
  expect(() => valueOfMass(massUg(1), { price: new Decimal(1), per: 'ton' })).toThrow();
});
