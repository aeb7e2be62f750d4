import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { describe, expect, test } from 'vitest';
import { convertPrice } from '../../server/prices/compute.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { convertWeight, type MassUnit, massUnits, toMassUg, toWeight, unitRatio } from '../../server/units/mass.ts';

// Sources beside each figure in mass-units.json: NIST Handbook 44, Appendix C; NIST SP 811 (2008), Appendix B.8;
// SI Brochure, 9th edition, Table 8 (from memory).
interface PublishedUnit {
  name: string;
  symbol: string;
  kg: string;
  source: string;
}
interface Published {
  values: PublishedUnit[];
  derived_exact: { from: string; to: string; value: string }[];
}
const published: Published = JSON.parse(readFileSync(new URL('mass-units.json', import.meta.url), 'utf8'));
const kilogramsOf = (symbol: string): string => {
  const unit = published.values.find((value) => value.symbol === symbol);
  if (unit === undefined) throw new Error(`no published unit ${symbol}`);
  return unit.kg;
};
const OUR_UNIT: Record<string, MassUnit> = {
  lb: 'lb',
  oz: 'oz',
  'oz t': 'ozt',
  'short ton': 'net ton',
  'long ton': 'gross ton',
  t: 'tonne',
  cwt: 'cwt',
};
const inKilograms = (amount: string | number, unit: MassUnit): string =>
  convertWeight({ amount: new Decimal(amount), unit }, 'kg').amount.toString();

describe('published units of mass', () => {
  test.each(published.values.filter(({ symbol }) => symbol in OUR_UNIT))('$name is $kg kg', ({ symbol, kg }) => {
    expect(inKilograms(1, OUR_UNIT[symbol] ?? 'g')).toBe(kg);
  });

  test('every unit of ours but kg and g has a published row', () => {
    expect([...Object.values(OUR_UNIT), 'kg', 'g'].toSorted()).toEqual([...massUnits].toSorted());
  });

  test('published units that we do not offer are whole multiples or parts of ours', () => {
    expect(inKilograms('14', 'lb')).toBe(kilogramsOf('st'));
    expect(inKilograms('112', 'lb')).toBe(kilogramsOf('cwt (long)'));
    expect(inKilograms('12', 'ozt')).toBe(kilogramsOf('lb t'));
    expect(inKilograms(1, 'lb')).toBe(new Decimal(kilogramsOf('gr')).times(7000).toString());
    expect(inKilograms(1, 'ozt')).toBe(new Decimal(kilogramsOf('gr')).times(480).toString());
  });

  // By calculation from the published factors, not published as such.
  test.each<[MassUnit, MassUnit, string]>([
    ['gross ton', 'net ton', '1.12'],
    ['gross ton', 'tonne', '1.0160469088'],
    ['net ton', 'tonne', '0.90718474'],
    ['tonne', 'lb', '2204.6226218487757'],
    ['ozt', 'oz', '1.0971428571428571'],
  ])('one %s in %s is %s', (from, to, value) => {
    expect(published.derived_exact.some((row) => row.value.startsWith(value))).toBe(true);
    // The rows for a tonne and an ounce troy were cut to the digits of a binary float, which 16 of ours confirm.
    expect(unitRatio(from, to).toSignificantDigits(16).eq(new Decimal(value).toSignificantDigits(16))).toBe(true);
  });

  test('an ounce troy is 192/175 of an ounce', () => {
    expect(unitRatio('ozt', 'oz').eq(new Decimal(192).div(175))).toBe(true);
  });

  test('kilograms to pounds and back lose nothing at stored precision', () => {
    for (const typed of ['0.001', '1', '12.345', '99999.999']) {
      const mass = toMassUg({ amount: new Decimal(typed), unit: 'kg' });
      expect(toMassUg(toWeight(mass, 'lb'))).toBe(mass);
    }
  });

  test('a price per gross ton by 2240 is the price per net ton by 2000', () => {
    const perGrossTon = { price: new Decimal('347.25'), per: 'gross ton' as const };
    const perNetTon = convertPrice(perGrossTon, 'net ton');
    expect(perNetTon?.toSignificantDigits(30).eq(new Decimal('347.25').div('1.12').toSignificantDigits(30))).toBe(true);
    expect(perNetTon?.div(2000).minus(perGrossTon.price.div(2240)).abs().lt('1e-35')).toBe(true);
  });

  // $/cwt × 20 = $/net ton and $/cwt ÷ 100 = $/lb: a steel merchant's page on units. The row in all units together is by
  // calculation; no published numeric example from a standards source was found.
  test('200 per net ton is the same price in every unit of the trade', () => {
    const perNetTon = { price: new Decimal(200), per: 'net ton' as const };
    expect(convertPrice(perNetTon, 'gross ton')?.toString()).toBe('224');
    expect(convertPrice(perNetTon, 'cwt')?.toString()).toBe('10');
    expect(convertPrice(perNetTon, 'lb')?.toString()).toBe('0.1');
    expect(convertPrice(perNetTon, 'tonne')?.toDecimalPlaces(3).toString()).toBe('220.462');
  });
});

// Second opinion: the general-purpose npm package convert-units 2.3.4. It keeps the pound as 453.592 g, cut to six
// digits, so it can confirm six digits and no more. Its `t` is the short ton, its `mt` the tonne.
type Convert = (amount: number) => { from(unit: string): { to(unit: string): number } };
const convert = createRequire(import.meta.url)('convert-units') as Convert;

test.each<[MassUnit, string, MassUnit, string]>([
  ['lb', 'lb', 'kg', 'kg'],
  ['oz', 'oz', 'g', 'g'],
  ['net ton', 't', 'lb', 'lb'],
  ['net ton', 't', 'kg', 'kg'],
  ['tonne', 'mt', 'lb', 'lb'],
  ['lb', 'lb', 'oz', 'oz'],
  ['kg', 'kg', 'lb', 'lb'],
])('a unit library agrees on %s (%s) in %s (%s)', (from, theirFrom, to, theirTo) => {
  const ours = unitRatio(from, to);
  const theirs = convert(1).from(theirFrom).to(theirTo);
  expect(ours.minus(theirs).div(ours).abs().lt('2e-6')).toBe(true);
});
