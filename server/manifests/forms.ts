import type { Db } from '../db/database.ts';
import { explainNoNet, netOf } from '../ledger/compute.ts';
import { tareOf } from '../ledger/forms.ts';
import { findBin } from '../ledger/queries.ts';
import type { Reader } from '../reading.ts';
import { Refusal } from '../refusal.ts';
import { capacityOf } from '../scales/tolerance.ts';
import { findContainer, findScale, findYard } from '../setup/queries.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { readWeight } from '../units/read-weight.ts';
import { writeWeight } from '../units/write-weight.ts';
import { idsOf } from '../web.ts';
import type { DraftInput, LoadOut } from './acts.ts';
import { compareWithBook, loadFields } from './compute.ts';
import type { Load } from './queries.ts';

/** Whether a form has the fields of a load. An unticked box sends nothing, so only the others can tell. */
export const hasFieldsOf = (typed: Readonly<Record<string, string>>, lineId: number): boolean => {
  const { empties: _, ...sent } = loadFields(lineId);
  return Object.values(sent).some((field) => typed[field] !== undefined);
};

/** Reads a new manifest: the yard and at least one bin. */
export function readDraft(db: Db, reader: Reader): DraftInput {
  const yardId = reader.requiredId('yard', 'a yard');
  if (reader.problems.yard === undefined && findYard(db, yardId) === undefined) {
    reader.problem('yard', 'Choose a yard from the list.');
  }
  const binIds = readBins(db, reader);
  const note = reader.note('note');
  reader.done();
  return { yardId, binIds, note };
}

/** Reads ticked bins, at least one. */
export function readBins(db: Db, reader: Reader): number[] {
  const ids = [...new Set(idsOf(reader.raw('bins')))];
  if (ids.length === 0) reader.problem('bins', 'Tick at least one bin.');
  if (ids.some((id) => findBin(db, id) === undefined)) reader.problem('bins', 'Choose bins from the list.');
  return ids;
}

/**
 * Reads the load-out weights of a draft. A load whose fields were not sent stays as it is. Collects problems in the
 * reader; the caller calls `done` before it uses what was read.
 */
export const readLoadOuts = (db: Db, reader: Reader, loads: readonly Load[]): LoadOut[] =>
  loads.filter((load) => hasFieldsOf(reader.typed, load.id)).map((load) => readLoadOut(db, reader, load.id));

/** Reads one load-out weight: reading less container or typed tare; without a reading, the book weight. */
export function readLoadOut(db: Db, reader: Reader, lineId: number): LoadOut {
  const fields = loadFields(lineId);
  const unit = reader.raw(fields.unit) === '' ? reader.settings.unit : reader.massUnit(fields.unit);
  const containerId = readKnown(reader, fields.container, 'a container', (id) => findContainer(db, id) !== undefined);
  const scaleId = readKnown(reader, fields.scale, 'a scale', (id) => findScale(db, id) !== undefined);
  const kept = { lineId, containerId, scaleId, unit, emptiesBin: reader.ticked(fields.empties) };
  const tare = reader.optionalWeight(fields.tare, { unit, zeroAllowed: true, what: 'tare' });
  if (reader.raw(fields.gross) === '') {
    if (tare !== null) {
      reader.problem(fields.gross, 'There is a tare without a reading. Type the reading, or clear the tare.');
    }
    return { ...kept, grossTyped: '', tareTyped: '', netTyped: '', massUg: null };
  }
  const container = containerId === null || tare !== null ? undefined : findContainer(db, containerId);
  const gross = reader.weight(fields.gross, { unit, what: 'reading' });
  const weighing = {
    grossTyped: reader.raw(fields.gross),
    ...(tare ? { tareTyped: tare.typed, tareUg: tare.massUg } : tareOf(container, unit, reader.settings)),
  };
  const massUg = readNet(reader, fields.gross, { ...weighing, unit, grossUg: gross?.massUg });
  return { ...kept, containerId: tare === null ? containerId : null, ...weighing, netTyped: '', massUg };
}

/**
 * Asks about load-out weights that a slip of the keys or of the unit could have made, before they are frozen: far off
 * the book of their bin, or above what the scale can weigh. Ticked as right they go through.
 */
export function askAboutLoads(db: Db, reader: Reader, loads: readonly Load[], loadOuts: readonly LoadOut[]): void {
  if (reader.ticked('confirm')) return;
  const write = (mass: MassUg) => writeWeight(mass, reader.settings.unit, reader.settings.decimalMark);
  for (const { lineId, massUg: mass, emptiesBin, scaleId, grossTyped, unit } of loadOuts) {
    const load = loads.find(({ id }) => id === lineId);
    const bin = load === undefined ? undefined : findBin(db, load.bin_id);
    if (load === undefined || bin === undefined || mass === null) continue;
    const ask = (sentence: string): never => {
      throw new Refusal(
        'unlikely_weight',
        'confirm',
        `${load.label}: ${sentence} Read it again, or tick that it is right.`,
      );
    };
    const scale = scaleId === null ? undefined : findScale(db, scaleId);
    const capacity = scale === undefined ? null : capacityOf(scale);
    const gross = readWeight(grossTyped, { unit, decimalMark: reader.settings.decimalMark });
    if (scale && capacity !== null && gross.ok && gross.value.massUg > capacity) {
      ask(`${scale.name} goes up to ${write(capacity)}, this reading is above it.`);
    }
    const { isFar, differenceUg } = compareWithBook(mass, bin.mass_ug);
    // What stays in a bin is not counted: less is a part of it, and more is asked about where it leaves the bin short.
    if (!isFar || (!emptiesBin && (differenceUg < 0 || !reader.ticked('bookShortfall')))) continue;
    const side = differenceUg > 0 ? 'above' : 'below';
    ask(`${write(mass)} is far ${side} the book weight of ${bin.code}, ${write(bin.mass_ug)}.`);
  }
}

interface TypedWeighing {
  grossTyped: string;
  tareTyped: string;
  tareUg: MassUg;
  unit: MassUnit;
  /** Undefined when the reading could not be read. */
  grossUg: MassUg | undefined;
}

function readNet(reader: Reader, field: string, { grossUg, ...weighing }: TypedWeighing): MassUg | null {
  if (grossUg === undefined || reader.problems[field] !== undefined) return null;
  const net = netOf({ grossUg, tareUg: weighing.tareUg });
  if (net === null && weighing.unit !== undefined) {
    reader.problem(field, explainNoNet({ ...weighing, grossUg }, reader.settings.decimalMark));
  }
  return net;
}

function readKnown(reader: Reader, field: string, what: string, isKnown: (id: number) => boolean): number | null {
  const id = reader.id(field);
  if (id !== null && !isKnown(id)) reader.problem(field, `Choose ${what} from the list.`);
  return id;
}

export interface ReturnInput {
  returnedOn: Day;
  reason: string;
}

/** Reads when and why unsold loads came back. */
export function readReturn(reader: Reader): ReturnInput {
  const returnedOn = reader.day('returnedOn');
  const reason = reader.text('reason', 'why it came back');
  reader.done();
  return { returnedOn, reason };
}
