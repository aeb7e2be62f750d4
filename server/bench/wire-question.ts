import type { Ledger } from '../context.ts';
import { bestQuotes } from '../home/compute.ts';
import { toMajor } from '../money/money.ts';
import { convertPrice, type UnitPrice } from '../prices/compute.ts';
import { newestQuotes, type Quote } from '../prices/queries.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import { findYard } from '../setup/queries.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUnit, unitRatio } from '../units/mass.ts';
import { findWireKind, listWireKinds, samplesOfKind, type WireKind } from './queries.ts';
import {
  isTyped,
  MICROGRAMS_PER_GRAM,
  type RecoveryFound,
  type RecoverySource,
  readRecovery,
  type SamplesSaid,
  sourceOf,
  unitOf,
  whatSamplesSay,
} from './recovery.ts';
import { stripOrSell, type Verdict } from './strip-or-sell.ts';

/** A price that goes into the answer: typed, or the best current quote of a grade. */
export interface PriceUsed {
  price: UnitPrice;
  quote: { quote: Quote; gradeName: string; yardName: string } | null;
}

export interface WireAnswer {
  unit: MassUnit;
  found: RecoveryFound;
  verdict: Verdict;
  /** Units of wire stripped in an hour; null where that is not known. */
  perHour: Decimal | null;
  isRateTyped: boolean;
  /** Major units that an hour of one's own is to bring; null where it is not counted. */
  wage: Decimal | null;
  waste: Decimal;
}

export interface WireQuestion {
  kinds: WireKind[];
  kind: WireKind | null;
  said: SamplesSaid;
  insulated: PriceUsed | null;
  bare: PriceUsed | null;
  source: RecoverySource | null;
  /** Null while something is missing, or could not be read. */
  answer: WireAnswer | null;
  /** What is missing for an answer, as sentences; nothing before anything was asked. */
  missing: string[];
  typed: Typed;
  problems: Problems;
}

/** A typed price goes before a quote; null without either. */
function readPriceUsed(
  { db }: Ledger,
  reader: Reader,
  field: string,
  grade: { id: number; name: string } | null,
  best: ReturnType<typeof bestQuotes>,
): PriceUsed | null {
  const per = unitOf(reader, `${field}Per`);
  if (reader.raw(field) !== '') {
    const digits = reader.price(field);
    return digits === undefined || per === undefined
      ? null
      : { price: { price: new Decimal(digits), per }, quote: null };
  }
  const known = grade === null ? undefined : best.get(grade.id);
  if (known === undefined || grade === null) return null;
  const { quote, unitPrice } = known;
  const yardName = findYard(db, quote.yard_id)?.name ?? '';
  return { price: unitPrice, quote: { quote, gradeName: grade.name, yardName } };
}

/** How fast one strips, and what an hour is to bring. */
function readTime(
  reader: Reader,
  said: SamplesSaid,
  unit: MassUnit,
): Pick<WireAnswer, 'perHour' | 'isRateTyped' | 'wage'> {
  const rate = reader.optionalWeight('rate', { unit: unitOf(reader, 'rateUnit') ?? unit, what: 'weight an hour' });
  if (rate?.massUg === 0) reader.problem('rate', 'Enter how much you strip in an hour, or leave it empty.');
  const wageMinor = isTyped(reader, 'wage') ? reader.money('wage') : null;
  const ugPerHour = rate === null ? said.ugPerHour : (rate?.massUg ?? null);
  const ugPerUnit = unitRatio(unit, 'g').times(MICROGRAMS_PER_GRAM);
  return {
    perHour: ugPerHour === null || ugPerHour === 0 ? null : new Decimal(ugPerHour).div(ugPerUnit),
    isRateTyped: rate !== null,
    wage: wageMinor == null ? null : toMajor(wageMinor, reader.settings.currency),
  };
}

/** The fields of the question, in the order of the form; the address has them. */
export const WIRE_FIELDS = [
  'kind',
  'insulated',
  'insulatedPer',
  'bare',
  'barePer',
  'by',
  'size',
  'sizeUnit',
  'stranding',
  'conductors',
  'length',
  'lengthUnit',
  'piece',
  'pieceUnit',
  'recovery',
  'waste',
  'wastePer',
  'rate',
  'rateUnit',
  'wage',
] as const;

function readKind({ db }: Ledger, reader: Reader): WireKind | null {
  const id = reader.id('kind');
  if (id === null) return null;
  const kind = findWireKind(db, id);
  if (kind === undefined) reader.problem('kind', 'Choose a kind of wire from the list.');
  return kind ?? null;
}

const noQuote = (gradeName: string | undefined): string =>
  gradeName === undefined ? '' : ` No yard has quoted ${gradeName} by weight yet.`;

/** What an answer still needs, one sentence each. */
function whatIsMissing(
  question: Omit<WireQuestion, 'missing' | 'answer'>,
  found: unknown,
  needsRate: boolean,
): string[] {
  const { kind, insulated, bare, source } = question;
  const lacking = [
    insulated === null ? `What the wire is paid as it is.${noQuote(kind?.grade_name)}` : '',
    bare === null ? `What its bare metal is paid.${noQuote(kind?.bare_grade_name)}` : '',
    found !== null ? '' : source === 'samples' ? 'A sample of this kind of wire: there is none yet.' : '',
    found === null && source === null ? 'How much of it is metal: by samples, by the conductor, or a figure.' : '',
    needsRate ? 'How much you strip in an hour, or samples with their minutes, so that your time can be counted.' : '',
  ];
  return lacking.filter((sentence) => sentence !== '');
}

/** Reads the whole question from an address, and answers it when everything for it is there. */
export function readWireQuestion(ledger: Ledger, typed: Typed): WireQuestion {
  const { db, clock, settings } = ledger;
  const reader = new Reader(typed, settings);
  const kind = readKind(ledger, reader);
  const said = whatSamplesSay(kind === null ? [] : samplesOfKind(db, kind.id));
  const best = bestQuotes(newestQuotes(db, clock.today()));
  const gradeOf = (id: number | undefined, name: string | undefined) =>
    id === undefined || name === undefined ? null : { id, name };
  const insulated = readPriceUsed(ledger, reader, 'insulated', gradeOf(kind?.grade_id, kind?.grade_name), best);
  const bare = readPriceUsed(ledger, reader, 'bare', gradeOf(kind?.bare_grade_id, kind?.bare_grade_name), best);
  const { unit } = settings;
  const waste = readWaste(reader, unit);
  const time = readTime(reader, said, unit);
  const source = sourceOf(reader, said);
  const found = readRecovery(reader, source, said);
  const question = { kinds: listWireKinds(db), kind, said, insulated, bare, source, typed, problems: reader.problems };
  const isAsked = WIRE_FIELDS.some((field) => isTyped(reader, field));
  if (!isAsked || reader.hasProblems) return { ...question, answer: null, missing: [] };
  const missing = whatIsMissing(question, found, time.wage !== null && time.perHour === null);
  const prices = [insulated, bare].map((used) => (used === null ? null : convertPrice(used.price, unit)));
  const [perWire, perMetal] = prices;
  if (found === null || perWire == null || perMetal == null || missing.length > 0) {
    return { ...question, answer: null, missing };
  }
  const labour = time.wage === null || time.perHour === null ? new Decimal(0) : time.wage.div(time.perHour);
  const verdict = stripOrSell(found.recovery, { bare: perMetal, insulated: perWire, waste, labour }, time.perHour);
  return { ...question, answer: { unit, found, verdict, waste, ...time }, missing };
}

/** What a unit of waste costs, in major units; nothing where nothing was typed. */
function readWaste(reader: Reader, unit: MassUnit): Decimal {
  const per = unitOf(reader, 'wastePer');
  if (!isTyped(reader, 'waste')) return new Decimal(0);
  const digits = reader.price('waste');
  if (digits === undefined || per === undefined) return new Decimal(0);
  return convertPrice({ price: new Decimal(digits), per }, unit) ?? new Decimal(0);
}
