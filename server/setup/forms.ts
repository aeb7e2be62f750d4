import type { Insertable } from 'kysely';
import type { Db } from '../db/database.ts';
import { type GradeFamily, gradeFamilies } from '../ledger/families.ts';
import type { BinTable } from '../ledger/table.ts';
import { currencies } from '../money/currencies.ts';
import { type AmountMinor, amountMinor, writeMoneyForFile } from '../money/money.ts';
import type { Reader } from '../reading.ts';
import type { Day } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUg, type MassUnit, toWeight } from '../units/mass.ts';
import { type ReadWeight, readWeight } from '../units/read-weight.ts';
import type { YardScaleInput } from './acts.ts';
import { scaleClasses } from './compute.ts';
import { findContainer, findGrade, listGrades } from './queries.ts';
import type { Settings } from './settings.ts';
import type { ContainerTable, GradeTable, ScaleTable, YardTable } from './table.ts';

const LONGEST_NAME = 80;
const LONGEST_CODE_WORD = 40;
const MOST_STALE_DAYS = 365;
const MOST_CHECK_DAYS = 1000;
/** In major units of any currency; what is above is a slip. */
const MOST_WAGE = 100_000;
const MOST_WASTE_COST = 100_000;
/** No coin is larger than this many minor units; what is larger is a slip of the decimal mark. */
const LARGEST_CASH_STEP = 1000;

const readName = (reader: Reader): string =>
  reader.text('name', 'a name', { required: true, longest: LONGEST_NAME }).replace(/\s+/g, ' ');

/** Reads a grade; `id` is the grade that is changed, which cannot fall back to itself. */
export function readGrade(db: Db, reader: Reader, id: number | null): Insertable<GradeTable> {
  const name = readName(reader);
  const family = reader.choice('family', gradeFamilies, 'a family');
  const quotedPer = reader.priceUnit('quotedPer');
  const code = reader.text('code', 'a code word', { longest: LONGEST_CODE_WORD });
  const fallsBackToId = reader.id('fallsBackTo');
  if (fallsBackToId !== null && findGrade(db, fallsBackToId) === undefined) {
    reader.problem('fallsBackTo', 'Choose a grade from the list.');
  }
  if (id !== null && fallsBackToId === id) reader.problem('fallsBackTo', 'A grade cannot fall back to itself.');
  const recognise = reader.note('recognise');
  const spoiledBy = reader.note('spoiledBy');
  reader.done();
  return {
    name,
    family,
    quoted_per: quotedPer,
    code,
    falls_back_to_id: fallsBackToId,
    recognise,
    spoiled_by: spoiledBy,
  };
}

/** A weight as it is kept beside its mass: as typed, with its unit unless that is the ledger's own. */
function asTyped({ typed, weight }: ReadWeight, settings: Settings): string {
  return weight.unit === settings.unit || /[a-z#]/i.test(typed) ? typed : `${typed} ${weight.unit}`;
}

/** Reads a container and what it weighs empty. */
export function readContainer(reader: Reader): Insertable<ContainerTable> {
  const name = readName(reader);
  const unit = reader.massUnit('unit');
  const tare = reader.weight('tare', { ...(unit && { unit }), zeroAllowed: true, what: 'tare' });
  reader.done();
  return { name, tare_typed: asTyped(tare, reader.settings), tare_ug: tare.massUg };
}

/**
 * A weight that only describes a scale, which may be left out. Kept as its figure with a point as mark, and with its
 * unit where that is not the scale's, so that it reads the same after the ledger's decimal mark was changed.
 */
function describingWeight(reader: Reader, field: string, what: string, unit: MassUnit | undefined): string {
  const read = reader.optionalWeight(field, { what, ...(unit && { unit }) });
  if (!read) return '';
  const figure = read.weight.amount.toString();
  return read.weight.unit === unit ? figure : `${figure} ${read.weight.unit}`;
}

const readScaleClass = (reader: Reader, field: string): string =>
  reader.raw(field) === '' ? '' : reader.choice(field, scaleClasses, 'a class');

/** A step as large as the capacity: one of the two was typed into the other's field. */
function refuseCoarseScale(reader: Reader, unit: MassUnit | undefined): void {
  if (reader.hasProblems || unit === undefined) return;
  const division = reader.optionalWeight('division', { unit });
  const capacity = reader.optionalWeight('capacity', { unit });
  if (division && capacity && capacity.massUg <= division.massUg) {
    reader.problem('capacity', 'The capacity must be above the smallest step. Are the two in the right fields?');
  }
}

export function readScale(reader: Reader): Insertable<ScaleTable> {
  const name = readName(reader);
  const unit = reader.massUnit('unit');
  const division = describingWeight(reader, 'division', 'division', unit);
  const capacity = describingWeight(reader, 'capacity', 'capacity', unit);
  const tolerance = describingWeight(reader, 'tolerance', 'tolerance', unit);
  const scaleClass = readScaleClass(reader, 'class');
  refuseCoarseScale(reader, unit);
  reader.done();
  return { name, unit, division, capacity, class: scaleClass, tolerance };
}

/** Reads a yard. Without a cash step, cash is paid to the smallest unit of the currency. */
export function readYard(reader: Reader): Insertable<YardTable> {
  const name = readName(reader);
  const unit = reader.massUnit('unit');
  const cashStep = reader.money('cashStep', { what: 'cash step', emptyIs: amountMinor(1) });
  if (cashStep < 1 || cashStep > LARGEST_CASH_STEP) reader.problem('cashStep', explainCashStep(reader.settings));
  const division = describingWeight(reader, 'scaleDivision', 'division', unit);
  const scaleClass = readScaleClass(reader, 'scaleClass');
  const notes = reader.note('notes');
  reader.done();
  return { name, unit, cash_step_minor: cashStep, scale_division: division, scale_class: scaleClass, notes };
}

/** Reads a further scale of a yard; `unit` is that of the yard's tickets. */
export function readYardScale(reader: Reader, unit: MassUnit): YardScaleInput {
  const name = readName(reader);
  const division = describingWeight(reader, 'division', 'division', unit);
  const scaleClass = readScaleClass(reader, 'class');
  const families = readFamilies(reader);
  reader.done();
  return { name, division, class: scaleClass, families };
}

/** Families ticked in a form, which come parted by commas, or named in a file, parted by semicolons. */
function readFamilies(reader: Reader): GradeFamily[] {
  const names = reader
    .raw('families')
    .split(/[,;]/)
    .map((name) => name.trim().toLowerCase());
  const wanted = new Set(names.filter((name) => name !== ''));
  const families = gradeFamilies.filter((family) => wanted.has(family));
  if (families.length < wanted.size) {
    reader.problem('families', `Choose families from the list: ${gradeFamilies.join(', ')}.`);
  }
  return families;
}

function explainCashStep(settings: Settings): string {
  const write = (minor: number) => moneyField(amountMinor(minor), settings);
  return `The step lies between ${write(1)} and ${write(LARGEST_CASH_STEP)}. Enter ${write(1)} when cash is not rounded.`;
}

/** What can be read of a bin besides its grade. */
type BinFields = Pick<Insertable<BinTable>, 'code' | 'place' | 'container_id' | 'full_mark_typed' | 'full_mark_ug'>;

/** Does not end the reading, so that a new bin can read its grade too. */
function readBinFields(db: Db, reader: Reader): BinFields {
  const code = reader.raw('code');
  if (code === '') reader.problem('code', 'Enter a code, like CU2.');
  else if (!/^[A-Za-z0-9][A-Za-z0-9-]{0,11}$/.test(code)) {
    reader.problem(
      'code',
      'A code has 1 to 12 letters, digits and hyphens and begins with a letter or digit, like CU2 or AL-3.',
    );
  }
  const place = reader.text('place', 'a place', { longest: LONGEST_NAME });
  const containerId = reader.id('container');
  if (containerId !== null && findContainer(db, containerId) === undefined) {
    reader.problem('container', 'Choose a container from the list.');
  }
  const unit = reader.raw('fullMarkUnit') === '' ? reader.settings.unit : reader.massUnit('fullMarkUnit');
  const fullMark = reader.optionalWeight('fullMark', { what: 'full mark', ...(unit && { unit }) });
  return {
    code,
    place,
    container_id: containerId,
    full_mark_typed: fullMark ? asTyped(fullMark, reader.settings) : '',
    full_mark_ug: fullMark?.massUg ?? null,
  };
}

export function readNewBin(db: Db, reader: Reader, openedOn: Day): Insertable<BinTable> {
  const fields = readBinFields(db, reader);
  const gradeId = reader.requiredId('grade', 'a grade');
  if (gradeId !== undefined && findGrade(db, gradeId) === undefined) {
    reader.problem('grade', 'Choose a grade from the list.');
  }
  reader.done();
  return { ...fields, grade_id: gradeId, opened_on: openedOn, closed_on: null };
}

export function readBinChange(db: Db, reader: Reader): BinFields {
  const fields = readBinFields(db, reader);
  reader.done();
  return fields;
}

export function readLedgerSettings(reader: Reader): Settings {
  const unit = reader.massUnit('unit');
  const currency = reader.choice('currency', currencies, 'a currency');
  const mark = reader.raw('decimalMark');
  if (mark !== '.' && mark !== ',') reader.problem('decimalMark', 'Choose the point or the comma.');
  const staleQuoteDays = readDays(reader, 'staleQuoteDays', MOST_STALE_DAYS);
  const scaleCheckDays = readDays(reader, 'scaleCheckDays', MOST_CHECK_DAYS);
  const wage = optionalPrice(reader, 'wage', MOST_WAGE, 'An hour of work');
  const wasteCost = optionalPrice(reader, 'wasteCost', MOST_WASTE_COST, 'To throw waste away');
  const wastePer = reader.raw('wastePer') === '' ? unit : reader.massUnit('wastePer');
  reader.done();
  return {
    unit,
    currency,
    decimalMark: mark === ',' ? ',' : '.',
    staleQuoteDays,
    scaleCheckDays,
    wage,
    wasteCost,
    wastePer,
  };
}

/** A price that may be left out, as its digits; '' then. */
function optionalPrice(reader: Reader, field: string, most: number, what: string): string {
  if (reader.raw(field) === '') return '';
  const digits = reader.price(field);
  if (digits !== undefined && new Decimal(digits).gt(most)) {
    reader.problem(field, `${what} cannot cost more than ${most}. Check the decimal mark.`);
  }
  return digits;
}

/** A whole number of days, at least one. */
function readDays(reader: Reader, field: string, most: number): number {
  const text = reader.raw(field);
  const days = /^[0-9]{1,4}$/.test(text) ? Number.parseInt(text, 10) : 0;
  if (days < 1 || days > most) reader.problem(field, `Enter a whole number of days from 1 to ${most}.`);
  return days;
}

/** Reads a yard's own names for grades, one field `name-<gradeId>` each; grades that are not on the form keep theirs. */
export function readYardGradeNames(db: Db, reader: Reader): Map<number, string> {
  const names = new Map<number, string>();
  for (const { id } of listGrades(db)) {
    const field = `name-${id}`;
    if (reader.typed[field] === undefined) continue;
    names.set(id, reader.text(field, 'a name', { longest: LONGEST_NAME }));
  }
  reader.done();
  return names;
}

/**
 * A kept weight as the fields that it would be typed into: a figure and its unit. When the ledger's unit or decimal
 * mark was changed since it was typed, its digits would now mean something else; the figure is then written anew.
 */
export function weightFields(typed: string, mass: MassUg, settings: Settings): { figure: string; unit: MassUnit } {
  const { unit, decimalMark } = settings;
  const again = (text: string, asUnit: MassUnit) => {
    const read = readWeight(text, { unit: asUnit, decimalMark, zeroAllowed: true });
    return read.ok && read.value.massUg === mass ? read.value.weight.unit : null;
  };
  const readUnit = again(typed, unit);
  if (readUnit !== null) {
    const figure = typed.replace(/\s*(#|[a-z][a-z .]*)$/i, '');
    return { figure: again(figure, readUnit) === null ? typed : figure, unit: readUnit };
  }
  for (const other of [unit, 'lb', 'oz', 'kg'] as const) {
    const figure = toWeight(mass, other).amount.toDecimalPlaces(6, Decimal.ROUND_HALF_UP).toString();
    if (again(figure.replace('.', decimalMark), other) !== null) {
      return { figure: figure.replace('.', decimalMark), unit: other };
    }
  }
  // A microgram is a millionth of a gram, so this is exact.
  return { figure: toWeight(mass, 'g').amount.toString().replace('.', decimalMark), unit: 'g' };
}

/** An amount as it would be typed. */
export const moneyField = (amount: AmountMinor, { currency, decimalMark }: Settings): string =>
  writeMoneyForFile(amount, currency).replace('.', decimalMark);
