import type { Db } from '../db/database.ts';
import { numberOfItem } from '../items/compute.ts';
import type { Reader } from '../reading.ts';
import { Refusal } from '../refusal.ts';
import { capacityOf } from '../scales/tolerance.ts';
import { type Container, findContainer, findScale, listScales } from '../setup/queries.ts';
import type { Settings } from '../setup/settings.ts';
import { type MassUnit, NO_MASS } from '../units/mass.ts';
import { writeTypedWeight } from '../units/write-weight.ts';
import type { BinTransferInput, InWeightInput, RecountInput } from './acts.ts';
import { type BinOnHand, findBin, findBinByCode } from './queries.ts';

/** The bin that a form or address names by its code. */
export function readBin(db: Db, reader: Reader, field: string, what = 'a bin'): BinOnHand {
  const code = reader.text(field, what);
  if (code === '') reader.problem(field, `Choose ${what}.`);
  const bin = code === '' ? undefined : findBinByCode(db, code);
  if (bin === undefined && code !== '')
    reader.problem(field, `There is no bin ${code.slice(0, 40)}. Choose one from the list.`);
  return bin as BinOnHand;
}

/** The choice that stands for what was last used with the bin, whichever bin that is. */
export const AS_USUAL = 'usual';

/** An id from a list, or what is usual for the bin; null for none. */
function readUsual(reader: Reader, field: string, usual: number | null): number | null {
  return reader.raw(field) === AS_USUAL ? usual : reader.id(field);
}

/** The tare beside a reading when none was typed: the container's, with its own unit wherever that is not the reading's. */
export function tareOf(container: Container | undefined, unit: MassUnit, { unit: usual, decimalMark }: Settings) {
  if (container === undefined) return { tareTyped: '0', tareUg: NO_MASS };
  const { tare_typed: typed, tare_ug: tareUg } = container;
  return { tareTyped: unit === usual ? typed : writeTypedWeight(typed, usual, tareUg, decimalMark), tareUg };
}

/**
 * Reads the container and the tare. A typed tare goes before the bin's usual container; beside a container that was
 * chosen by hand it is a contradiction, and which of the two counts is not for us to guess.
 */
function readTare(db: Db, reader: Reader, bin: BinOnHand | undefined, unit: MassUnit) {
  const typed = reader.optionalWeight('tare', { unit, zeroAllowed: true, what: 'tare' });
  const containerId = readUsual(reader, 'container', bin?.container_id ?? null);
  const container = containerId === null ? undefined : findContainer(db, containerId);
  if (containerId !== null && container === undefined) reader.problem('container', 'Choose a container from the list.');
  if (typed !== null && container !== undefined && reader.raw('container') !== AS_USUAL) {
    reader.problem('tare', `Leave the tare empty to take ${container.name}, or choose no container.`);
  }
  // Undefined when it could not be read: the problem is noted, and nothing of this is used.
  if (typed !== null) return { containerId: null, tareTyped: typed?.typed, tareUg: typed?.massUg };
  return { containerId, ...tareOf(container, unit, reader.settings) };
}

/**
 * Reads the bench form: bin, reading, container or typed tare, day. Without container and tare the material was
 * weighed bare. The scale is the one chosen, else the bin's usual one, else the first of the list.
 */
export function readInWeight(db: Db, reader: Reader): InWeightInput {
  const bin = readBin(db, reader, 'bin');
  const unit = reader.raw('unit') === '' ? reader.settings.unit : reader.massUnit('unit');
  const gross = reader.weight('gross', { unit, what: 'reading' });
  const tare = readTare(db, reader, bin, unit);
  const occurredOn = reader.day('occurredOn');
  const scaleId = readUsual(reader, 'scale', bin?.scale_id ?? listScales(db)[0]?.id ?? null);
  if (scaleId !== null && findScale(db, scaleId) === undefined)
    reader.problem('scale', 'Choose a scale from the list.');
  const note = reader.note('note');
  const itemId = readItemNumber(reader);
  reader.done();
  return {
    binId: bin.id,
    scaleId,
    containerId: tare.containerId,
    grossTyped: gross.typed,
    tareTyped: tare.tareTyped,
    unit,
    grossUg: gross.massUg,
    tareUg: tare.tareUg,
    occurredOn,
    isEstimate: reader.ticked('isEstimate'),
    note,
    itemId,
  };
}

/** The number of the item that it came from, "12" or "Item 12"; null for none. */
export function readItemNumber(reader: Reader, field = 'item'): number | null {
  const text = reader.raw(field);
  if (text === '') return null;
  const id = numberOfItem(text);
  if (id === null) reader.problem(field, 'Write the number of the item, like 12. Empty is for no item.');
  return id;
}

/** Reads a recount: what the bin's content weighs now. Zero is allowed: it may be empty. */
export function readRecount(reader: Reader, binId: number): RecountInput {
  const unit = reader.raw('unit') === '' ? reader.settings.unit : reader.massUnit('unit');
  const net = reader.weight('net', { unit, zeroAllowed: true });
  const occurredOn = reader.day('occurredOn');
  const note = reader.note('note');
  reader.done();
  return { binId, netTyped: net.typed, unit, netUg: net.massUg, occurredOn, note };
}

/** Reads a move of material to another bin. */
export function readBinTransfer(db: Db, reader: Reader, fromBinId: number): BinTransferInput {
  const unit = reader.raw('unit') === '' ? reader.settings.unit : reader.massUnit('unit');
  const toBin = readBin(db, reader, 'toBin', 'the bin it moves to');
  const net = reader.weight('net', { unit });
  const occurredOn = reader.day('occurredOn');
  const note = reader.note('note');
  reader.done();
  return {
    fromBinId,
    toBinId: toBin.id,
    netTyped: net.typed,
    unit,
    netUg: net.massUg,
    occurredOn,
    note,
    bookShortfall: reader.ticked('bookShortfall'),
  };
}

/** So many times its full mark a bin may hold before it is asked about: piled high is one thing, a slip another. */
const PILED_HIGH = 2;

/**
 * Asks about a weighing that its own scale or bin could not have held, most likely a lost decimal mark. Ticked as right
 * it goes through: it is a question, not a rule.
 */
export function askAboutWeight(db: Db, reader: Reader, input: InWeightInput): void {
  if (reader.ticked('confirm')) return;
  const scale = input.scaleId === null ? undefined : findScale(db, input.scaleId);
  const capacity = scale === undefined ? null : capacityOf(scale);
  if (scale && capacity !== null && input.grossUg > capacity) {
    const most = `${scale.capacity} ${/[a-z]/.test(scale.capacity) ? '' : scale.unit}`.trim();
    const say = `${scale.name} goes up to ${most}, this reading is above it. Read it again, or tick that it is right.`;
    throw new Refusal('unlikely_weight', 'confirm', say);
  }
  const bin = findBin(db, input.binId);
  if (bin?.full_mark_ug == null) return;
  if (bin.mass_ug + input.grossUg - input.tareUg > bin.full_mark_ug * PILED_HIGH) {
    const say = `${bin.code} is full at ${bin.full_mark_typed} and would hold more than twice that. Read it again, or tick that it is right.`;
    throw new Refusal('unlikely_weight', 'confirm', say);
  }
}
