import type { SheetSum } from '../../views/items/outputs.ts';
import type { Ledger } from '../context.ts';
import type { Db } from '../db/database.ts';
import type { InWeightInput } from '../ledger/acts.ts';
import { netOf } from '../ledger/compute.ts';
import { AS_USUAL, askAboutWeight, readInWeight } from '../ledger/forms.ts';
import { NO_MONEY } from '../money/money.ts';
import { type Problems, Reader, type Typed, Unreadable } from '../reading.ts';
import { Refusal } from '../refusal.ts';
import { type MassUg, massUg, sumMass } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';
import { depths } from './compute.ts';
import { readMinutes } from './minutes.ts';
import { fieldAt, isFilled, rowsOf } from './output-rows.ts';
import type { Item } from './queries.ts';
import type { FinishInput, OutputInput, OutputSheet } from './teardown-acts.ts';
import { balanceOfItem } from './teardown-queries.ts';
import type { TypedTime, WorkInput } from './work-acts.ts';

function readTime(reader: Reader): TypedTime {
  const seconds = reader.take('minutes', readMinutes(reader.raw('minutes'), reader.marks));
  return { typed: reader.raw('minutes'), seconds };
}

/** Reads minutes that were typed afterwards. */
export function readWork(reader: Reader): WorkInput {
  const time = readTime(reader);
  const workedOn = reader.day('workedOn');
  const note = reader.note('note');
  reader.done();
  return { ...time, workedOn, note };
}

/** Reads what is said as a clock is stopped: as a rule nothing, else the minutes that were really worked. */
export function readStop(reader: Reader): TypedTime | null {
  if (reader.raw('minutes') === '') return null;
  const time = readTime(reader);
  reader.done();
  return time;
}

/** Reads how far an item was taken apart. */
export function readFinish(reader: Reader): FinishInput {
  const depth = reader.choice('depth', depths, 'how far it was taken');
  const closedOn = reader.day('closedOn');
  const disposalMinor = reader.money('disposal', { what: 'cost', emptyIs: NO_MONEY });
  reader.done();
  return { depth, closedOn, disposalMinor };
}

/** Fields of a weighing that stand once for all rows of the sheet. */
const COMMON = ['unit', 'scale', 'occurredOn'] as const;

/** One row of the sheet as the bench form would have it. */
const asWeighing = (typed: Typed, row: number): Typed => ({
  bin: typed[fieldAt('bin', row)] ?? '',
  gross: typed[fieldAt('gross', row)] ?? '',
  container: typed[fieldAt('container', row)] ?? AS_USUAL,
  tare: typed[fieldAt('tare', row)] ?? '',
  unit: typed.unit ?? '',
  scale: typed.scale ?? AS_USUAL,
  occurredOn: typed.occurredOn ?? '',
  confirm: typed.confirm ?? '',
});

/** Takes over what was wrong with one row, beside the fields of that row; with many rows a sentence says which it is about. */
function takeOver(reader: Reader, row: number, problems: Problems): void {
  for (const [field, sentence] of Object.entries(problems)) {
    const isCommon = COMMON.some((each) => each === field);
    if (isCommon || field === 'confirm' || field === '') reader.problem(field, sentence);
    else reader.problem(fieldAt(field, row), sentence);
  }
}

/** Reads one filled row of bins by the very rules of the bench; null when it could not be read. */
function readWeighing(db: Db, reader: Reader, row: number): InWeightInput | null {
  const own = new Reader(asWeighing(reader.typed, row), reader.settings);
  try {
    const input = readInWeight(db, own);
    askAboutWeight(db, own, input);
    return input;
  } catch (error) {
    if (error instanceof Unreadable) takeOver(reader, row, error.problems);
    else if (error instanceof Refusal) takeOver(reader, row, { [error.field]: error.message });
    else throw error;
    return null;
  }
}

function readPart(reader: Reader, row: number): OutputInput {
  const name = reader.text(fieldAt('part', row), 'what the part is', { required: true });
  const net = reader.optionalWeight(fieldAt('partNet', row), { unit: unitOf(reader) });
  return { kind: 'part', name, netTyped: net?.typed ?? '', netUg: net?.massUg ?? null };
}

function readWaste(reader: Reader, row: number): OutputInput {
  const name = reader.text(fieldAt('waste', row), 'what the waste is');
  const net = reader.weight(fieldAt('wasteNet', row), { unit: unitOf(reader) });
  return { kind: 'waste', name, netTyped: net?.typed ?? '', netUg: net?.massUg ?? null };
}

const unitOf = (reader: Reader) => (reader.raw('unit') === '' ? reader.settings.unit : reader.massUnit('unit'));

/** Reads the sheet of outputs; empty rows are left out, and a sheet of nothing but empty rows is refused. */
export function readOutputs(db: Db, reader: Reader): OutputSheet {
  const { typed } = reader;
  const filled = (list: 'bins' | 'parts' | 'waste') => rowsOf(typed, list).filter((row) => isFilled(typed, list, row));
  const unit = unitOf(reader);
  const occurredOn = reader.day('occurredOn');
  const weighings = filled('bins').map((row) => ({ row, input: readWeighing(db, reader, row) }));
  const parts = filled('parts').map((row) => readPart(reader, row));
  const waste = filled('waste').map((row) => readWaste(reader, row));
  if (weighings.length + parts.length + waste.length === 0) {
    reader.problem('', 'Every row is empty. Fill in what went into a bin, a part that is kept, or waste.');
  }
  reader.done();
  const read = weighings.flatMap(({ row, input }) => (input === null ? [] : [{ row, input }]));
  return { occurredOn, unit, weighings: read, others: [...parts, ...waste] };
}

/** What a sheet adds to what an item gave. Parts that were not weighed add nothing. */
export const massOfSheet = ({ weighings, others }: OutputSheet): MassUg =>
  sumMass([
    ...weighings.map(({ input }) => netOf(input) ?? massUg(0)),
    ...others.flatMap(({ netUg }) => (netUg === null ? [] : [netUg])),
  ]);

/** Asks about outputs that weigh more together than the whole item did. Ticked as right they go through. */
export function askAboutOutputs({ db, settings }: Ledger, reader: Reader, item: Item, sheet: OutputSheet): void {
  if (item.weight_ug === null || reader.ticked('confirmAbove')) return;
  const outUg = massUg(balanceOfItem(db, item).out.massUg + massOfSheet(sheet));
  if (outUg <= item.weight_ug) return;
  const write = (mass: MassUg) => writeWeight(mass, settings.unit, settings.decimalMark);
  const say =
    `With these rows ${write(outUg)} came out of an item of ${write(item.weight_ug)}: ` +
    `${write(massUg(outUg - item.weight_ug))} too much. Read the figures again, or tick that they are right.`;
  throw new Refusal('unlikely_weight', 'confirmAbove', say);
}

/**
 * What a sheet that is not finished yet comes to: the net of each row that can be read, and what is missing of the item
 * with them.
 */
export function sumSheet({ db, settings }: Ledger, reader: Reader, item: Item): SheetSum {
  const { typed } = reader;
  const write = (mass: MassUg) => writeWeight(mass, settings.unit, settings.decimalMark);
  const nets = new Map<number, string>();
  const known: MassUg[] = [];
  for (const row of rowsOf(typed, 'bins').filter((each) => isFilled(typed, 'bins', each))) {
    const input = readWeighing(db, new Reader({ ...typed, confirm: '1' }, settings), row);
    const net = input === null ? null : netOf(input);
    if (net === null || input === null) continue;
    known.push(net);
    nets.set(row, `= ${writeWeight(net, input.unit, settings.decimalMark)} net`);
  }
  for (const field of Object.keys(typed).filter((name) => /^(partNet|wasteNet)-\d{1,2}$/.test(name))) {
    const other = new Reader(typed, settings);
    const net = other.optionalWeight(field, { unit: unitOf(other) });
    if (net != null && !other.hasProblems) known.push(net.massUg);
  }
  const sheetUg = sumMass(known);
  if (sheetUg === 0) return { typed, nets, said: '' };
  const missing = item.weight_ug === null ? null : item.weight_ug - balanceOfItem(db, item).out.massUg - sheetUg;
  const of =
    missing === null
      ? ''
      : missing < 0
        ? `, ${write(massUg(-missing))} more than the item weighs`
        : `, then ${write(massUg(missing))} of the item is missing`;
  return { typed, nets, said: `${write(sheetUg)} on this sheet${of}.` };
}
