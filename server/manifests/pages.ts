import { cautions } from '../../seed/cautions.ts';
import type { Ledger } from '../context.ts';
import type { Db } from '../db/database.ts';
import { cautionsOfKind } from '../items/cautions.ts';
import { itemsBehind } from '../items/kind-queries.ts';
import { type BinOnHand, findBin, listBinsOnHand, loadAccount } from '../ledger/queries.ts';
import { type AmountMinor, amountMinor, sumMoney } from '../money/money.ts';
import { newestQuotes, type Quote, quoteAsOf } from '../prices/queries.ts';
import { Reader, type Typed } from '../reading.ts';
import { expectedShrinkages, planningMonths } from '../reports/queries.ts';
import { type KnownScales, readKnownScales } from '../scales/comparisons.ts';
import { type LoadForYard, type QueryWeight, queryWeightOf } from '../scales/query-weight.ts';
import { type Container, findYard, listContainers, listScales, type Scale, yardGradeNames } from '../setup/queries.ts';
import { standingTicketsOf, type Ticket, ticketPayingFor, ticketsTakenBackOf } from '../tickets/queries.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUg, type MassUnit, massUg, NO_MASS, sumMass } from '../units/mass.ts';
import type { LoadOut } from './acts.ts';
import {
  type BookComparison,
  type CautionedLoad,
  cautionsFor,
  compareWithBook,
  expectedOf,
  type LoadCaution,
  type LoadQuote,
  loadFields,
  type Reading,
  readingOf,
} from './compute.ts';
import { hasFieldsOf, readLoadOut } from './forms.ts';
import { type Load, loadsOf, type Manifest } from './queries.ts';

/** A load with its figures: as they were frozen, or, on a draft, as they would be if it were loaded now. */
export interface ShownLoad {
  load: Load;
  massUg: MassUg;
  reading: Reading | null;
  quote: LoadQuote | null;
  /** Null without a price by weight. */
  expectedMinor: AmountMinor | null;
  /** From which weight on to ask the yard for a second weighing; null while the load has no weight. */
  query: QueryWeight | null;
  yardGradeName: string | null;
  /** The standing ticket that pays for it. */
  paidBy: { id: number; number: string } | null;
  /** What the book says is in its bin now, and whether the bin may still be loaded. */
  bookUg: MassUg;
  isBinClosed: boolean;
}

/** A manifest with all that its page and its sheet show. */
export interface ShownManifest {
  manifest: Manifest;
  yardUnit: MassUnit;
  scales: KnownScales;
  loads: ShownLoad[];
  totalUg: MassUg;
  expectedMinor: AmountMinor;
  /** What past sales say of it; null where nothing was sold by weight yet. */
  outlook: ManifestOutlook | null;
  tickets: Ticket[];
  /** Tickets of it that were taken back: they count for nothing and stay to be read. */
  takenBack: Ticket[];
}

/** What is left of a manifest after the shrinkage that its grades had at its yard, or elsewhere. */
export interface ManifestOutlook {
  /** Weight that will not be paid for; below zero when past sales paid for more than left home. */
  shrinkageUg: MassUg;
  /** What was expected less its shrinkage. */
  expectedMinor: AmountMinor;
}

export interface DraftLists {
  containers: Container[];
  scales: Scale[];
  /** Open bins that are not on the manifest yet. */
  otherBins: BinOnHand[];
}

export function readManifest(ledger: Ledger, manifest: Manifest): ShownManifest {
  const { db, settings } = ledger;
  const atYard: AtYard = {
    manifest,
    yardUnit: findYard(db, manifest.yard_id)?.unit ?? settings.unit,
    scales: readKnownScales(db),
    names: yardGradeNames(db, manifest.yard_id),
  };
  const loads = loadsOf(db, manifest.id).map((load) => readLoad(ledger, atYard, load));
  return {
    manifest,
    yardUnit: atYard.yardUnit,
    scales: atYard.scales,
    loads,
    totalUg: sumMass(loads.map(({ massUg }) => massUg)),
    expectedMinor: sumMoney(loads.flatMap(({ expectedMinor }) => (expectedMinor === null ? [] : [expectedMinor]))),
    outlook: outlookOf(db, manifest, loads),
    tickets: standingTicketsOf(db, manifest.id),
    takenBack: ticketsTakenBackOf(db, manifest.id),
  };
}

function outlookOf(db: Db, manifest: Manifest, loads: readonly ShownLoad[]): ManifestOutlook | null {
  const gradeIds = [...new Set(loads.map(({ load }) => load.grade_id))];
  const shares = expectedShrinkages(db, { yardId: manifest.yard_id, gradeIds, ...planningMonths(db) });
  const known = loads.map(({ load, massUg, expectedMinor }) => {
    const share = new Decimal(shares.get(load.grade_id)?.share ?? 0);
    return {
      shrinkageUg: share.times(massUg).round().toNumber(),
      expectedMinor: new Decimal(1)
        .minus(share)
        .times(expectedMinor ?? 0)
        .round()
        .toNumber(),
    };
  });
  if (![...shares.values()].some((expected) => expected !== null)) return null;
  return {
    shrinkageUg: sumMass(known.map(({ shrinkageUg }) => massUg(shrinkageUg))),
    expectedMinor: sumMoney(known.map((each) => amountMinor(each.expectedMinor))),
  };
}

/** What the loads of one manifest have in common. */
interface AtYard {
  manifest: Manifest;
  yardUnit: MassUnit;
  scales: KnownScales;
  /** The yard's own names for grades. */
  names: ReadonlyMap<number, string>;
}

function readLoad(ledger: Ledger, atYard: AtYard, load: Load): ShownLoad {
  const { db, settings, clock } = ledger;
  const { manifest, names } = atYard;
  const bin = findBin(db, load.bin_id);
  const bookUg = bin?.mass_ug ?? NO_MASS;
  const massUg = load.mass_ug ?? bookUg;
  const quote = manifest.loaded_on === null ? quoteNow(ledger, manifest, load) : frozenQuote(load);
  return {
    load,
    massUg,
    reading: readingOf(load, settings.decimalMark),
    quote,
    expectedMinor: expectedOf(massUg, quote, settings.currency),
    query: queryFor(ledger, atYard, { load, massUg, on: manifest.loaded_on ?? clock.today() }),
    yardGradeName: names.get(load.grade_id) ?? null,
    paidBy: ticketPayingFor(db, load.id) ?? null,
    bookUg,
    isBinClosed: bin?.closed_on != null,
  };
}

/** Null where there is nothing to weigh. */
const queryFor = (
  ledger: Ledger,
  { manifest, yardUnit, scales }: Pick<AtYard, 'manifest' | 'yardUnit' | 'scales'>,
  of: Pick<LoadForYard, 'load' | 'massUg' | 'on'>,
): QueryWeight | null =>
  of.massUg <= 0 ? null : queryWeightOf(ledger, scales, { ...of, yardId: manifest.yard_id, yardUnit });

const frozenQuote = ({ price, per, seen_on }: Load): LoadQuote | null =>
  price === null || per === null || seen_on === null ? null : { price, per, seen_on };

const quoteNow = ({ db, clock }: Ledger, manifest: Manifest, load: Load): LoadQuote | null =>
  quoteAsOf(db, manifest.yard_id, load.grade_id, clock.today()) ?? null;

export function readDraftLists({ db }: Ledger, loads: readonly ShownLoad[]): DraftLists {
  const onIt = new Set(loads.map(({ load }) => load.bin_id));
  return {
    containers: listContainers(db),
    scales: listScales(db),
    otherBins: listBinsOnHand(db).filter((bin) => !onIt.has(bin.id)),
  };
}

/** The fields of one load as the form would have been filled in for what is stored. */
export function typedOfLoad(load: Load): Typed {
  const fields = loadFields(load.id);
  return {
    [fields.gross]: load.gross_typed,
    // A container's own tare is not typed again, nor one of nothing, which was never typed.
    [fields.tare]: load.container_id === null && load.tare_typed !== '0' ? load.tare_typed : '',
    [fields.container]: String(load.container_id ?? ''),
    [fields.unit]: load.unit,
    [fields.scale]: String(load.scale_id ?? ''),
    [fields.empties]: load.empties_bin === 1 ? '1' : '',
  };
}

/** What was typed, filled up with what is stored for loads whose fields were not sent. */
export const typedOfDraft = (loads: readonly ShownLoad[], typed: Typed): Typed =>
  Object.assign(
    {},
    ...loads.filter(({ load }) => !hasFieldsOf(typed, load.id)).map(({ load }) => typedOfLoad(load)),
    typed,
  );

/** What the figures typed for one load come to. */
export interface UnderstoodLoad {
  /** Null while a figure cannot be read; then `problem` says why. */
  loadOut: LoadOut | null;
  problem: string | null;
  massUg: MassUg;
  /** What the scale showed; null for the book weight. */
  grossUg: MassUg | null;
  comparison: BookComparison | null;
  expectedMinor: AmountMinor | null;
  query: QueryWeight | null;
}

/** Reads the fields of one load while they are being typed. */
export function understandLoad(
  ledger: Ledger,
  atYard: Pick<AtYard, 'manifest' | 'yardUnit' | 'scales'>,
  shown: ShownLoad,
  typed: Typed,
): UnderstoodLoad {
  const reader = new Reader(typed, ledger.settings);
  const read = readLoadOut(ledger.db, reader, shown.load.id);
  const loadOut = reader.hasProblems ? null : read;
  const massUg = loadOut?.massUg ?? shown.bookUg;
  const load = asTyped(shown.load, loadOut);
  return {
    loadOut,
    problem: Object.values(reader.problems)[0] ?? null,
    massUg,
    grossUg: readingOf(load, ledger.settings.decimalMark)?.grossUg ?? null,
    comparison: loadOut?.massUg == null ? null : compareWithBook(loadOut.massUg, shown.bookUg),
    expectedMinor: expectedOf(massUg, shown.quote, ledger.settings.currency),
    query: queryFor(ledger, atYard, { load, massUg, on: ledger.clock.today() }),
  };
}

/** A load as it would be stored with what is typed; without a reading it goes by the book. */
const asTyped = (load: Load, loadOut: LoadOut | null): Load =>
  loadOut?.massUg == null
    ? { ...load, weighed: 'book', gross_typed: '', mass_ug: null }
    : {
        ...load,
        weighed: 'load-out',
        scale_id: loadOut.scaleId,
        gross_typed: loadOut.grossTyped,
        unit: loadOut.unit,
        mass_ug: loadOut.massUg,
      };

/** A bin that may be ticked for a new manifest, with its value at the chosen yard. */
export interface OfferedBin {
  bin: BinOnHand;
  quote: Quote | null;
  valueMinor: AmountMinor | null;
}

/** The bins that hold something, at a yard's newest quotes; without a yard, by weight alone. */
export function readOfferedBins({ db, clock, settings }: Ledger, yardId: number | null): OfferedBin[] {
  const quotes = yardId === null ? [] : newestQuotes(db, clock.today()).filter((quote) => quote.yard_id === yardId);
  return listBinsOnHand(db)
    .filter((bin) => bin.mass_ug > 0)
    .map((bin) => {
      const quote = quotes.find((each) => each.grade_id === bin.grade_id) ?? null;
      return { bin, quote, valueMinor: expectedOf(bin.mass_ug, quote, settings.currency) };
    });
}

/** The cautions that belong to what a manifest carries. */
export const cautionsOf = (db: Db, { manifest, loads }: ShownManifest): LoadCaution[] =>
  cautionsFor(
    cautions,
    loads.map(({ load, massUg }) => ({ ...load, massUg, items: itemsOfLoad(db, manifest, load) })),
  );

/** What a load's material came out of; on a draft, what came into its bin since that was last empty. */
function itemsOfLoad(db: Db, { loaded_on: loadedOn }: Manifest, load: Load): CautionedLoad['items'] {
  const bin = findBin(db, load.bin_id);
  const items =
    loadedOn === null
      ? bin?.since_on && itemsBehind(db, bin.account_id, bin.since_on)
      : itemsBehind(db, loadAccount(db, load.id), '');
  return (items || []).map(({ name, kind_name, cautions: keys }) => ({
    kindName: kind_name,
    cautions: cautionsOfKind({ name: kind_name, cautions: keys }, name).filter(({ followsItem }) => followsItem),
  }));
}
