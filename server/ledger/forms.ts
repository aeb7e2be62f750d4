import type { Db } from '../db/database.ts';
import type { Reader } from '../reading.ts';
import { findContainer, findScale } from '../setup/queries.ts';
import { NO_MASS } from '../units/mass.ts';
import type { BinTransferInput, InWeightInput, RecountInput } from './acts.ts';
import { type BinOnHand, findBinByCode } from './queries.ts';

/** The bin that a form or address names by its code. */
export function readBin(db: Db, reader: Reader, field: string, what = 'a bin'): BinOnHand {
  const code = reader.text(field, what, { required: true });
  const bin = code === '' ? undefined : findBinByCode(db, code);
  if (bin === undefined && code !== '')
    reader.problem(field, `There is no bin ${code.slice(0, 40)}. Choose one from the list.`);
  return bin as BinOnHand;
}

/**
 * Reads the bench form: bin, reading, container or typed tare, day. A typed tare goes before the container's; without
 * either, the material was weighed bare.
 */
export function readInWeight(db: Db, reader: Reader): InWeightInput {
  const bin = readBin(db, reader, 'bin');
  const unit = reader.raw('unit') === '' ? reader.settings.unit : reader.massUnit('unit');
  const gross = reader.weight('gross', { unit, what: 'reading' });
  const containerId = reader.id('container');
  const container = containerId === null ? undefined : findContainer(db, containerId);
  if (containerId !== null && container === undefined) reader.problem('container', 'Choose a container from the list.');
  const typedTare = reader.optionalWeight('tare', { unit, zeroAllowed: true });
  const occurredOn = reader.day('occurredOn');
  const scaleId = reader.id('scale');
  if (scaleId !== null && findScale(db, scaleId) === undefined)
    reader.problem('scale', 'Choose a scale from the list.');
  const note = reader.note('note');
  reader.done();
  return {
    binId: bin.id,
    scaleId,
    containerId: typedTare === null ? containerId : null,
    grossTyped: gross.typed,
    tareTyped: typedTare?.typed ?? container?.tare_typed ?? '0',
    unit,
    grossUg: gross.massUg,
    tareUg: typedTare?.massUg ?? container?.tare_ug ?? NO_MASS,
    occurredOn,
    isEstimate: reader.ticked('isEstimate'),
    note,
  };
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
