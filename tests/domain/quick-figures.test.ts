import fc from 'fast-check';
import { expect, test } from 'vitest';
import { weighedGrams } from '../../server/prices/compute.ts';
import { Decimal, writeDecimal } from '../../server/units/decimal.ts';
import {
  convertWeight,
  type MassUg,
  type MassUnit,
  massUg,
  massUnits,
  microgramsOff,
  millionthsOf,
  toMassUg,
  toWeight,
} from '../../server/units/mass.ts';
import { shownAmount, writeWeightFigure } from '../../server/units/write-weight.ts';

// What is worked out in whole numbers because every page needs it, held against the slow way with 40 digits.

const unit = fc.constantFrom(...massUnits);
const mass = fc.oneof(fc.maxSafeInteger(), fc.integer({ min: -2_000_000_000, max: 2_000_000_000 })).map(massUg);
/** A weight as it is typed: a figure of some decimals in a unit, and a few micrograms beside it. */
const nearTyped = fc
  .record({ tenThousandths: fc.integer({ min: 1, max: 9_999_999 }), unit, off: fc.integer({ min: -20, max: 20 }) })
  .map(({ tenThousandths, unit: of, off }) =>
    massUg(Math.max(0, toMassUg({ amount: new Decimal(tenThousandths).div(10_000), unit: of }) + off)),
  );

const slowAmount = (ug: MassUg, of: MassUnit) => toWeight(ug, of).amount.toDecimalPlaces(6, Decimal.ROUND_HALF_UP);

test('a mass as a figure of six decimals', () => {
  fc.assert(
    fc.property(fc.oneof(mass, nearTyped), unit, (ug, of) => {
      expect(shownAmount(ug, of).toString()).toBe(slowAmount(ug, of).toString());
      expect(new Decimal(millionthsOf(ug, of)).div(1_000_000).toString()).toBe(slowAmount(ug, of).toString());
    }),
    { numRuns: 2_000 },
  );
});

test('a weight as it is shown, rounded once more to its usual decimals', () => {
  const decimals = { lb: 2, oz: 1, kg: 3, g: 0, ozt: 3, cwt: 3, 'net ton': 4, 'gross ton': 4, tonne: 4 };
  fc.assert(
    fc.property(fc.oneof(mass, nearTyped), unit, fc.constantFrom('.', ','), (ug, of, mark) => {
      expect(writeWeightFigure(ug, of, mark)).toBe(writeDecimal(slowAmount(ug, of), decimals[of], mark));
    }),
    { numRuns: 2_000 },
  );
});

test('how far a mass lies off a figure', () => {
  fc.assert(
    fc.property(nearTyped, unit, (ug, of) => {
      const millionths = millionthsOf(ug, of);
      const figure = { amount: new Decimal(millionths).div(1_000_000), unit: of };
      const off = convertWeight(figure, 'g').amount.times(1_000_000).minus(ug).abs();
      expect(microgramsOff(ug, millionths, of)).toBe(off.toDecimalPlaces(0, Decimal.ROUND_CEIL).toNumber());
    }),
    { numRuns: 2_000 },
  );
});

test('the grams that were weighed: the typed figure when the mass lies within 10 µg of one of five decimals', () => {
  fc.assert(
    fc.property(nearTyped, fc.constantFrom('lb', 'oz', 'ozt', 'cwt', 'net ton'), (ug, per) => {
      const typedIn = per === 'oz' || per === 'ozt' ? per : 'lb';
      const figure = toWeight(ug, typedIn).amount.toDecimalPlaces(5, Decimal.ROUND_HALF_UP);
      const grams = convertWeight({ amount: figure, unit: typedIn }, 'g').amount;
      const stored = toWeight(ug, 'g').amount;
      const isTyped = !figure.isZero() && grams.minus(stored).abs().lte('0.00001');
      expect(weighedGrams(ug, per).toString()).toBe((isTyped ? grams : stored).toString());
    }),
    { numRuns: 2_000 },
  );
});
