import { Decimal, type Marks, marksOf, readDecimal } from './decimal.ts';
import { convertWeight, type MassUg, type MassUnit, toMassUg, type Weight } from './mass.ts';
import { accepted, type Read, refused } from './result.ts';

export interface WeightRules extends Marks {
  /** Unit of the field, used when none is typed. */
  unit: MassUnit;
  /** A tare may be zero, a reading may not. */
  zeroAllowed?: boolean;
  what?: string;
}

/** A weight that was understood: what was typed, the figure in its unit, and its mass. */
export interface ReadWeight {
  typed: string;
  weight: Weight;
  massUg: MassUg;
}

const UNIT_WORDS: Record<string, MassUnit> = {
  lb: 'lb',
  lbs: 'lb',
  '#': 'lb',
  pound: 'lb',
  pounds: 'lb',
  oz: 'oz',
  ozs: 'oz',
  ounce: 'oz',
  ounces: 'oz',
  kg: 'kg',
  kgs: 'kg',
  g: 'g',
  gram: 'g',
  grams: 'g',
  t: 'tonne',
  tonne: 'tonne',
  tonnes: 'tonne',
  ozt: 'ozt',
  'oz t': 'ozt',
  cwt: 'cwt',
  'net ton': 'net ton',
  'net tons': 'net ton',
  'gross ton': 'gross ton',
  'gross tons': 'gross ton',
};

const POUNDS_AND_OUNCES = /^(\d{1,6})\s*(?:lbs?|#)\s*([\d.,]+)\s*(?:ozs?)$/i;
const LARGEST_TONNES = 100;

/** The unit that a word stands for (`lbs`, `#`, `Net Tons`), or null. A bare "ton" is ambiguous and stands for none. */
export function readUnit(word: string): MassUnit | null {
  const key = word.trim().toLowerCase().replace(/\.$/, '').replace(/\s+/g, ' ');
  return Object.hasOwn(UNIT_WORDS, key) ? (UNIT_WORDS[key] ?? null) : null;
}

function readPoundsAndOunces(text: string, rules: WeightRules): Read<Weight> | null {
  const match = POUNDS_AND_OUNCES.exec(text);
  if (!match) return null;
  const ounces = readDecimal(match[2] ?? '', { ...marksOf(rules), maxDecimals: 6, what: 'weight' });
  if (!ounces.ok) return ounces;
  if (ounces.value.gte(16)) return refused('After pounds the ounces stay below 16, as in 3 lb 7 oz.');
  return accepted({ amount: new Decimal(match[1] ?? 0).plus(ounces.value.div(16)), unit: 'lb' });
}

function readFigureAndUnit(text: string, rules: WeightRules): Read<Weight> {
  const match = /^(.*?[\d.,])\s*(#|[a-z][a-z .]*)$/i.exec(text);
  const word = match?.[2];
  const unit = word === undefined ? rules.unit : readUnit(word);
  if (unit === null) {
    const ton = /^tons?$/i.test(word ?? '') ? ' Say net ton (2000 lb), gross ton (2240 lb) or t (1000 kg).' : '';
    return refused(`“${(word ?? '').slice(0, 20)}” is not a unit of weight here.${ton || ' Use lb, oz, kg, g or t.'}`);
  }
  const what = rules.what ?? 'weight';
  const amount = readDecimal(match?.[1] ?? text, { ...marksOf(rules), maxDecimals: 6, what });
  return amount.ok ? accepted({ amount: amount.value, unit }) : amount;
}

/**
 * Reads a weight as typed: `12`, `12.4`, `1,204.5`, `12.4 kg`, `34#`, `3 lb 7 oz`. Without a unit, the field's unit.
 * Refuses, saying what would be right: empty, negative, not a number, ambiguous groups, more than 6 decimals,
 * more than 100 t, and zero unless `zeroAllowed`.
 */
export function readWeight(typed: string, rules: WeightRules): Read<ReadWeight> {
  const text = typed.trim();
  if (text.length > 60)
    return refused(`This ${rules.what ?? 'weight'} is too long. Write it like 12${rules.decimalMark}5.`);
  const read = readPoundsAndOunces(text, rules) ?? readFigureAndUnit(text, rules);
  if (!read.ok) return read;
  if (read.value.amount.isZero() && !rules.zeroAllowed) {
    return refused(`A ${rules.what ?? 'weight'} of zero cannot be right here. Look at the scale again.`);
  }
  // Compared before it becomes micrograms, which hold 9,007 t and throw above that.
  if (convertWeight(read.value, 'tonne').amount.gt(LARGEST_TONNES)) {
    return refused(`More than ${LARGEST_TONNES} t cannot be right here. Check the unit.`);
  }
  return accepted({ typed: text, weight: read.value, massUg: toMassUg(read.value) });
}
