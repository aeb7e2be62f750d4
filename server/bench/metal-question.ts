import type { Ledger } from '../context.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import { toleranceAt, traitsOf } from '../scales/tolerance.ts';
import { findScale, listScales, type Scale } from '../setup/queries.ts';
import { readDecimal } from '../units/decimal.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import {
  type Density,
  densityOf,
  divisionsNeeded,
  type Matches,
  matchesOf,
  type ReadingDoubt,
  toCelsius,
} from './density.ts';
import type { Metal } from './metals.ts';
import { type Parting, partingTests, unparted } from './parting.ts';

export interface MetalAnswer {
  density: Density;
  celsius: number;
  dryUg: MassUg;
  submergedUg: MassUg;
  unit: MassUnit;
  /** Divisions that the water would have to carry for a telling answer. */
  needed: number;
  hasTolerance: boolean;
  matches: Matches;
  tests: readonly Parting[];
  unparted: readonly (readonly Metal[])[];
}

export interface MetalQuestion {
  scales: Scale[];
  answer: MetalAnswer | null;
  typed: Typed;
  problems: Problems;
}

export const METAL_FIELDS = [
  'dry',
  'submerged',
  'unit',
  'temperature',
  'temperatureUnit',
  'scale',
  'division',
] as const;

export const temperatureUnits = ['°C', '°F'] as const;
const USUAL_CELSIUS = 20;
const COLDEST = 0;
const WARMEST = 40;

/** The temperature of the water in °C; 20 where none was typed. A letter typed with the figure says which degrees. */
function readTemperature(reader: Reader): number {
  const chosen =
    reader.raw('temperatureUnit') === '' ? '°C' : reader.choice('temperatureUnit', temperatureUnits, '°C or °F');
  const [, figure = '', letter = ''] = /^(.*?)\s*°?\s*([CF]?)$/i.exec(reader.raw('temperature')) ?? [];
  if (reader.raw('temperature') === '') return USUAL_CELSIUS;
  const unit = letter === '' ? chosen : `°${letter.toUpperCase()}`;
  const isBelowZero = /^[-−–]/.test(figure);
  const size = isBelowZero ? figure.slice(1) : figure;
  const read = reader.take('temperature', readDecimal(size, { ...reader.marks, maxDecimals: 3, what: 'temperature' }));
  const degrees = (isBelowZero ? -1 : 1) * (read?.toNumber() ?? USUAL_CELSIUS);
  const celsius = unit === '°F' ? toCelsius(degrees) : degrees;
  if (celsius < COLDEST || celsius > WARMEST) {
    const say =
      'The density of water is worked out from 0 to 40 °C (32 to 104 °F). Let the water come to room temperature.';
    reader.problem('temperature', say);
  }
  return celsius;
}

function readScale({ db }: Ledger, reader: Reader): Scale | null {
  const id = reader.id('scale');
  if (id === null) return null;
  const scale = findScale(db, id);
  if (scale === undefined) reader.problem('scale', 'Choose a scale from the list.');
  return scale ?? null;
}

/** What the scale may be off by at both loads, in micrograms: a typed division goes before the scale's own. */
function readDoubt(
  reader: Reader,
  scale: Scale | null,
  unit: MassUnit,
  dryUg: number,
  wetUg: number,
): ReadingDoubt | null {
  const typed = reader.optionalWeight('division', { unit, what: 'division' });
  if (typed?.massUg === 0) reader.problem('division', 'The division has to be above zero.');
  const traits = scale === null ? null : traitsOf(scale);
  const division = typed?.massUg ?? traits?.divisionUg ?? null;
  if (division === null || division === 0) return null;
  const toleranceOf = (loadUg: number) => (traits === null ? null : toleranceAt(traits, loadUg));
  return { division, dryTolerance: toleranceOf(dryUg), wetTolerance: toleranceOf(wetUg) };
}

/** Refuses readings that no piece of metal in water gives. */
function refuseImpossible(reader: Reader, dryUg: number, wetUg: number): void {
  if (wetUg > dryUg) reader.problem('submerged', 'It weighs more in water than dry: swap the figures?');
  else if (wetUg === dryUg) {
    const say =
      'Both weights are the same, so the water carried nothing. Let the piece hang in the water, clear of the bottom.';
    reader.problem('submerged', say);
  } else if (wetUg === 0) {
    reader.problem(
      'submerged',
      'It weighs nothing in the water: it floats, or it stands on the bottom. Let it hang free.',
    );
  }
}

/** Reads the two weighings from an address, and says which metals they may be. */
export function readMetalQuestion(ledger: Ledger, typed: Typed): MetalQuestion {
  const reader = new Reader(typed, ledger.settings);
  const question = { scales: listScales(ledger.db), typed, problems: reader.problems };
  if (METAL_FIELDS.every((field) => reader.raw(field) === '')) return { ...question, answer: null };
  const scale = readScale(ledger, reader);
  const unit = reader.raw('unit') === '' ? (scale?.unit ?? ledger.settings.unit) : reader.massUnit('unit');
  const asUnit = unit === undefined ? {} : { unit };
  const dry = reader.weight('dry', { ...asUnit, what: 'dry weight' });
  const wet = reader.weight('submerged', { ...asUnit, zeroAllowed: true, what: 'weight in water' });
  const celsius = readTemperature(reader);
  if (dry !== undefined && wet !== undefined) refuseImpossible(reader, dry.massUg, wet.massUg);
  const doubt = readDoubt(reader, scale, unit ?? ledger.settings.unit, dry?.massUg ?? 0, wet?.massUg ?? 0);
  if (reader.hasProblems) return { ...question, answer: null };
  const readings = { dry: dry.massUg, submerged: wet.massUg };
  const density = densityOf({ ...readings, celsius, doubt });
  const matches = matchesOf(density);
  return {
    ...question,
    answer: {
      density,
      celsius,
      dryUg: dry.massUg,
      submergedUg: wet.massUg,
      unit,
      needed: divisionsNeeded(readings),
      hasTolerance: doubt?.dryTolerance != null,
      matches,
      tests: partingTests(matches.candidates),
      unparted: unparted(matches.candidates),
    },
  };
}
