import type { Ledger } from '../context.ts';
import { type Flag, flag } from '../db/columns.ts';
import { coverShortfall, openBin, refuseFuture } from '../ledger/acts.ts';
import {
  type BinOnHand,
  balanceOf,
  balanceOn,
  binAccount,
  findBin,
  loadAccount,
  openLoadAccount,
  postTransfer,
  reverseGiven,
  reverseTransfers,
  soleAccount,
  standingTransfers,
} from '../ledger/queries.ts';
import { NO_MONEY } from '../money/money.ts';
import type { PriceUnit } from '../prices/compute.ts';
import { quoteAsOf } from '../prices/queries.ts';
import { Refusal } from '../refusal.ts';
import { findYard } from '../setup/queries.ts';
import { noteEvent } from '../trail.ts';
import { type Day, writeDay } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUg, type MassUnit, massUg } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';
import { expectedOf, type LoadQuote, loadLabel, nextNumber } from './compute.ts';
import {
  deleteManifestLine,
  findLoad,
  findManifest,
  findManifestByNumber,
  insertLoadReturn,
  insertLoadReturnUndone,
  insertManifest,
  insertManifestLine,
  type Load,
  loadsOf,
  type Manifest,
  manifestNumbers,
  updateManifest,
  updateManifestLine,
} from './queries.ts';

export interface DraftInput {
  yardId: number;
  binIds: readonly number[];
  note: string;
  /** Given by a file; otherwise the next number. */
  number?: string;
}

/** Begins a manifest for one yard with some bins, at book weight. @returns the manifest's id */
export function draftManifest(ledger: Ledger, input: DraftInput): number {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    if (findYard(db, input.yardId) === undefined)
      throw new Refusal('not_found', 'yard', 'Choose a yard from the list.');
    const number = input.number ?? nextNumber(manifestNumbers(db));
    if (findManifestByNumber(db, input.yardId, number) !== undefined) {
      throw new Refusal('name_taken', 'manifest', `Manifest ${number} is already in the ledger for this yard.`);
    }
    const id = insertManifest(db, {
      yard_id: input.yardId,
      number,
      status: 'draft',
      drafted_on: clock.today(),
      loaded_on: null,
      note: input.note,
    });
    for (const binId of input.binIds) addBinToDraft(ledger, id, binId);
    noteEvent(ledger, 'drafted a manifest', 'manifest', id);
    return id;
  });
}

/** A manifest that may still change. */
function draftOf({ db }: Ledger, id: number): Manifest {
  const manifest = findManifest(db, id);
  if (manifest === undefined) throw new Refusal('not_found', '', 'There is no such manifest.');
  if (manifest.status === 'draft') return manifest;
  const say = manifest.loaded_on === null ? 'was set aside' : 'is loaded already';
  throw new Refusal('manifest_not_draft', '', `Manifest ${manifest.number} ${say} and does not change any more.`);
}

/** Adds a bin to a draft, under the next free label. A bin that is on it already stays as it is. */
export function addBinToDraft(ledger: Ledger, manifestId: number, binId: number): void {
  ledger.db.transaction(() => {
    const { db, settings } = ledger;
    draftOf(ledger, manifestId);
    const bin = openBin(ledger, binId, 'bins');
    const lines = loadsOf(db, manifestId);
    if (lines.some((line) => line.bin_id === binId)) return;
    const taken = new Set(lines.map((line) => line.label));
    let index = 0;
    while (taken.has(loadLabel(index))) index += 1;
    insertManifestLine(db, {
      manifest_id: manifestId,
      label: loadLabel(index),
      bin_id: bin.id,
      weighed: 'book',
      empties_bin: 1,
      container_id: bin.container_id,
      scale_id: bin.scale_id,
      gross_typed: '',
      tare_typed: '',
      net_typed: '',
      unit: settings.unit,
      mass_ug: null,
      price: null,
      per: null,
      seen_on: null,
      expected_minor: null,
    });
  });
}

export function removeFromDraft(ledger: Ledger, manifestId: number, lineId: number): void {
  ledger.db.transaction(() => {
    draftOf(ledger, manifestId);
    if (findLoad(ledger.db, lineId)?.manifest_id === manifestId) deleteManifestLine(ledger.db, lineId);
  });
}

/** The load-out weight of one line of a draft; null weights mean: take the book weight. */
export interface LoadOut {
  lineId: number;
  containerId: number | null;
  scaleId: number | null;
  grossTyped: string;
  tareTyped: string;
  netTyped: string;
  unit: MassUnit;
  massUg: MassUg | null;
  emptiesBin: boolean;
}

/** Writes down the load-out weights of a draft. */
export function weighLoads(ledger: Ledger, manifestId: number, loadOuts: readonly LoadOut[]): void {
  ledger.db.transaction(() => {
    draftOf(ledger, manifestId);
    for (const loadOut of loadOuts) {
      if (findLoad(ledger.db, loadOut.lineId)?.manifest_id !== manifestId) continue;
      updateManifestLine(ledger.db, loadOut.lineId, {
        weighed: loadOut.massUg === null ? 'book' : 'load-out',
        empties_bin: flag(loadOut.emptiesBin),
        container_id: loadOut.containerId,
        scale_id: loadOut.scaleId,
        gross_typed: loadOut.grossTyped,
        tare_typed: loadOut.tareTyped,
        net_typed: loadOut.netTyped,
        unit: loadOut.unit,
        mass_ug: loadOut.massUg,
      });
    }
  });
}

/**
 * Loads a draft: every line's mass leaves its bin, the yard's quote of that day is frozen beside it, and from then on
 * the manifest never changes.
 * @param bookShortfall a load above its bin is booked as a count difference instead of asked about
 */
export function loadManifest(ledger: Ledger, manifestId: number, loadedOn: Day, bookShortfall: boolean): void {
  loadDraft(ledger, manifestId, { loadedOn, bookShortfall, unquoted: new Set() });
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

/** Puts a draft aside; nothing moved, nothing is lost. */
export function setDraftAside(ledger: Ledger, manifestId: number): void {
  ledger.db.transaction(() => {
    draftOf(ledger, manifestId);
    updateManifest(ledger.db, manifestId, { status: 'returned' });
    noteEvent(ledger, 'set a draft aside', 'manifest', manifestId);
  });
}

/** Begins a new draft with the bins of an earlier manifest that are still open. @returns the new manifest's id */
export function copyToDraft(ledger: Ledger, manifestId: number): number {
  return ledger.db.transaction(() => {
    const manifest = findManifest(ledger.db, manifestId);
    if (manifest === undefined) throw new Refusal('not_found', '', 'There is no such manifest.');
    const binIds = [...new Set(loadsOf(ledger.db, manifestId).map((line) => line.bin_id))].filter(
      (binId) => findBin(ledger.db, binId)?.closed_on === null,
    );
    const id = draftManifest(ledger, { yardId: manifest.yard_id, binIds, note: manifest.note });
    // What was weighed for a load that never went is still so; after a sale the bins hold something else.
    if (manifest.status === 'returned') copyReadings(ledger, manifestId, id);
    return id;
  });
}

function copyReadings(ledger: Ledger, fromId: number, toId: number): void {
  const weighed = loadsOf(ledger.db, fromId).filter((load) => load.weighed === 'load-out' && load.gross_typed !== '');
  const loadOuts = loadsOf(ledger.db, toId).flatMap((line): LoadOut[] => {
    const load = weighed.find((each) => each.bin_id === line.bin_id);
    if (load === undefined) return [];
    return [
      {
        lineId: line.id,
        containerId: load.container_id,
        scaleId: load.scale_id,
        grossTyped: load.gross_typed,
        tareTyped: load.tare_typed,
        netTyped: load.net_typed,
        unit: load.unit,
        massUg: load.mass_ug,
        emptiesBin: load.empties_bin === 1,
      },
    ];
  });
  weighLoads(ledger, toId, loadOuts);
}

/** Moves an unsold load back to the bin it came from. The caller has made sure that no ticket pays for it. */
export function postLoadReturn(
  ledger: Ledger,
  load: Load,
  returnedOn: Day,
  reason: string,
  undoesLoading: Flag = 0,
): void {
  const { db, clock } = ledger;
  openBin(ledger, load.bin_id, '');
  refuseFuture(ledger, returnedOn, 'returnedOn');
  const loadedOn = findManifest(db, load.manifest_id)?.loaded_on ?? null;
  if (loadedOn !== null && returnedOn < loadedOn) {
    const say = `This is before ${writeDay(loadedOn)}, the day the manifest was loaded. Check the day.`;
    throw new Refusal('day_before_loading', 'returnedOn', say);
  }
  if (load.load_return_id !== null)
    throw new Refusal('load_returned', '', `Load ${load.label} was already brought back.`);
  const account = loadAccount(db, load.id);
  const id = insertLoadReturn(db, {
    manifest_line_id: load.id,
    returned_on: returnedOn,
    recorded_at: clock.now(),
    reason,
    undoes_loading: undoesLoading,
  });
  postTransfer(ledger, {
    from: account,
    to: binAccount(db, load.bin_id),
    gradeId: load.grade_id,
    massUg: balanceOf(db, account, load.grade_id),
    occurredOn: returnedOn,
    reason: undoesLoading === 1 ? 'loading taken back' : 'brought back unsold',
    document: { kind: 'load_return', id },
  });
  if (undoesLoading === 0) noteEvent(ledger, 'brought a load back', 'manifest_line', load.id);
}

/**
 * Takes a load's loading back: it returns to its bin on the day it left, and what the load-out weight booked as a count
 * difference is reversed, so that the bin is as if it had never been loaded.
 */
export function postLoadingUndone(ledger: Ledger, load: Load, loadedOn: Day): void {
  postLoadReturn(ledger, load, loadedOn, '', 1);
  const account = loadAccount(ledger.db, load.id);
  const counted = standingTransfers(ledger.db, 'manifest_line', load.id).filter(
    (transfer) => transfer.to_account_id !== account && transfer.from_account_id !== account,
  );
  reverseGiven(ledger, counted, 'loading taken back');
}

/**
 * Takes a return back: the load was sold after all, and waits for its ticket line again.
 * @param bookShortfall a bin that holds less than the load by now is booked as a count difference instead of asked about
 */
export function postLoadReturnUndone(ledger: Ledger, load: Load, bookShortfall: boolean): void {
  const { db, clock } = ledger;
  if (load.load_return_id === null) throw new Refusal('already_undone', '', `Load ${load.label} is not in its bin.`);
  if (load.undoes_loading === 1) {
    throw new Refusal('manifest_not_loaded', '', 'This loading was taken back. Load its copy, a new draft, instead.');
  }
  const [returned] = standingTransfers(db, 'load_return', load.load_return_id);
  if (returned === undefined) throw new Error(`return ${load.load_return_id} moved nothing`);
  coverShortfall(ledger, {
    binId: load.bin_id,
    leavingUg: returned.mass_ug,
    // A reversal counts for the day of what it reverses, and what it needs must be there that day.
    day: returned.occurred_on,
    confirmed: bookShortfall,
    // Booked on the load, because every transfer of the return itself is about to be reversed.
    document: { kind: 'manifest_line', id: load.id },
  });
  reverseTransfers(ledger, 'load_return', load.load_return_id, 'not brought back after all');
  insertLoadReturnUndone(db, load.load_return_id, clock.now());
  noteEvent(ledger, 'took a return back', 'manifest_line', load.id);
}
