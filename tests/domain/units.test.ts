import { describe, expect, test } from 'vitest';
import { Decimal, type DecimalMark, decimalsOf, readDigits, writeDecimal } from '../../server/units/decimal.ts';
import {
  addMass,
  convertWeight,
  massUg,
  massUnits,
  subtractMass,
  sumMass,
  toMassUg,
  toWeight,
} from '../../server/units/mass.ts';
import { readUnit, readWeight, type WeightRules } from '../../server/units/read-weight.ts';
import { writeForFile, writeTypedWeight, writeWeight, writeWeightFigure } from '../../server/units/write-weight.ts';

const inPounds: WeightRules = { unit: 'lb', decimalMark: '.' };

const massOf = (typed: string, rules: WeightRules = inPounds): number | string => {
  const read = readWeight(typed, rules);
  return read.ok ? read.value.massUg : read.refusal;
};
const refusalOf = (typed: string, rules: WeightRules = inPounds): string => {
  const read = readWeight(typed, rules);
  return read.ok ? 'accepted' : read.refusal;
};

describe('reading a weight', () => {
  test.each([
    ['12', 5_443_108_440],
    ['12.4', 5_624_545_388],
    [' 12.4 ', 5_624_545_388],
    ['12.', 5_443_108_440],
    ['.5', 226_796_185],
    ['1,204.5', 546_352_009_665],
    ['34#', 15_422_140_580],
    ['34 lbs', 15_422_140_580],
    ['34 LB.', 15_422_140_580],
    ['8 oz', 226_796_185],
    ['2 kg', 2_000_000_000],
    ['250 g', 250_000_000],
    ['0.5 t', 500_000_000_000],
    ['1 ozt', 31_103_477],
    ['1 oz t', 31_103_477],
    ['1 net ton', 907_184_740_000],
    ['1  Gross  Ton', 1_016_046_908_800],
    ['3 lb 7 oz', 1_559_223_772],
    ['3lb 7.5oz', 1_573_398_533],
    ['3# 0 oz', 1_360_777_110],
    ['100 t', 100_000_000_000_000],
  ])('%s is %i micrograms', (typed, micrograms) => {
    expect(massOf(typed)).toBe(micrograms);
  });

  test('what was typed is kept beside what was understood', () => {
    const read = readWeight(' 12.40 kg ', inPounds);
    expect(read).toMatchObject({ ok: true, value: { typed: '12.40 kg', weight: { unit: 'kg' } } });
  });

  test('a decimal comma is read when it is the mark of the ledger', () => {
    const comma: WeightRules = { unit: 'kg', decimalMark: ',' };
    expect(massOf('12,4', comma)).toBe(12_400_000_000);
    expect(massOf('1.204,5', comma)).toBe(1_204_500_000_000);
    expect(massOf('3 lb 7,5 oz', comma)).toBe(1_573_398_533);
    expect(refusalOf('12,4')).toBe('Write the decimals with a point: 12.4');
    expect(refusalOf('12.4', comma)).toBe('Write the decimals with a comma: 12,4');
  });

  test.each([
    ['', 'Enter a weight.'],
    ['   ', 'Enter a weight.'],
    ['NaN', 'This weight has to be a number. Write it like 12.5.'],
    ['Infinity', 'This weight has to be a number. Write it like 12.5.'],
    ['1e309', 'This weight has to be a number. Write it like 12.5.'],
    ['1e3', 'This weight has to be a number. Write it like 12.5.'],
    ['0x10', 'This weight has to be a number. Write it like 12.5.'],
    ['-5', 'A weight cannot be negative. Write it like 12.5.'],
    ['−5 lb', 'A weight cannot be negative. Write it like 12.5.'],
    ['1,2,3', 'This weight can be understood in more than one way. Write it like 12.5.'],
    ['1,23', 'Write the decimals with a point: 1.23'],
    ['1.2.3', 'This weight can be understood in more than one way. Write it like 12.5.'],
    ['12 4', 'This weight has to be a number. Write it like 12.5.'],
    ['１２', 'Use the plain digits 0 to 9 for a weight. Write it like 12.5.'],
    ['٣', 'Use the plain digits 0 to 9 for a weight. Write it like 12.5.'],
    ['1.2345678', 'Write this weight with at most 6 decimals.'],
    ['0', 'A weight of zero cannot be right here. Look at the scale again.'],
    ['0 lb 0 oz', 'A weight of zero cannot be right here. Look at the scale again.'],
    ['3 lb 16 oz', 'After pounds the ounces stay below 16, as in 3 lb 7 oz.'],
    ['12 stone', '“stone” is not a unit of weight here. Use lb, oz, kg, g or t.'],
    ['5 tons', '“tons” is not a unit of weight here. Say net ton (2000 lb), gross ton (2240 lb) or t (1000 kg).'],
    ['100.000001 t', 'More than 100 t cannot be right here. Check the unit.'],
    ['100000000', 'More than 100 t cannot be right here. Check the unit.'],
    ['999999999 gross tons', 'More than 100 t cannot be right here. Check the unit.'],
  ])('%j is refused with what would be right', (typed, refusal) => {
    expect(refusalOf(typed)).toBe(refusal);
  });

  test('ten thousand characters are refused at once', () => {
    expect(refusalOf('9'.repeat(10_000))).toBe('This weight is too long. Write it like 12.5.');
    expect(refusalOf('9'.repeat(10_000), { unit: 'kg', decimalMark: ',' })).toBe(
      'This weight is too long. Write it like 12,5.',
    );
  });

  test('zero is a weight where it can happen, as for a tare', () => {
    expect(massOf('0', { ...inPounds, zeroAllowed: true })).toBe(0);
  });

  test('the refusals name what is being read', () => {
    expect(refusalOf('', { ...inPounds, what: 'tare' })).toBe('Enter a tare.');
  });

  test('a bare ton and a word of the object prototype are no units', () => {
    expect(readUnit('ton')).toBeNull();
    expect(readUnit('constructor')).toBeNull();
    expect(readUnit(' Lbs. ')).toBe('lb');
  });
});

describe('digits', () => {
  const digitsOf = (typed: string, decimalMark: DecimalMark = '.') =>
    readDigits(typed, { decimalMark, maxDecimals: 6, what: 'price' });

  test('zeros stay as typed, a mark at either end gets its digit or goes', () => {
    expect(digitsOf('1,204.50')).toEqual({ ok: true, value: '1204.50' });
    expect(digitsOf('12.')).toEqual({ ok: true, value: '12' });
    expect(digitsOf('.5')).toEqual({ ok: true, value: '0.5' });
    expect(digitsOf(',5', ',')).toEqual({ ok: true, value: '0.5' });
    expect(decimalsOf('54.0')).toBe(1);
    expect(decimalsOf('54')).toBe(0);
  });
});

describe('mass', () => {
  test('a mass is a whole number of micrograms that JavaScript holds exactly', () => {
    for (const wrong of [0.5, Number.NaN, Number.POSITIVE_INFINITY, 2 ** 53])
      expect(() => massUg(wrong)).toThrow(RangeError);
  });

  test('masses add and subtract exactly', () => {
    expect(addMass(massUg(2), massUg(3))).toBe(5);
    expect(subtractMass(massUg(2), massUg(3))).toBe(-1);
    expect(sumMass([massUg(1), massUg(2), massUg(3)])).toBe(6);
    expect(sumMass([])).toBe(0);
  });

  test('every unit comes back from micrograms to the figure that was typed', () => {
    for (const unit of massUnits) {
      const amount = new Decimal('12.25');
      expect(toWeight(toMassUg({ amount, unit }), unit).amount.toDecimalPlaces(6).eq(amount)).toBe(true);
    }
  });

  test('half a microgram rounds away from zero', () => {
    // 1 oz is 28 349 523.125 µg, so 4 oz end in a half.
    expect(toMassUg({ amount: new Decimal(4), unit: 'oz' })).toBe(113_398_093);
  });

  test('a net ton is 2000 lb to the last digit', () => {
    expect(convertWeight({ amount: new Decimal(1), unit: 'net ton' }, 'lb').amount.toString()).toBe('2000');
  });
});

describe('writing a weight', () => {
  const mass = toMassUg({ amount: new Decimal('1204.5'), unit: 'lb' });

  test('a weight for people has its unit and the usual decimals', () => {
    expect(writeWeight(mass, 'lb', '.')).toBe('1,204.50 lb');
    expect(writeWeight(mass, 'kg', ',')).toBe('546,352 kg');
    expect(writeWeightFigure(mass, 'net ton', '.')).toBe('0.6023');
    expect(writeWeight(massUg(0), 'g', '.')).toBe('0 g');
  });

  test('a figure whose stored micrograms lie a hair below it rounds as it was typed', () => {
    // 2.625 lb are 1 190 679 971.25 µg, stored without the quarter, which is 2.624999999 lb.
    const hairBelow = toMassUg({ amount: new Decimal('2.625'), unit: 'lb' });
    expect(writeWeight(hairBelow, 'lb', '.')).toBe('2.63 lb');
    expect(writeWeight(massUg(-hairBelow), 'lb', '.')).toBe('−2.63 lb');
    // Less than 2.625 lb by what can be typed is less all the same.
    expect(writeWeight(toMassUg({ amount: new Decimal('2.624999'), unit: 'lb' }), 'lb', '.')).toBe('2.62 lb');
  });

  test('a typed weight gets its unit once, and is written anew where the text stands for another mass', () => {
    const typed = (text: string, ug: number, mark: DecimalMark = '.') => writeTypedWeight(text, 'lb', massUg(ug), mark);
    expect(typed('1204.5', mass)).toBe('1204.5 lb');
    expect(typed('1 lb 8 oz', 680_388_555)).toBe('1 lb 8 oz');
    expect(typed('34#', 15_422_140_580)).toBe('34#');
    expect(typed('2.00', 2_000_000_000)).toBe('4.41 lb');
    expect(typed('1204.5', mass, ',')).toBe('1.204,50 lb');
  });

  test('a negative figure has a true minus sign, and zero has none', () => {
    expect(writeDecimal(new Decimal('-3.15'), 2, '.')).toBe('−3.15');
    expect(writeDecimal(new Decimal('-0.001'), 2, '.')).toBe('0.00');
    expect(writeDecimal(new Decimal('-0.5'), 0, '.')).toBe('−1');
  });

  test('a figure for files has a point and no groups', () => {
    expect(writeForFile(new Decimal('1204.5'), 4)).toBe('1204.5000');
    expect(writeForFile(new Decimal('0.123456'), 2)).toBe('0.123456');
  });
});
