import type { Reader } from '../reading.ts';
import { Refusal } from '../refusal.ts';
import type { Scale } from '../setup/queries.ts';
import { type MassUg, massUg } from '../units/mass.ts';
import { readWeight } from '../units/read-weight.ts';
import { shownAmount, writeTypedWeight, writeWeight } from '../units/write-weight.ts';
import type { CheckInput } from './acts.ts';
import { capacityOf, traitsOf } from './tolerance.ts';

/** Reads a check with a known weight. The unit is the scale's unless another is chosen; a reading may be zero. */
export function readCheck(reader: Reader, scale: Pick<Scale, 'id' | 'unit'>): CheckInput {
  const checkedOn = reader.day('checkedOn');
  const unit = reader.raw('unit') === '' ? scale.unit : reader.massUnit('unit');
  const asUnit = unit === undefined ? {} : { unit };
  const weight = reader.weight('weight', { ...asUnit, what: 'check weight' });
  const reading = reader.weight('reading', { ...asUnit, what: 'reading', zeroAllowed: true });
  const isAdjusted = reader.ticked('isAdjusted');
  const note = reader.note('note');
  // A weight above zero may still be nothing in whole micrograms.
  if (weight?.massUg === 0) reader.problem('weight', 'This check weight is too light for any scale. Check the unit.');
  reader.done();
  return {
    scaleId: scale.id,
    checkedOn,
    weightTyped: weight.typed,
    readingTyped: reading.typed,
    unit,
    weightUg: weight.massUg,
    readingUg: reading.massUg,
    isAdjusted,
    note,
  };
}

/** A scale that is off by more than one part in five is broken or, far more often, misread. */
const FAR_OFF = 5;

/** Whether a reading is so far from the weight that one of the two was probably mistyped. */
export const isFarOff = ({ weightUg, readingUg }: Pick<CheckInput, 'weightUg' | 'readingUg'>): boolean =>
  Math.abs(readingUg - weightUg) * FAR_OFF > weightUg;

/** As many decimals as any amount is worked out to: a step of 20 g in pounds has no end, and none of it can be counted. */
const ENDLESS = 6;

/** Whether a reading in the scale's own unit is a whole number of its steps; another unit was worked out by somebody. */
function isShowable(reader: Reader, scale: Scale, { unit, readingTyped, readingUg }: CheckInput): boolean {
  const { divisionUg } = traitsOf(scale);
  const { decimalMark } = reader.settings;
  const read = readWeight(readingTyped, { unit, decimalMark, zeroAllowed: true });
  if (divisionUg === null || !read.ok || read.value.weight.unit !== scale.unit) return true;
  const division = shownAmount(massUg(divisionUg), scale.unit);
  if (division.isZero() || division.decimalPlaces() >= ENDLESS) return true;
  const steps = shownAmount(readingUg, scale.unit).div(division);
  // To a thousandth of a step: a weight in pounds is rounded to the microgram.
  return steps.toDecimalPlaces(3).isInteger();
}

const writeDivision = (reader: Reader, { division, unit }: Scale): string =>
  `${division.replace('.', reader.settings.decimalMark)}${/[a-z]/i.test(division) ? '' : ` ${unit}`}`;

/**
 * Asks about a check that a slip of the keys or of the unit could have made. Ticked as right it goes through: it is a
 * question, not a rule.
 */
export function askAboutCheck(reader: Reader, scale: Scale, input: CheckInput): void {
  if (reader.ticked('confirm')) return;
  const write = (mass: MassUg) => writeWeight(mass, input.unit, reader.settings.decimalMark);
  const ask = (sentence: string): never => {
    throw new Refusal('unlikely_weight', 'confirm', `${sentence} Look again, or tick that it is right.`);
  };
  if (input.readingUg === 0) ask(`The scale showed nothing with ${write(input.weightUg)} on it.`);
  const capacity = capacityOf(scale);
  if (capacity !== null && massUg(Math.max(input.weightUg, input.readingUg)) > capacity) {
    ask(`${scale.name} goes up to ${writeWeight(capacity, scale.unit, reader.settings.decimalMark)}.`);
  }
  if (isFarOff(input)) {
    ask(
      `${write(input.readingUg)} is far from ${write(input.weightUg)}. Did you type both figures and the unit as you read them?`,
    );
  }
  if (!isShowable(reader, scale, input)) {
    const reading = writeTypedWeight(input.readingTyped, input.unit, input.readingUg, reader.settings.decimalMark);
    ask(
      `${scale.name} shows steps of ${writeDivision(reader, scale)}, so it cannot show ${reading}. Did you type it as you read it?`,
    );
  }
}
