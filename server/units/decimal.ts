import { Decimal as Base } from 'decimal.js';
import { accepted, type Read, refused } from './result.ts';

/**
 * Decimal arithmetic for weights, prices and money. 40 significant digits: a price times a weight has at most 30,
 * so products are exact and only divisions round. Half away from zero is the one rounding rule of the ledger.
 */
export const Decimal = Base.clone({ precision: 40, rounding: Base.ROUND_HALF_UP, toExpNeg: -30, toExpPos: 40 });
export type Decimal = Base;

export type DecimalMark = '.' | ',';

/** How the marks within a figure are read. */
export interface Marks {
  decimalMark: DecimalMark;
  /** In a file the other mark only parts thousands, so that one file means the same everywhere. */
  isStrict?: boolean;
}

/** The marks alone, of rules that say more. */
export const marksOf = ({ decimalMark, isStrict = false }: Marks): Required<Marks> => ({ decimalMark, isStrict });

export interface NumberRules extends Marks {
  maxDecimals: number;
  /** Word used in the refusals, for example "weight" or "price". */
  what: string;
}

const PLAIN_DIGITS = { '.': /^\d+(\.\d*)?$|^\.\d+$/, ',': /^\d+(,\d*)?$|^,\d+$/ };
/** Thousands never begin with a zero: 0,125 is an eighth. */
const GROUPED_DIGITS = { '.': /^[1-9]\d{0,2}(,\d{3})+(\.\d+)?$/, ',': /^[1-9]\d{0,2}(\.\d{3})+(,\d+)?$/ };
const GROUPED_AND_DECIMALS = { '.': /^[1-9]\d{0,2}(,\d{3})+\.\d+$/, ',': /^[1-9]\d{0,2}(\.\d{3})+,\d+$/ };

/** Takes thousands separators out and writes the decimal mark as a point. */
const withPoint = (text: string, mark: DecimalMark): string =>
  mark === '.' ? text.replaceAll(',', '') : text.replaceAll('.', '').replace(',', '.');

/**
 * Writes a figure with a point and without groups; null when it can be understood in more than one way. The keypad of a
 * phone offers only one of the two marks, so the other one is a decimal mark too wherever no thousands can stand:
 * 34,5 and 0,125 and 1.204,5 are clear, 1,204 is 1204 as it is written elsewhere in the ledger.
 */
function normalise(text: string, { decimalMark: mark, isStrict = false }: Marks): string | null {
  if (PLAIN_DIGITS[mark].test(text) || GROUPED_DIGITS[mark].test(text)) return withPoint(text, mark);
  const other = mark === '.' ? ',' : '.';
  const isClear = PLAIN_DIGITS[other].test(text) || GROUPED_AND_DECIMALS[other].test(text);
  return isClear && !isStrict ? withPoint(text, other) : null;
}

/** "a weight", "an amount": the rules name a thing without its article. */
const withArticle = (what: string): string => `${/^[aeiou]/i.test(what) ? 'an' : 'a'} ${what}`;

/** An example that these rules take. */
const writtenLike = ({ decimalMark, maxDecimals }: NumberRules): string =>
  `Write it like ${maxDecimals === 0 ? '12' : `12${decimalMark}5`}.`;

function explainNotANumber(text: string, rules: NumberRules): string {
  const what = withArticle(rules.what);
  const example = writtenLike(rules);
  if (/^[-−–]/.test(text)) return `${what.replace('a', 'A')} cannot be negative. ${example}`;
  if (/[\uff10-\uff19\u0660-\u0669\u06f0-\u06f9\u0966-\u096f]/.test(text)) {
    return `Use the plain digits 0 to 9 for ${what}. ${example}`;
  }
  const [other, name] = rules.decimalMark === '.' ? [',', 'a point'] : ['.', 'a comma'];
  if (new RegExp(`^\\d+[${other}]\\d+$`).test(text)) {
    return `Write the decimals with ${name}: ${text.replace(other, rules.decimalMark)}`;
  }
  if (/^[\d.,]+$/.test(text)) return `This ${rules.what} can be understood in more than one way. ${example}`;
  return `This ${rules.what} has to be a number. ${example}`;
}

/**
 * Reads a number that cannot be negative, as typed: `12`, `12.4`, `12,4`, `1,204.5`, `1.204,5`. `1,204` is 1204 with the
 * point as mark and 1.204 with the comma.
 * @returns the digits with a point as mark and no groups ("1204.50" keeps its zeros), or the refusal
 */
export function readDigits(typed: string, rules: NumberRules): Read<string> {
  const text = typed.trim();
  if (text === '') return refused(`Enter ${withArticle(rules.what)}.`);
  if (text.length > 40) return refused(`This ${rules.what} is too long. ${writtenLike(rules)}`);
  const digits = normalise(text, rules);
  if (digits === null) return refused(explainNotANumber(text, rules));
  if ((digits.split('.')[1] ?? '').length > rules.maxDecimals) {
    const most = rules.maxDecimals === 0 ? 'without decimals' : `with at most ${rules.maxDecimals} decimals`;
    return refused(`Write this ${rules.what} ${most}.`);
  }
  return accepted(digits.replace(/^\./, '0.').replace(/\.$/, ''));
}

/** Reads a number that cannot be negative; see readDigits. */
export function readDecimal(typed: string, rules: NumberRules): Read<Decimal> {
  const digits = readDigits(typed, rules);
  return digits.ok ? accepted(new Decimal(digits.value)) : digits;
}

/** Number of decimals in a figure that was already read, for example 1 for "54.0". */
export function decimalsOf(digits: string): number {
  return (digits.split('.')[1] ?? '').length;
}

/** Parts whole digits in groups of three: "1204" is "1,204", and "1.204" where the comma is the decimal mark. */
export const groupDigits = (whole: string, mark: DecimalMark): string =>
  whole.length < 4 ? whole : whole.replace(/\B(?=(\d{3})+$)/g, mark === '.' ? ',' : '.');

/**
 * Writes a figure with a fixed number of decimals, groups of three and a true minus sign, for people to read.
 * Rounds half away from zero.
 */
export function writeDecimal(value: Decimal, decimals: number, mark: DecimalMark): string {
  const [whole = '0', fraction] = value.abs().toFixed(decimals, Decimal.ROUND_HALF_UP).split('.');
  const grouped = groupDigits(whole, mark);
  const sign = value.isNegative() && !/^[0.]*$/.test(`${whole}.${fraction ?? ''}`) ? '−' : '';
  return sign + grouped + (fraction === undefined ? '' : mark + fraction);
}
