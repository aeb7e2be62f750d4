import type { EarningsReportPage } from '../../views/earnings/report.ts';
import type { EarningsSection } from '../../views/earnings/section.ts';
import type { WorthPage } from '../../views/earnings/worth.ts';
import type { Ledger } from '../context.ts';
import { cautionsOfKind } from '../items/cautions.ts';
import { salesOfItem } from '../layers/queries.ts';
import { NO_MONEY } from '../money/money.ts';
import { type Problems, Reader, type Typed, Unreadable } from '../reading.ts';
import { listGrades } from '../setup/queries.ts';
import type { Settings } from '../setup/settings.ts';
import { Decimal } from '../units/decimal.ts';
import { answerOf } from './answer.ts';
import { belowWage, earningsByKind } from './by-kind.ts';
import { type WeightPrice, wageOf } from './compute.ts';
import {
  readEarningsFilter,
  readKind,
  readWorthQuestion,
  usualFields,
  WORTH_FIELDS,
  type WorthQuestion,
} from './forms.ts';
import { pastSalesOf } from './past-sales.ts';
import {
  closedEarnings,
  type EarningsFilter,
  type Ending,
  earningsOfItem,
  endingsOf,
  gradePrices,
  listWorthKinds,
  partsOfTeardowns,
  pastTeardowns,
  pastWholeSales,
  ruleYields,
  unweighedTeardowns,
  type WorthItem,
  type WorthKind,
} from './queries.ts';
import {
  asIsOption,
  discardOption,
  learnedOption,
  type Option,
  type Rule,
  ruleOption,
  type Thing,
  unknownOption,
  wasteCostOf,
  wholeOption,
} from './worth.ts';

/** What one item earned, for its page; undefined when there is no such item. */
export function readEarningsSection({ db, settings, clock }: Ledger, itemId: number): EarningsSection | undefined {
  const earnings = earningsOfItem(db, settings, clock.today(), itemId);
  return earnings === undefined ? undefined : { earnings, sales: salesOfItem(db, itemId) };
}

const NO_FILTER: EarningsFilter = { kindId: null, from: null, to: null, onlySold: false };

/** What every kind of item earned, as the address asks for it. */
export function readEarningsReport(ledger: Ledger, typed: Typed): EarningsReportPage {
  const { db, settings, clock } = ledger;
  const wage = wageOf(settings);
  const frame = { kinds: listWorthKinds(db), wage };
  try {
    const filter = readEarningsFilter(db, new Reader(typed, settings));
    const items = closedEarnings(db, settings, clock.today(), filter);
    const rows = earningsByKind(items, settings.currency);
    return { ...frame, state: { typed, problems: {} }, filter, rows, below: belowWage(rows, wage) };
  } catch (error) {
    if (!(error instanceof Unreadable)) throw error;
    return { ...frame, state: { typed, problems: error.problems }, filter: NO_FILTER, rows: [], below: [] };
  }
}

const wasteOf = ({ wasteCost, wastePer }: Settings): WeightPrice | null =>
  wasteCost === '' ? null : { price: new Decimal(wasteCost), per: wastePer };

const FIGURE = /^\d+(\.\d+)?$/;

/** A kind's rule of thumb; what is not a figure in it is left out. */
function ruleOf({ db }: Ledger, { id, rule_minutes }: WorthKind): Rule {
  const minutes = rule_minutes.trim().replace(',', '.');
  return {
    yields: ruleYields(db, id)
      .filter(({ percent }) => FIGURE.test(percent))
      .map(({ grade_id, percent }) => ({ gradeId: grade_id, share: new Decimal(percent).div(100).toNumber() })),
    minutes: FIGURE.test(minutes) ? new Decimal(minutes) : null,
  };
}

/** Mean minutes of things of a kind that ended so, of those that were timed; none counted where none was. */
function minutesOfEnding(endings: readonly Ending[], status: Ending['status']): Decimal {
  const ending = endings.find((one) => one.status === status);
  if (ending === undefined || ending.timed === 0) return new Decimal(0);
  return new Decimal(ending.seconds).div(60 * ending.timed);
}

/** Everything that can be done with a thing. A rule of thumb stands in only where no past teardown is known at all. */
function optionsFor(ledger: Ledger, kind: WorthKind, question: WorthQuestion): Option[] {
  const { db, settings, clock } = ledger;
  const { weightUg, resale, disposal } = question;
  const waste = wasteOf(settings);
  const thing: Thing = { weightUg, prices: gradePrices(db, settings, clock.today()), waste };
  const endings = endingsOf(db, kind.id);
  const depths = (['coarse', 'fine'] as const).map((depth) =>
    learnedOption(thing, depth, pastTeardowns(db, kind.id, depth)),
  );
  const isNew = depths.every(({ learned }) => learned === null);
  return [
    resale === null ? unknownOption('whole', 'no price') : wholeOption(resale),
    asIsOption(thing, kind.as_is_grade_id, minutesOfEnding(endings, 'as is')),
    ...(isNew ? [ruleOption(thing, ruleOf(ledger, kind))] : depths),
    discardOption(disposal ?? wasteCostOf(weightUg, waste), minutesOfEnding(endings, 'discarded')),
  ];
}

/** What was asked; null while it was not asked yet, or cannot be read. */
function tryQuestion(reader: Reader): { question: WorthQuestion | null; problems: Problems } {
  try {
    return { question: readWorthQuestion(reader), problems: {} };
  } catch (error) {
    if (!(error instanceof Unreadable)) throw error;
    return { question: null, problems: error.problems };
  }
}

/**
 * What to do with a thing: an item, or a thing at the kerb of which the address names kind and weight. Nothing is kept.
 * @param item null for a thing that is no item yet
 */
export function readWorth(ledger: Ledger, query: Typed, item: WorthItem | null): WorthPage {
  const { db, settings } = ledger;
  const kinds = listWorthKinds(db);
  const given = Object.fromEntries(
    WORTH_FIELDS.flatMap((name) => (query[name] === undefined ? [] : [[name, query[name]]])),
  );
  const reader = new Reader(item === null ? given : { ...given, kind: String(item.kind_id) }, settings);
  const kind = readKind(reader, kinds);
  const sales = kind === null ? null : pastSalesOf(pastWholeSales(db, kind.id), closedOf(endingsOf(db, kind.id)));
  const typed = { ...usualFields(item, sales, settings), ...given };
  const cautions = kind === null ? [] : cautionsOfKind(kind, item?.name ?? '');
  const frame = { item, kinds, kind, cautions, sales, wage: wageOf(settings), waste: wasteOf(settings) };
  const isAsked = item === null ? Object.keys(given).length > 0 : typed.weight !== '' || given.weight !== undefined;
  const nothing = {
    ...frame,
    gradeNames: new Map<number, string>(),
    weightUg: null,
    answer: null,
    unweighed: 0,
    partsSold: NO_PARTS,
  };
  if (!isAsked) return { ...nothing, state: { typed, problems: {} } };
  if (kind === null) reader.problem('kind', 'Choose what kind of thing it is.');
  const { question, problems } = tryQuestion(new Reader(typed, settings));
  const state = { typed, problems: { ...reader.problems, ...problems } };
  if (kind === null || question === null) return { ...nothing, state };
  return {
    ...frame,
    state,
    gradeNames: new Map(listGrades(db).map(({ id, name }) => [id, name])),
    weightUg: question.weightUg,
    answer: answerOf(optionsFor(ledger, kind, question), frame.wage),
    unweighed: unweighedTeardowns(db, kind.id),
    partsSold: partsOfTeardowns(db, kind.id),
  };
}

const NO_PARTS = { netMinor: NO_MONEY, teardowns: 0 };

const closedOf = (endings: readonly Ending[]): number => endings.reduce((sum, { items }) => sum + items, 0);
