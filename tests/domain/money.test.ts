import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Currency, currencies, isCurrency, minorDigits } from '../../server/money/currencies.ts';
import {
  amountMinor,
  type MoneyRules,
  negateMoney,
  priceDecimals,
  readMoney,
  roundCash,
  roundToMinor,
  subtractMoney,
  sumMoney,
  toMajor,
  writeMoney,
  writeMoneyForFile,
  writeSignedMoney,
} from '../../server/money/money.ts';
import { splitWhole } from '../../server/money/split.ts';
import { Decimal } from '../../server/units/decimal.ts';

const dollars: MoneyRules = { currency: 'USD', decimalMark: '.' };
const read = (typed: string, rules: MoneyRules = dollars): number | string => {
  const amount = readMoney(typed, rules);
  return amount.ok ? amount.value : amount.refusal;
};

describe('reading money', () => {
  test.each([
    ['181.80', 18180],
    ['$1,204.5', 120450],
    ['€ 3', 300],
    ['0', 0],
    ['.05', 5],
    ['181,80', 18180],
    ['$1.204,50', 120450],
    ['1,204', 120400],
  ])('%s is %i cents', (typed, minor) => {
    expect(read(typed)).toBe(minor);
  });

  test.each([
    ['', 'Enter an amount.'],
    ['-1.00', 'An amount cannot be negative. Write it like 12.5.'],
    ['1.005', 'Write this amount with at most 2 decimals.'],
    ['100000000.01', 'This amount is too large to be right here.'],
    ['1e309', 'This amount has to be a number. Write it like 12.5.'],
  ])('%j is refused', (typed, refusal) => {
    expect(read(typed)).toBe(refusal);
  });

  test('a minus is read where something may be taken off', () => {
    const rules = { ...dollars, negativeAllowed: true };
    expect(read('-0.02', rules)).toBe(-2);
    expect(read('−$3.15', rules)).toBe(-315);
    expect(read('-0,02', rules)).toBe(-2);
    expect(Object.is(read('-0.00', rules), 0)).toBe(true);
  });

  test('decimals follow the currency', () => {
    expect(read('1204', { currency: 'JPY', decimalMark: '.' })).toBe(1204);
    expect(read('1204.5', { currency: 'JPY', decimalMark: '.' })).toBe('Write this amount without decimals.');
    expect(read('ten', { currency: 'JPY', decimalMark: '.' })).toBe(
      'This amount has to be a number. Write it like 12.',
    );
    expect(read('1,234', { currency: 'KWD', decimalMark: ',' })).toBe(1234);
  });
});

describe('arithmetic with money', () => {
  test('money is a whole number of minor units and never minus zero', () => {
    expect(() => amountMinor(0.5)).toThrow(RangeError);
    expect(() => amountMinor(Number.NaN)).toThrow(RangeError);
    expect(Object.is(negateMoney(amountMinor(0)), 0)).toBe(true);
    expect(sumMoney([amountMinor(1), amountMinor(-3)])).toBe(-2);
    expect(subtractMoney(amountMinor(1), amountMinor(3))).toBe(-2);
  });

  test('half a cent rounds away from zero, on both sides', () => {
    expect(roundToMinor(new Decimal('1.045'), 'USD')).toBe(105);
    expect(roundToMinor(new Decimal('-1.045'), 'USD')).toBe(-105);
    expect(roundToMinor(new Decimal('1.0449999'), 'USD')).toBe(104);
    expect(roundToMinor(new Decimal('0.5'), 'JPY')).toBe(1);
  });

  test('minor to major and back is exact in every currency', () => {
    for (const currency of currencies) {
      expect(roundToMinor(toMajor(amountMinor(123_457), currency), currency)).toBe(123_457);
      expect(minorDigits(currency)).toBeLessThanOrEqual(3);
    }
    expect(isCurrency('USD')).toBe(true);
    expect(isCurrency('toString')).toBe(false);
  });
});

describe('writing money', () => {
  test('money for people has its sign in the place its readers expect', () => {
    expect(writeMoney(amountMinor(120_450), 'USD', '.')).toBe('$1,204.50');
    expect(writeMoney(amountMinor(-315), 'USD', '.')).toBe('−$3.15');
    expect(writeMoney(amountMinor(-315), 'EUR', ',')).toBe('−3,15 €');
    expect(writeMoney(amountMinor(1204), 'JPY', '.')).toBe('¥1,204');
  });

  test('a signed amount always shows its sign, zero none', () => {
    expect(writeSignedMoney(amountMinor(76), 'USD', '.')).toBe('+$0.76');
    expect(writeSignedMoney(amountMinor(-76), 'USD', '.')).toBe('−$0.76');
    expect(writeSignedMoney(amountMinor(0), 'USD', '.')).toBe('$0.00');
  });

  test('money for files has a point, an ASCII minus and no groups', () => {
    expect(writeMoneyForFile(amountMinor(-120_450), 'USD')).toBe('-1204.50');
    expect(writeMoneyForFile(amountMinor(0), 'KWD')).toBe('0.000');
  });

  test('a price has at least the decimals of its currency', () => {
    expect(priceDecimals('3.6', 'USD')).toBe(2);
    expect(priceDecimals('0.095', 'USD')).toBe(3);
  });
});

describe('cash rounding', () => {
  test('a step of one or less leaves the amount as it is', () => {
    expect(roundCash(amountMinor(492), 1)).toBe(492);
    expect(roundCash(amountMinor(492), 0)).toBe(492);
  });

  test('a negative total rounds like the positive one', () => {
    expect(roundCash(amountMinor(-2), 5)).toBe(0);
    expect(Object.is(roundCash(amountMinor(-2), 5), 0)).toBe(true);
    expect(roundCash(amountMinor(-3), 5)).toBe(-5);
  });
});

describe('splitting a whole', () => {
  const split = (total: number, ...weights: number[]) =>
    splitWhole(
      total,
      weights.map((weight) => new Decimal(weight)),
    );

  test('what is left goes to the largest remainders, earlier ones first', () => {
    expect(split(100, 1, 1, 1)).toEqual([34, 33, 33]);
    expect(split(-100, 1, 1, 1)).toEqual([-34, -33, -33]);
    expect(split(10, 1, 2)).toEqual([3, 7]);
    expect(split(5, 0, 1)).toEqual([0, 5]);
  });

  test('weights that are all zero give equal shares, no weights no shares', () => {
    expect(split(3, 0, 0)).toEqual([2, 1]);
    expect(split(3)).toEqual([]);
  });
});

/** As the browser's own formatter writes it, with the signs that the pages use. Source: CLDR, by way of Intl. */
function asIntl(amount: number, currency: Currency, mark: '.' | ','): string {
  const decimals = minorDigits(currency);
  const digits = String(Math.abs(amount)).padStart(decimals + 1, '0');
  const whole = digits.slice(0, digits.length - decimals);
  const major = decimals === 0 ? whole : `${whole}.${digits.slice(-decimals)}`;
  const format = new Intl.NumberFormat(mark === '.' ? 'en-US' : 'de-DE', {
    style: 'currency',
    currency,
    currencyDisplay: 'narrowSymbol',
    minimumFractionDigits: decimals,
    maximumFractionDigits: decimals,
  });
  const text = format.format(`${amount < 0 ? '-' : ''}${major}` as Intl.StringNumericLiteral);
  return text.replace('-', '−').replaceAll('\u00a0', ' ');
}

test('every currency is written as its own formatter would', () => {
  const few = [0, 1, -1, 9, 10, 99, -100, 999, 1_000, -12_345, 999_999, 1_000_000, -123_456_789];
  for (const currency of currencies) {
    for (const mark of ['.', ','] as const) {
      for (const amount of few) {
        expect(writeMoney(amountMinor(amount), currency, mark)).toBe(asIntl(amount, currency, mark));
      }
    }
  }
  fc.assert(
    fc.property(
      fc.maxSafeInteger(),
      fc.constantFrom(...currencies),
      fc.constantFrom('.', ','),
      (amount, currency, mark) => {
        expect(writeMoney(amountMinor(amount), currency, mark)).toBe(asIntl(amount, currency, mark));
      },
    ),
  );
});
