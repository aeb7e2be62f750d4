import fc from 'fast-check';
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
  });

  test.each([
    ['34,5', '.', '34.5'],
    ['34,50', '.', '34.50'],
    ['0,125', '.', '0.125'],
    [',5', '.', '0.5'],
    ['1234,567', '.', '1234.567'],
    ['1.204,5', '.', '1204.5'],
    ['1,204', '.', '1204'],
    ['1.204', '.', '1.204'],
    ['34.5', ',', '34.5'],
    ['0.125', ',', '0.125'],
    ['1,204.5', ',', '1204.5'],
    ['1.204', ',', '1204'],
    ['1,204', ',', '1.204'],
  ] as const)('%s with %s as mark is %s', (typed, decimalMark, digits) => {
    expect(readDigits(typed, { decimalMark, maxDecimals: 6, what: 'weight' })).toEqual({ ok: true, value: digits });
  });

  test('in a file the other mark is no decimal mark', () => {
    const inFile: WeightRules = { ...inPounds, isStrict: true };
    expect(refusalOf('12,4', inFile)).toBe('Write the decimals with a point: 12.4');
    expect(refusalOf('0,125', inFile)).toBe('Write the decimals with a point: 0.125');
    expect(refusalOf('1.204,5', inFile)).toContain('more than one way');
    expect(massOf('1,204.5', inFile)).toBe(546_352_009_665);
    expect(refusalOf('12.4', { ...inFile, decimalMark: ',' })).toBe('Write the decimals with a comma: 12,4');
  });

  const figures = fc
    .tuple(fc.integer({ min: 0, max: 10 ** 9 }), fc.integer({ min: 0, max: 6 }))
    .map(([whole, decimals]) => ({ decimals, value: new Decimal(whole).div(new Decimal(10).pow(decimals)) }));
  const marks = fc.constantFrom<DecimalMark>('.', ',');
  const digitsIn = (typed: string, decimalMark: DecimalMark) =>
    readDigits(typed, { decimalMark, maxDecimals: 6, what: 'weight' });

  test('every figure written with the mark of the ledger reads back to itself, with groups and without', () => {
    fc.assert(
      fc.property(figures, marks, ({ value, decimals }, mark) => {
        const plain = value.toFixed(decimals);
        const read = { ok: true, value: plain };
        expect(digitsIn(plain.replace('.', mark), mark)).toEqual(read);
        expect(digitsIn(writeDecimal(value, decimals, mark), mark)).toEqual(read);
      }),
    );
  });

  test('every figure written with the other mark reads back to itself too, but for what looks like thousands', () => {
    const looksLikeThousands = (typed: string) => /^[1-9]\d{0,2}[.,]\d{3}$/.test(typed);
    fc.assert(
      fc.property(figures, marks, ({ value, decimals }, mark) => {
        const other = mark === '.' ? ',' : '.';
        const plain = value.toFixed(decimals);
        const typed = plain.replace('.', other);
        const asThousands = typed.replace(other, '');
        expect(digitsIn(typed, mark)).toEqual({ ok: true, value: looksLikeThousands(typed) ? asThousands : plain });
        const grouped = writeDecimal(value, decimals, other);
        if (decimals > 0 && value.gte(1000)) expect(digitsIn(grouped, mark)).toEqual({ ok: true, value: plain });
      }),
    );
  });

  test('whatever marks are typed, a figure that is read has all its digits and no others', () => {
    const anyMarks = fc.stringMatching(/^[0-9.,]{1,12}$/);
    fc.assert(
      fc.property(anyMarks, marks, (typed, mark) => {
        const read = digitsIn(typed, mark);
        if (!read.ok) return;
        expect(read.value.replace('.', '').replace(/^0+/, '')).toBe(typed.replace(/[.,]/g, '').replace(/^0+/, ''));
      }),
    );
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
    expect(typed('1204.5', mass, ',')).toBe('1204.5 lb');
    expect(typed('1.204', toMassUg({ amount: new Decimal('1.204'), unit: 'lb' }), ',')).toBe('1,20 lb');
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
