import { type AmountMinor, readMoney } from './money/money.ts';
import { type PriceUnit, readPrice, readPriceUnit } from './prices/compute.ts';
import type { Settings } from './setup/settings.ts';
import { type Day, readDay } from './units/day.ts';
import type { Marks } from './units/decimal.ts';
import type { MassUnit } from './units/mass.ts';
import { type ReadWeight, readUnit, readWeight } from './units/read-weight.ts';
import type { Read } from './units/result.ts';

/** What was typed into a form or stands in a row of a file, by field name. */
export type Typed = Readonly<Record<string, string>>;
/** Sentences beside the fields they are about; '' is the form as a whole. */
export type Problems = Record<string, string>;

/** Thrown when fields could not be read; carries every problem at once. Only the transport layer catches it. */
export class Unreadable extends Error {
  readonly problems: Problems;

  constructor(problems: Problems) {
    super(Object.values(problems).join(' '));
    this.name = 'Unreadable';
    this.problems = problems;
  }
}

export const LONGEST_TEXT = 200;
export const LONGEST_NOTE = 2000;
/** Stands in for a value that could not be read; never used, because a reader with problems gives nothing out. */
const unread = <T>(): T => undefined as T;

/**
 * Reads the fields of one form or one row of a file and collects every problem instead of stopping at the first.
 * Use: read each field, call `done`, and only then use what was read: a field with a problem reads as undefined.
 */
export class Reader {
  readonly problems: Problems = {};
  readonly typed: Typed;
  readonly settings: Settings;
  /** How a point and a comma within a figure are read. */
  readonly marks: Required<Marks>;

  /** @param isStrict for files: the ledger's other mark is never a decimal mark */
  constructor(typed: Typed, settings: Settings, { isStrict = false } = {}) {
    this.typed = typed;
    this.settings = settings;
    this.marks = { decimalMark: settings.decimalMark, isStrict };
  }

  /** The trimmed text of a field, '' when it is not there. */
  raw(field: string): string {
    return (this.typed[field] ?? '').trim();
  }

  problem(field: string, sentence: string): void {
    this.problems[field] ??= sentence;
  }

  /** Takes over what a pure reader said. */
  take<T>(field: string, read: Read<T>): T {
    if (read.ok) return read.value;
    this.problem(field, read.refusal);
    return unread();
  }

  text(field: string, what: string, { required = false, longest = LONGEST_TEXT } = {}): string {
    const text = this.raw(field);
    if (required && text === '') this.problem(field, `Enter ${what}.`);
    if (text.length > longest) this.problem(field, `At most ${longest} characters, this has ${text.length}.`);
    if (hasControlCharacter(text)) this.problem(field, 'This has a character that cannot be printed. Type it again.');
    return text;
  }

  note(field: string): string {
    return this.text(field, 'a note', { longest: LONGEST_NOTE });
  }

  weight(field: string, options: { unit?: MassUnit; zeroAllowed?: boolean; what?: string } = {}): ReadWeight {
    const { unit = this.settings.unit, ...rest } = options;
    return this.take(field, readWeight(this.raw(field), { unit, ...this.marks, ...rest }));
  }

  /** A weight that may be left out. */
  optionalWeight(
    field: string,
    options: { unit?: MassUnit; zeroAllowed?: boolean; what?: string } = {},
  ): ReadWeight | null {
    return this.raw(field) === '' ? null : this.weight(field, options);
  }

  money(field: string, options: { negativeAllowed?: boolean; what?: string; emptyIs?: AmountMinor } = {}): AmountMinor {
    const { emptyIs, ...rules } = options;
    if (this.raw(field) === '' && emptyIs !== undefined) return emptyIs;
    const { currency } = this.settings;
    return this.take(field, readMoney(this.raw(field), { currency, ...this.marks, ...rules }));
  }

  /** A price as its digits with a point as mark, for example "3.60". */
  price(field: string): string {
    const read = readPrice(this.raw(field), this.marks);
    return read.ok ? read.value.digits : this.take(field, read);
  }

  priceUnit(field: string): PriceUnit {
    const unit = readPriceUnit(this.raw(field));
    if (unit !== null) return unit;
    this.problem(field, 'Choose a unit: lb, kg, net ton, gross ton, tonne, cwt, oz, ozt, g or each.');
    return unread();
  }

  massUnit(field: string): MassUnit {
    const unit = readUnit(this.raw(field));
    if (unit !== null) return unit;
    this.problem(field, 'Choose a unit of weight: lb, kg, oz, g, ozt, cwt, net ton, gross ton or tonne.');
    return unread();
  }

  day(field: string): Day {
    return this.take(field, readDay(this.raw(field)));
  }

  /** A whole number from a list of ids; '' gives null. */
  id(field: string): number | null {
    const text = this.raw(field);
    if (text === '') return null;
    if (/^\d{1,15}$/.test(text)) return Number.parseInt(text, 10);
    this.problem(field, 'Choose one from the list.');
    return null;
  }

  requiredId(field: string, what: string): number {
    const id = this.id(field);
    if (id === null) this.problem(field, `Choose ${what}.`);
    return id ?? unread();
  }

  choice<const T extends string>(field: string, choices: readonly T[], what: string): T {
    const text = this.raw(field);
    const found = choices.find((choice) => choice.toLowerCase() === text.toLowerCase());
    if (found === undefined) this.problem(field, `Choose ${what}: ${choices.join(', ')}.`);
    return found ?? unread();
  }

  ticked(field: string): boolean {
    return ['1', 'on', 'yes', 'true'].includes(this.raw(field).toLowerCase());
  }

  get hasProblems(): boolean {
    return Object.keys(this.problems).length > 0;
  }

  /** Throws Unreadable with all problems, if there are any. */
  done(): void {
    if (this.hasProblems) throw new Unreadable(this.problems);
  }
}

function hasControlCharacter(text: string): boolean {
  for (const character of text) {
    const code = character.codePointAt(0) ?? 0;
    if ((code < 32 && code !== 9 && code !== 10 && code !== 13) || code === 127) return true;
  }
  return false;
}
