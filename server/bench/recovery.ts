import type { Reader } from '../reading.ts';
import { type RatioEstimate, ratioOf } from '../statistics/ratio.ts';
import { Decimal, marksOf, readDecimal } from '../units/decimal.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import {
  type ConductorSize,
  type CopperMass,
  copperIn,
  lengthUnits,
  type Piece,
  readGauge,
  readSquareMillimetres,
  sizeUnits,
  strandings,
} from './conductor.ts';
import type { WireSample } from './queries.ts';
import { type Recovery, recoveryOfSamples } from './strip-or-sell.ts';

/** Where a recovery comes from. */
export const recoverySources = ['samples', 'conductor', 'figure'] as const;
export type RecoverySource = (typeof recoverySources)[number];

/** What the samples of a kind of wire say; undone ones are left out. */
export interface SamplesSaid {
  count: number;
  /** Null without a sample. */
  recovery: RatioEstimate | null;
  /** Micrograms of wire an hour, over the samples with a time. */
  ugPerHour: number | null;
  timed: number;
}

/** How the recovery was found. */
export type RecoveryFound =
  | { by: 'samples'; recovery: Recovery; said: SamplesSaid }
  | { by: 'conductor'; recovery: Recovery; piece: Piece; copper: CopperMass; weightUg: MassUg }
  | { by: 'figure'; recovery: Recovery };

export const MICROGRAMS_PER_GRAM = 1_000_000;
const SECONDS_PER_HOUR = 3600;

/** What the standing samples say together: ratio of sums, never the mean of ratios. */
export function whatSamplesSay(samples: readonly WireSample[]): SamplesSaid {
  const standing = samples.filter(({ is_undone }) => is_undone === 0);
  const timed = standing.flatMap(({ before_ug, seconds }) => (seconds === null ? [] : [{ before_ug, seconds }]));
  const seconds = timed.reduce((sum, sample) => sum + sample.seconds, 0);
  const strippedUg = timed.reduce((sum, sample) => sum + sample.before_ug, 0);
  return {
    count: standing.length,
    recovery: ratioOf(standing.map(({ before_ug, after_ug }) => ({ x: before_ug, y: after_ug }))),
    ugPerHour: seconds === 0 ? null : (strippedUg / seconds) * SECONDS_PER_HOUR,
    timed: timed.length,
  };
}

/** The unit of a field beside it; the ledger's own where none was chosen. */
export const unitOf = (reader: Reader, field: string): MassUnit =>
  reader.raw(field) === '' ? reader.settings.unit : reader.massUnit(field);

function readSize(reader: Reader): ConductorSize | null {
  const unit = reader.raw('sizeUnit') === '' ? 'AWG' : reader.choice('sizeUnit', sizeUnits, 'AWG or mm²');
  const text = reader.raw('size');
  if (unit === 'mm²') {
    return { unit, areaMm2: reader.take('size', readSquareMillimetres(text, marksOf(reader.marks))) };
  }
  return unit === undefined ? null : { unit, gauge: reader.take('size', readGauge(text)) };
}

const MOST_CONDUCTORS = 1000;

function readPiece(reader: Reader): Piece {
  const size = readSize(reader) as ConductorSize;
  const stranding = reader.raw('stranding') === '' ? 'solid' : reader.choice('stranding', strandings, 'one');
  const whole = { ...reader.marks, maxDecimals: 0, what: 'number of conductors' };
  const conductors = reader.take('conductors', readDecimal(reader.raw('conductors') || '1', whole));
  if (conductors?.isZero() || conductors?.gt(MOST_CONDUCTORS)) {
    reader.problem('conductors', `Enter a whole number of conductors from 1 to ${MOST_CONDUCTORS}.`);
  }
  const length = reader.take(
    'length',
    readDecimal(reader.raw('length'), { ...reader.marks, maxDecimals: 6, what: 'length' }),
  );
  if (length?.isZero()) reader.problem('length', 'The length has to be above zero.');
  const lengthUnit =
    reader.raw('lengthUnit') === ''
      ? (lengthUnits[0] as 'ft')
      : reader.choice('lengthUnit', lengthUnits, 'a unit of length');
  return { size, stranding, conductors: conductors?.toNumber(), length, lengthUnit };
}

const TOO_MUCH_COPPER = 'This is more copper than the piece weighs: check length, gauge and weight.';

/** The recovery by the conductor's size and a piece's length and weight. */
function readConductor(reader: Reader): RecoveryFound | null {
  const piece = readPiece(reader);
  const weight = reader.weight('piece', {
    unit: unitOf(reader, 'pieceUnit') ?? reader.settings.unit,
    what: 'weight of the piece',
  });
  if (weight?.massUg === 0) reader.problem('piece', 'This is too light for any scale. Check the unit.');
  if (reader.hasProblems) return null;
  const copper = copperIn(piece);
  const grams = weight.massUg / MICROGRAMS_PER_GRAM;
  if (copper.lowGrams > grams) {
    reader.problem('piece', TOO_MUCH_COPPER);
    return null;
  }
  const share = (copperGrams: number) => new Decimal(Math.min(1, copperGrams / grams));
  const isSure = copper.lowGrams === copper.highGrams;
  const range = isSure ? null : { low: share(copper.lowGrams), high: share(copper.highGrams) };
  return { by: 'conductor', recovery: { ratio: share(copper.grams), range }, piece, copper, weightUg: weight.massUg };
}

function readFigure(reader: Reader): RecoveryFound | null {
  const text = reader.raw('recovery').replace(/\s*%$/, '');
  const percent = reader.take(
    'recovery',
    readDecimal(text, { ...reader.marks, maxDecimals: 4, what: 'recovery in percent' }),
  );
  if (percent?.isZero()) reader.problem('recovery', 'A wire without any metal is waste. Enter more than 0 %.');
  if (percent?.gt(100)) reader.problem('recovery', 'The metal cannot weigh more than the wire: at most 100 %.');
  return reader.hasProblems ? null : { by: 'figure', recovery: { ratio: percent.div(100), range: null } };
}

export const isTyped = (reader: Reader, ...fields: string[]): boolean =>
  fields.some((field) => reader.raw(field) !== '');

/** What is chosen; without a choice, what there is: a kind's samples, else what was typed. */
export function sourceOf(reader: Reader, said: SamplesSaid): RecoverySource | null {
  if (isTyped(reader, 'by')) return reader.choice('by', recoverySources, 'where the recovery comes from');
  if (said.count > 0) return 'samples';
  if (isTyped(reader, 'recovery')) return 'figure';
  return isTyped(reader, 'size', 'length', 'piece') ? 'conductor' : null;
}

export function readRecovery(reader: Reader, source: RecoverySource | null, said: SamplesSaid): RecoveryFound | null {
  if (source === 'conductor') return readConductor(reader);
  if (source === 'figure') return readFigure(reader);
  if (source !== 'samples' || said.recovery === null) return null;
  return { by: 'samples', recovery: recoveryOfSamples(said.recovery), said };
}
