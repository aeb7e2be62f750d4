import type { Ledger } from '../context.ts';
import type { Flag } from '../db/columns.ts';
import { coverShortfall, openBin, refuseFuture } from '../ledger/acts.ts';
import { type BinOnHand, balanceOf, balanceOn, binAccount, openLoadAccount, soleAccount } from '../ledger/queries.ts';
import { postTransfer } from '../ledger/transfers.ts';
import { NO_MONEY } from '../money/money.ts';
import type { PriceUnit } from '../prices/compute.ts';
import { quoteAsOf } from '../prices/queries.ts';
import { Refusal } from '../refusal.ts';
import { keepWeighings, weighingsInBook } from '../scales/book-weight.ts';
import { noteEvent } from '../trail.ts';
import { type Day, writeDay } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUg, type MassUnit, massUg } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';
import { draftManifest, draftOf } from './acts.ts';
import { expectedOf, type LoadQuote } from './compute.ts';
import {
  insertManifestLine,
  type Load,
  loadsOf,
  type Manifest,
  updateManifest,
  updateManifestLine,
} from './queries.ts';

/**
 * Loads a draft: every line's mass leaves its bin, the yard's quote of that day is frozen beside it, and from then on
 * the manifest never changes.
 * @param bookShortfall a load above its bin is booked as a count difference instead of asked about
 */
export function loadManifest(ledger: Ledger, manifestId: number, loadedOn: Day, bookShortfall: boolean): void {
  refuseComing(ledger, loadedOn);
  loadDraft(ledger, manifestId, { loadedOn, bookShortfall, unquoted: new Set() });
}

/** Packed for a coming day is not a slip of the year, so it is told what a draft is for. */
function refuseComing({ clock }: Ledger, loadedOn: Day): void {
  if (loadedOn <= clock.today()) return;
  const say = 'A load is written down on the day it leaves. Load it then; until that day it stays a draft.';
  throw new Refusal('day_in_future', 'loadedOn', say);
}

interface Loading {
  loadedOn: Day;
  bookShortfall: boolean;
  /** Labels of the loads that had no quote, whatever quotes were written down since. */
  unquoted: ReadonlySet<string>;
}

function loadDraft(ledger: Ledger, manifestId: number, loading: Loading): void {
  const { loadedOn } = loading;
  ledger.db.transaction(() => {
    const { db } = ledger;
    const manifest = draftOf(ledger, manifestId);
    refuseFuture(ledger, loadedOn, 'loadedOn');
    const lines = loadsOf(db, manifestId);
    if (lines.length === 0) throw new Refusal('manifest_empty', '', 'Put at least one bin on the manifest first.');
    for (const line of lines) loadLine(ledger, manifest, line, loading);
    updateManifest(db, manifestId, { status: 'loaded', loaded_on: loadedOn });
    noteEvent(ledger, 'loaded a manifest', 'manifest', manifestId);
  });
}

function loadLine(ledger: Ledger, manifest: Manifest, line: Load, loading: Loading): void {
  const { db, settings } = ledger;
  const { loadedOn, bookShortfall, unquoted } = loading;
  const bin = openBin(ledger, line.bin_id, `gross-${line.id}`);
  const bookUg = balanceOn(db, binAccount(db, bin.id), bin.grade_id, loadedOn);
  const mass = line.mass_ug ?? bookUg;
  if (mass <= 0) {
    const when =
      loadedOn === ledger.clock.today() ? 'is empty by the book' : `was empty by the book on ${writeDay(loadedOn)}`;
    const say = `${bin.code} ${when}. Weigh it as it is loaded, or take it off the manifest.`;
    throw new Refusal('weight_missing', `gross-${line.id}`, say);
  }
  const ofYard = unquoted.has(line.label) ? undefined : quoteAsOf(db, manifest.yard_id, bin.grade_id, loadedOn);
  const quote = quoteOfLine(line, loadedOn) ?? ofYard ?? null;
  const expectedMinor = expectedOf(mass, quote, settings.currency);
  if (expectedMinor === null && quote !== null && quote.per !== 'each') {
    const weight = writeWeight(mass, settings.unit, settings.decimalMark);
    const say = `${bin.code}: ${weight} at ${quote.price} per ${quote.per} is more than can be right.`;
    throw new Refusal('too_large', `gross-${line.id}`, `${say} Check the weight and the price board.`);
  }
  updateManifestLine(db, line.id, {
    mass_ug: mass,
    price: quote?.price ?? null,
    per: quote?.per ?? null,
    seen_on: quote?.seen_on ?? null,
    // Without a price by weight nothing can be expected of a load yet; the reconciliation then goes by what is paid.
    expected_minor: expectedMinor ?? NO_MONEY,
  });
  if (line.weighed === 'book') {
    const before = { day: loadedOn, id: Number.MAX_SAFE_INTEGER };
    keepWeighings(db, line.id, weighingsInBook(ledger, { binId: bin.id, before, bookUg }));
  }
  if (!bookShortfall) askAboutDay(ledger, bin, { line, mass, bookUg, loadedOn });
  moveToLoad(ledger, { line, mass, bookUg, loadedOn, bookShortfall });
}

/** A load-out weight may be off the book by this much and still be a matter of scales and not of the day. */
const FAR_ABOVE_BOOK = '1.15';

/**
 * A load that the bin could not have held on its day, but holds by now, most likely has a wrong day: booked as it
 * stands it would make metal out of nothing. So it is asked about first.
 */
function askAboutDay({ clock, settings }: Ledger, bin: BinOnHand, moving: Omit<Moving, 'bookShortfall'>): void {
  const { line, mass, bookUg, loadedOn } = moving;
  const mostUg = line.empties_bin === 1 ? new Decimal(bookUg).times(FAR_ABOVE_BOOK) : new Decimal(bookUg);
  if (loadedOn === clock.today() || mostUg.gte(mass) || bin.mass_ug <= bookUg) return;
  const held = writeWeight(bookUg, settings.unit, settings.decimalMark);
  const say =
    `On ${writeDay(loadedOn)} the book had ${held} in ${bin.code}; more was weighed in later. ` +
    'Check the day, or tick “book the difference as a count difference”.';
  throw new Refusal('day_before_weighings', 'loadedOn', say);
}

/** The price that a file gave with a line; it goes before the yard's quote. */
const quoteOfLine = ({ price, per, seen_on }: Load, loadedOn: Day): LoadQuote | null =>
  price === null || per === null ? null : { price, per, seen_on: seen_on ?? loadedOn };

interface Moving {
  line: Load;
  mass: MassUg;
  bookUg: MassUg;
  loadedOn: Day;
  bookShortfall: boolean;
}

/** Posts the load itself, and what the load-out weight says about the book: a bin that is emptied is then empty. */
function moveToLoad(ledger: Ledger, { line, mass, bookUg, loadedOn, bookShortfall }: Moving): void {
  const { db } = ledger;
  const account = binAccount(db, line.bin_id);
  const counted = soleAccount(db, 'count_difference');
  const document = { kind: 'manifest_line', id: line.id } as const;
  const posting = { gradeId: line.grade_id, occurredOn: loadedOn, document };
  // What stays in a bin is not counted, so only a shortage that was asked about is booked.
  const shortageUg = bookShortfall ? massUg(Math.max(0, mass - bookUg)) : massUg(0);
  const differenceUg = line.empties_bin === 1 ? massUg(mass - bookUg) : shortageUg;
  const reason = 'count difference at loading';
  if (differenceUg > 0) postTransfer(ledger, { ...posting, from: counted, to: account, massUg: differenceUg, reason });
  coverShortfall(ledger, {
    binId: line.bin_id,
    leavingUg: mass,
    day: loadedOn,
    confirmed: bookShortfall,
    document,
    field: `gross-${line.id}`,
  });
  postTransfer(ledger, { ...posting, from: account, to: openLoadAccount(db, line.id), massUg: mass, reason: 'loaded' });
  if (differenceUg >= 0) return;
  const left = massUg(Math.min(-differenceUg, balanceOf(db, account, line.grade_id)));
  postTransfer(ledger, { ...posting, from: account, to: counted, massUg: left, reason });
}

/** A manifest as a file gives it: loads with their net weights, and prices where the yard's quote is not to be used. */
export interface LoadedManifestInput {
  yardId: number;
  number: string;
  loadedOn: Day;
  loads: readonly {
    label: string;
    binId: number;
    netTyped: string;
    unit: MassUnit;
    massUg: MassUg;
    /** Null for the yard's quote of that day. */
    price: string | null;
    per: PriceUnit | null;
    /** True when the yard had quoted nothing by then, even if the ledger now has a quote of that day. */
    isUnquoted?: boolean;
  }[];
}

/**
 * Enters a manifest that was loaded before, for example from a file. What was loaded was loaded: a load above its bin
 * is booked as a count difference. @returns the manifest's id
 */
export function recordLoadedManifest(ledger: Ledger, input: LoadedManifestInput): number {
  return ledger.db.transaction(() => {
    const { db } = ledger;
    const id = draftManifest(ledger, { yardId: input.yardId, binIds: [], note: '', number: input.number });
    const labels = new Set<string>();
    for (const load of input.loads) {
      if (labels.has(load.label)) {
        throw new Refusal('name_taken', 'load', `Load ${load.label} is on manifest ${input.number} twice.`);
      }
      labels.add(load.label);
      insertManifestLine(db, {
        manifest_id: id,
        label: load.label,
        bin_id: load.binId,
        weighed: 'load-out',
        empties_bin: 0 as Flag,
        container_id: null,
        scale_id: null,
        gross_typed: '',
        tare_typed: '',
        net_typed: load.netTyped,
        unit: load.unit,
        mass_ug: load.massUg,
        price: load.price,
        per: load.per,
        seen_on: null,
        expected_minor: null,
      });
    }
    const unquoted = new Set(input.loads.filter((load) => load.isUnquoted).map((load) => load.label));
    loadDraft(ledger, id, { loadedOn: input.loadedOn, bookShortfall: true, unquoted });
    return id;
  });
}
