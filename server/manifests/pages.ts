import { cautions } from '../../seed/cautions.ts';
import type { Ledger } from '../context.ts';
import { type BinOnHand, findBin, listBinsOnHand } from '../ledger/queries.ts';
import { type AmountMinor, sumMoney } from '../money/money.ts';
import { newestQuotes, type Quote, quoteAsOf } from '../prices/queries.ts';
import { Reader, type Typed } from '../reading.ts';
import { type Container, findYard, listContainers, listScales, type Scale, yardGradeNames } from '../setup/queries.ts';
import { standingTicketsOf, type Ticket, ticketPayingFor } from '../tickets/queries.ts';
import { type MassUg, type MassUnit, NO_MASS, sumMass } from '../units/mass.ts';
import type { LoadOut } from './acts.ts';
import {
  type BookComparison,
  type Caution,
  cautionsFor,
  compareWithBook,
  expectedOf,
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
  loads: ShownLoad[];
  totalUg: MassUg;
  expectedMinor: AmountMinor;
  tickets: Ticket[];
}

export interface DraftLists {
  containers: Container[];
  scales: Scale[];
  /** Open bins that are not on the manifest yet. */
  otherBins: BinOnHand[];
}

export function readManifest(ledger: Ledger, manifest: Manifest): ShownManifest {
  const { db, settings } = ledger;
  const names = yardGradeNames(db, manifest.yard_id);
  const loads = loadsOf(db, manifest.id).map((load) => readLoad(ledger, manifest, load, names));
  return {
    manifest,
    yardUnit: findYard(db, manifest.yard_id)?.unit ?? settings.unit,
    loads,
    totalUg: sumMass(loads.map(({ massUg }) => massUg)),
    expectedMinor: sumMoney(loads.flatMap(({ expectedMinor }) => (expectedMinor === null ? [] : [expectedMinor]))),
    tickets: standingTicketsOf(db, manifest.id),
  };
}

function readLoad(ledger: Ledger, manifest: Manifest, load: Load, names: ReadonlyMap<number, string>): ShownLoad {
  const { db, settings } = ledger;
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
    yardGradeName: names.get(load.grade_id) ?? null,
    paidBy: ticketPayingFor(db, load.id) ?? null,
    bookUg,
    isBinClosed: bin?.closed_on != null,
  };
}

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
    // A container's own tare is not typed again.
    [fields.tare]: load.container_id === null && load.gross_typed !== '' ? load.tare_typed : '',
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
  comparison: BookComparison | null;
  expectedMinor: AmountMinor | null;
}

/** Reads the fields of one load while they are being typed. */
export function understandLoad(ledger: Ledger, shown: ShownLoad, typed: Typed): UnderstoodLoad {
  const reader = new Reader(typed, ledger.settings);
  const read = readLoadOut(ledger.db, reader, shown.load.id);
  const loadOut = reader.hasProblems ? null : read;
  const massUg = loadOut?.massUg ?? shown.bookUg;
  return {
    loadOut,
    problem: Object.values(reader.problems)[0] ?? null,
    massUg,
    comparison: loadOut?.massUg == null ? null : compareWithBook(loadOut.massUg, shown.bookUg),
    expectedMinor: expectedOf(massUg, shown.quote, ledger.settings.currency),
  };
}

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
export const cautionsOf = ({ loads }: ShownManifest): { caution: Caution; labels: string[] }[] =>
  cautionsFor(
    cautions,
    loads.map(({ load, massUg }) => ({ ...load, massUg })),
  );
