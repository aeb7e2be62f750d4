import type { Insertable } from 'kysely';
import type { Db } from '../db/database.ts';
import { readBin } from '../ledger/forms.ts';
import type { Reader } from '../reading.ts';
import { findGrade } from '../setup/queries.ts';
import { readDecimal } from '../units/decimal.ts';
import type { MassUnit } from '../units/mass.ts';
import type { SampleInput, StrippedWeights } from './acts.ts';
import { findWireKind } from './queries.ts';
import type { StrippingInput } from './stripping.ts';
import type { WireKindTable } from './table.ts';

const LONGEST_NAME = 80;
/** More than a month of days and nights cannot be the time of one lot. */
const MOST_MINUTES = 50_000;

function readGradeChoice(db: Db, reader: Reader, field: string): number {
  const id = reader.requiredId(field, 'a grade');
  if (id !== undefined && id !== null && findGrade(db, id) === undefined) {
    reader.problem(field, 'Choose a grade from the list.');
  }
  return id;
}

/** Reads a kind of wire: its name, what it is sold as, and what its metal is sold as. */
export function readWireKind(db: Db, reader: Reader): Insertable<WireKindTable> {
  const name = reader.text('name', 'a name', { required: true, longest: LONGEST_NAME }).replace(/\s+/g, ' ');
  const gradeId = readGradeChoice(db, reader, 'grade');
  const bareGradeId = readGradeChoice(db, reader, 'bareGrade');
  if (!reader.hasProblems && gradeId === bareGradeId) {
    reader.problem('bareGrade', 'Choose another grade: the bare metal is not sold as wire with its insulation on.');
  }
  const note = reader.note('note');
  reader.done();
  return { name, grade_id: gradeId, bare_grade_id: bareGradeId, note };
}

/** Reads a time in minutes into whole seconds; null when it was left out. */
export function readMinutes(reader: Reader, field: string): number | null {
  if (reader.raw(field) === '') return null;
  const minutes = reader.take(
    field,
    readDecimal(reader.raw(field), { ...reader.marks, maxDecimals: 3, what: 'number of minutes' }),
  );
  if (minutes === undefined) return null;
  if (minutes.gt(MOST_MINUTES)) reader.problem(field, 'That many minutes cannot be right here.');
  const seconds = Math.round(minutes.times(60).toNumber());
  if (seconds < 1) reader.problem(field, 'Leave the minutes empty when nobody looked at the clock.');
  return seconds;
}

/** Reads what was weighed before and after. Does not end the reading. */
function readStripped(reader: Reader, { zeroAllowed }: { zeroAllowed: boolean }): StrippedWeights {
  const unit: MassUnit | undefined = reader.raw('unit') === '' ? reader.settings.unit : reader.massUnit('unit');
  const asUnit = unit === undefined ? {} : { unit };
  const before = reader.weight('before', asUnit);
  const after = reader.weight('after', { ...asUnit, zeroAllowed });
  if (before?.massUg === 0) reader.problem('before', 'This is too light for any scale. Check the unit.');
  if (after?.massUg === 0 && !zeroAllowed) reader.problem('after', 'This is too light for any scale. Check the unit.');
  const seconds = readMinutes(reader, 'minutes');
  return {
    beforeTyped: before?.typed,
    afterTyped: after?.typed,
    unit,
    beforeUg: before?.massUg,
    afterUg: after?.massUg,
    seconds,
  };
}

/** Reads a sample of a kind of wire. The metal may weigh nothing: some cable has none. */
export function readSample(reader: Reader, wireKindId: number): SampleInput {
  const weights = readStripped(reader, { zeroAllowed: true });
  const sampledOn = reader.day('sampledOn');
  const note = reader.note('note');
  reader.done();
  return { ...weights, wireKindId, sampledOn, note, strippingId: null };
}

/** Reads a lot that was stripped. */
export function readStripping(db: Db, reader: Reader): StrippingInput {
  const from = readBin(db, reader, 'fromBin', 'the bin that the wire was in');
  const to = readBin(db, reader, 'toBin', 'the bin for the metal');
  const weights = readStripped(reader, { zeroAllowed: false });
  const occurredOn = reader.day('occurredOn');
  const sampleOf = reader.id('sampleOf');
  if (sampleOf !== null && findWireKind(db, sampleOf) === undefined) {
    reader.problem('sampleOf', 'Choose a kind of wire from the list.');
  }
  const note = reader.note('note');
  reader.done();
  const bookShortfall = reader.ticked('bookShortfall');
  return { ...weights, fromBinId: from.id, toBinId: to.id, occurredOn, note, sampleOf, bookShortfall };
}
