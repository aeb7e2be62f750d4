import { describe, expect, test } from 'vitest';
import {
  convertPrice,
  isPriceUnit,
  isStale,
  type PriceUnit,
  priceUnits,
  quoteAgeDays,
  readPrice,
  readPriceUnit,
  valueOfMass,
  valueOfQuantity,
  writePrice,
} from '../../server/prices/compute.ts';
import { day } from '../../server/units/day.ts';
import { Decimal, type DecimalMark } from '../../server/units/decimal.ts';
import { type MassUnit, sumMass, toMassUg } from '../../server/units/mass.ts';

const read = (typed: string, decimalMark: DecimalMark = '.'): string => {
  const price = readPrice(typed, { decimalMark });
  return price.ok ? price.value.digits : price.refusal;
};
const at = (price: string, per: PriceUnit) => ({ price: new Decimal(price), per });
const pounds = (amount: string) => toMassUg({ amount: new Decimal(amount), unit: 'lb' });

describe('reading a price', () => {
  test.each([
    ['3.60', '3.60'],
    ['$1,204.5', '1204.5'],
    ['€ 3', '3'],
    ['£.95', '0.95'],
    ['¥190', '190'],
    ['0', '0'],
    ['0.123456', '0.123456'],
    ['1,000,000', '1000000'],
    ['3,60', '3.60'],
    ['$0,095', '0.095'],
  ])('%s gives %s', (typed, digits) => {
    expect(read(typed)).toBe(digits);
  });

  test('a decimal comma is read when it is the mark of the ledger', () => {
    expect(read('€1.204,50', ',')).toBe('1204.50');
  });

  test.each([
    ['', 'Enter a price.'],
    ['$', 'Enter a price.'],
    ['-3.60', 'A price cannot be negative. Write it like 12.5.'],
    ['$-3.60', 'A price cannot be negative. Write it like 12.5.'],
    ['-$3.60', 'A price cannot be negative. Write it like 12.5.'],
    ['0.1234567', 'Write this price with at most 6 decimals.'],
    ['1000000.01', 'A price above 1,000,000 cannot be right.'],
    ['1,2,3', 'This price can be understood in more than one way. Write it like 12.5.'],
    ['NaN', 'This price has to be a number. Write it like 12.5.'],
  ])('%j is refused', (typed, refusal) => {
    expect(read(typed)).toBe(refusal);
  });

  test.each([
    ['lb', 'lb'],
    ['per lb', 'lb'],
    ['Per  Pound', 'lb'],
    ['/lb', 'lb'],
    ['net ton', 'net ton'],
    ['per gross ton', 'gross ton'],
    ['t', 'tonne'],
    ['each', 'each'],
    ['per piece', 'each'],
    ['ton', null],
    ['per', null],
    ['', null],
  ])('%j is the unit %s', (word, unit) => {
    expect(readPriceUnit(word)).toBe(unit);
  });

  test('every unit of weight and each are units of a price', () => {
    expect(priceUnits).toHaveLength(10);
    expect(priceUnits.every(isPriceUnit)).toBe(true);
    expect(isPriceUnit('ton')).toBe(false);
  });
});

describe('converting prices', () => {
  test.each<[string, PriceUnit, MassUnit, string]>([
    ['190', 'net ton', 'lb', '0.095'],
    ['0.095', 'lb', 'net ton', '190'],
    ['10', 'cwt', 'net ton', '200'],
    ['224', 'gross ton', 'net ton', '200'],
    ['224', 'gross ton', 'lb', '0.1'],
    ['1', 'kg', 'lb', '0.45359237'],
    ['1', 'tonne', 'kg', '0.001'],
    ['16', 'lb', 'oz', '1'],
  ])('%s per %s is per %s exactly %s', (price, per, to, expected) => {
    expect(convertPrice(at(price, per), to)?.toString()).toBe(expected);
  });

  test('a price per piece has no price by weight', () => {
    expect(convertPrice(at('5', 'each'), 'lb')).toBeNull();
    expect(valueOfMass(pounds('1'), at('5', 'each'))).toBeNull();
    expect(valueOfQuantity(new Decimal(3), 'each', at('5', 'lb'))).toBeNull();
    expect(valueOfQuantity(new Decimal(3), 'each', at('5', 'each'))?.toString()).toBe('15');
  });

  test('190 per net ton times 212 lb is exactly 20.14', () => {
    expect(valueOfMass(pounds('212'), at('190', 'net ton'))?.toString()).toBe('20.14');
    expect(valueOfQuantity(new Decimal('212'), 'lb', at('190', 'net ton'))?.toString()).toBe('20.14');
  });

  test('a value is not rounded to the cent on the way', () => {
    expect(valueOfMass(pounds('22.65'), at('2.45', 'lb'))?.toString()).toBe('55.4925');
  });

  test('half a cent stays half a cent although the mass is stored to the microgram', () => {
    // 1.02 lb is 462 664 217.4 µg; without the last digit the value would be 0.25499… and lose its cent.
    expect(valueOfMass(pounds('1.02'), at('0.25', 'lb'))?.toString()).toBe('0.255');
    const tenBuckets = sumMass(Array.from({ length: 10 }, () => pounds('1.02')));
    expect(valueOfMass(tenBuckets, at('0.025', 'lb'))?.toString()).toBe('0.255');
    expect(valueOfMass(pounds('1.02'), at('500', 'net ton'))?.toString()).toBe('0.255');
  });

  test('a metric weight at a price per pound is not bent to a round figure of pounds', () => {
    const kilogram = toMassUg({ amount: new Decimal(1), unit: 'kg' });
    expect(valueOfMass(kilogram, at('1', 'lb'))?.toFixed(12)).toBe('2.204622621849');
    expect(valueOfMass(kilogram, at('1', 'kg'))?.toString()).toBe('1');
  });
});

describe('writing a price', () => {
  test.each<[string, PriceUnit, string]>([
    ['3.60', 'lb', '$3.60 per lb'],
    ['190', 'net ton', '$190.00 per net ton'],
    ['0.095', 'lb', '$0.095 per lb'],
    ['0.0950', 'lb', '$0.0950 per lb'],
    ['1204.5', 'gross ton', '$1,204.50 per gross ton'],
    ['5', 'each', '$5.00 each'],
    ['0', 'kg', '$0.00 per kg'],
  ])('%s per %s is written %s', (digits, per, text) => {
    expect(writePrice(digits, per, 'USD', '.')).toBe(text);
  });

  test('the sign and the mark follow the currency and the ledger', () => {
    expect(writePrice('3.6', 'kg', 'EUR', ',')).toBe('3,60 € per kg');
    expect(writePrice('190', 'kg', 'JPY', '.')).toBe('¥190 per kg');
    expect(writePrice('1', 'kg', 'KWD', '.')).toMatch(/1\.000 per kg$/);
  });

  test('a converted price that does not end is cut for display only', () => {
    const perPound = convertPrice(at('200', 'tonne'), 'lb');
    expect(perPound && writePrice(perPound, 'lb', 'USD', '.')).toBe('$0.0907 per lb');
    expect(writePrice(new Decimal('0.095'), 'lb', 'USD', '.')).toBe('$0.095 per lb');
  });
});

describe('the age of a quote', () => {
  test('a quote is stale after its yard usually changes prices, not on that day', () => {
    const seenOn = day('2025-03-01');
    expect(quoteAgeDays(seenOn, day('2025-03-08'))).toBe(7);
    expect(isStale(seenOn, day('2025-03-15'), 14)).toBe(false);
    expect(isStale(seenOn, day('2025-03-16'), 14)).toBe(true);
    expect(quoteAgeDays(seenOn, day('2025-02-28'))).toBe(-1);
  });
});
