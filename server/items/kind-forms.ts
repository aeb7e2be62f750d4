import type { Db } from '../db/database.ts';
import type { Reader, Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { findGrade } from '../setup/queries.ts';
import type { Settings } from '../setup/settings.ts';
import { Decimal, readDigits } from '../units/decimal.ts';
import { cautionKeys, readCautionKeys } from './cautions.ts';
import type { ItemKindInput } from './kind-acts.ts';
import { MOST_YIELDS, yieldFields } from './kind-fields.ts';
import type { ItemKind } from './kind-queries.ts';

const LONGEST_NAME = 80;
/** A hundred hours. Whoever needs longer for one thing typed another unit. */
const MOST_MINUTES = 6000;
const WHOLE_PERCENT = 100;

type Yields = { grade_id: number; percent: string }[];

/** Reads a kind of item. What is a rule of thumb may be left out, and mostly is. */
export function readItemKind(db: Db, reader: Reader): ItemKindInput {
  const name = reader.text('name', 'a name', { required: true, longest: LONGEST_NAME }).replace(/\s+/g, ' ');
  const cautions = readCautions(reader);
  const asIsGradeId = reader.id('asIsGrade');
  if (asIsGradeId !== null && findGrade(db, asIsGradeId) === undefined) {
    reader.problem('asIsGrade', 'Choose a grade from the list.');
  }
  const ruleMinutes = readMinutes(reader);
  const yields = readYields(db, reader);
  const note = reader.note('note');
  reader.done();
  return { name, cautions, as_is_grade_id: asIsGradeId, rule_minutes: ruleMinutes, yields, note };
}

/** Cautions ticked in a form, which come parted by commas. */
function readCautions(reader: Reader): string {
  const typed = reader.raw('cautions');
  const keys = readCautionKeys(typed);
  const sent = new Set(typed.split(',').map((key) => key.trim()));
  sent.delete('');
  if ([...sent].some((key) => !cautionKeys.includes(key))) {
    reader.problem('cautions', 'Choose cautions from the list.');
  }
  return keys.join(',');
}

function readMinutes(reader: Reader): string {
  const field = 'ruleMinutes';
  if (reader.raw(field) === '') return '';
  const digits = reader.take(field, readDigits(reader.raw(field), { ...reader.marks, maxDecimals: 1, what: 'time' }));
  if (digits === undefined) return '';
  const minutes = new Decimal(digits);
  if (minutes.isZero()) reader.problem(field, 'Leave this empty when you have no rule of thumb.');
  if (minutes.gt(MOST_MINUTES)) reader.problem(field, `In minutes, at most ${MOST_MINUTES}.`);
  return digits;
}

/** The rules of thumb in percent, one grade to a row; no more comes out of a thing than it weighs. */
function readYields(db: Db, reader: Reader): Yields {
  const yields: Yields = [];
  for (let row = 1; row <= MOST_YIELDS; row += 1) readYield(db, reader, row, yields);
  const sum = yields.reduce((all, { percent }) => all.plus(percent), new Decimal(0));
  if (!reader.hasProblems && sum.gt(WHOLE_PERCENT)) {
    const say = `Together this is ${sum.toString().replace('.', reader.settings.decimalMark)} %. No more than 100 % of the weight can come out.`;
    reader.problem(yieldFields(lastRow(reader)).percent, say);
  }
  return yields;
}

/** The last row with a figure in it: there the sum went above the whole. */
function lastRow(reader: Reader): number {
  for (let row = MOST_YIELDS; row > 1; row -= 1) if (reader.raw(yieldFields(row).percent) !== '') return row;
  return 1;
}

function readYield(db: Db, reader: Reader, row: number, yields: Yields): void {
  const fields = yieldFields(row);
  const typed = reader.raw(fields.percent).replace(/\s*%$/, '');
  const gradeId = reader.id(fields.grade);
  if (typed === '' && reader.raw(fields.grade) === '') return;
  if (gradeId === null || findGrade(db, gradeId) === undefined) {
    reader.problem(fields.grade, 'Choose a grade from the list.');
  } else if (yields.some(({ grade_id }) => grade_id === gradeId)) {
    reader.problem(fields.grade, 'This grade stands above already. Put both into one row.');
  }
  const digits = reader.take(
    fields.percent,
    readDigits(typed, { ...reader.marks, maxDecimals: 2, what: 'percentage' }),
  );
  if (digits === undefined) return;
  const percent = new Decimal(digits);
  if (percent.isZero()) reader.problem(fields.percent, 'Leave the row empty for a grade that does not come out.');
  if (percent.gt(WHOLE_PERCENT))
    reader.problem(fields.percent, 'At most 100 %: no more comes out than the thing weighs.');
  if (gradeId !== null) yields.push({ grade_id: gradeId, percent: digits });
}

/** A kind of item as its form would have been typed. */
export function typedOfItemKind(kind: ItemKind, { decimalMark }: Settings): Typed {
  const digits = (text: string) => text.replace('.', decimalMark);
  const rows = kind.yields.flatMap(({ grade_id, percent }, index) => {
    const fields = yieldFields(index + 1);
    return [
      [fields.grade, String(grade_id)],
      [fields.percent, digits(percent)],
    ];
  });
  return {
    name: kind.name,
    cautions: kind.cautions,
    asIsGrade: String(kind.as_is_grade_id ?? ''),
    ruleMinutes: digits(kind.rule_minutes),
    note: kind.note,
    ...Object.fromEntries(rows),
    requestKey: newRequestKey(),
  };
}
