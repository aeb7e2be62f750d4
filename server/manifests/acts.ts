import type { Ledger } from '../context.ts';
import { flag } from '../db/columns.ts';
import { openBin } from '../ledger/acts.ts';
import { findBin } from '../ledger/queries.ts';
import { Refusal } from '../refusal.ts';
import { findYard } from '../setup/queries.ts';
import { asPart, noteEvent } from '../trail.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';
import { loadLabel, nextNumber } from './compute.ts';
import {
  deleteManifestLine,
  findLoad,
  findManifest,
  findManifestByNumber,
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
    for (const binId of input.binIds) insertLine(ledger, id, binId);
    noteEvent(ledger, 'drafted a manifest', 'manifest', id);
    return id;
  });
}

/** A manifest that may still change. */
export function draftOf({ db }: Ledger, id: number): Manifest {
  const manifest = findManifest(db, id);
  if (manifest === undefined) throw new Refusal('not_found', '', 'There is no such manifest.');
  if (manifest.status === 'draft') return manifest;
  const say = manifest.loaded_on === null ? 'was set aside' : 'is loaded already';
  throw new Refusal('manifest_not_draft', '', `Manifest ${manifest.number} ${say} and does not change any more.`);
}

/** Adds a bin to a draft, under the next free label. A bin that is on it already stays as it is. */
export function addBinToDraft(ledger: Ledger, manifestId: number, binId: number): void {
  ledger.db.transaction(() => {
    draftOf(ledger, manifestId);
    const lineId = insertLine(ledger, manifestId, binId);
    const load = lineId === null ? undefined : findLoad(ledger.db, lineId);
    if (load === undefined) return;
    const detail = `${load.label}: ${load.bin_code}`;
    noteEvent(ledger, 'put a bin on a draft', 'manifest_line', load.id, { detail });
  });
}

/** @returns the new line's id, null for a bin that is on the draft already */
function insertLine(ledger: Ledger, manifestId: number, binId: number): number | null {
  const { db, settings } = ledger;
  const bin = openBin(ledger, binId, 'bins');
  const lines = loadsOf(db, manifestId);
  if (lines.some((line) => line.bin_id === binId)) return null;
  const taken = new Set(lines.map((line) => line.label));
  let index = 0;
  while (taken.has(loadLabel(index))) index += 1;
  return insertManifestLine(db, {
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
}

export function removeFromDraft(ledger: Ledger, manifestId: number, lineId: number): void {
  ledger.db.transaction(() => {
    draftOf(ledger, manifestId);
    const load = findLoad(ledger.db, lineId);
    if (load?.manifest_id !== manifestId) return;
    deleteManifestLine(ledger.db, lineId);
    const detail = `${load.label}: ${load.bin_code}, ${loadOutSaid(ledger, load)}`;
    // The load is gone, so the line of the trail is its manifest's.
    noteEvent(ledger, 'took a bin off a draft', 'manifest', manifestId, { detail });
  });
}

/** A draft's load-out weight in words: "34.50 lb", or "by the book". */
const loadOutSaid = ({ settings }: Ledger, load: Pick<Load, 'mass_ug' | 'unit'>): string =>
  load.mass_ug === null ? 'by the book' : writeWeight(load.mass_ug, load.unit, settings.decimalMark);

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

/** A load's weighing as it is stored. */
export const loadOutOf = (load: Load): LoadOut => ({
  lineId: load.id,
  containerId: load.container_id,
  scaleId: load.scale_id,
  grossTyped: load.gross_typed,
  tareTyped: load.tare_typed,
  netTyped: load.net_typed,
  unit: load.unit,
  massUg: load.mass_ug,
  emptiesBin: load.empties_bin === 1,
});

const isStoredAs = (load: Load, loadOut: LoadOut): boolean =>
  Object.entries(loadOutOf(load)).every(([name, value]) => loadOut[name as keyof LoadOut] === value);

/** Writes down the load-out weights of a draft. The trail says who weighed which load, as far as it was changed. */
export function weighLoads(ledger: Ledger, manifestId: number, loadOuts: readonly LoadOut[]): void {
  ledger.db.transaction(() => {
    draftOf(ledger, manifestId);
    for (const loadOut of loadOuts) {
      const before = findLoad(ledger.db, loadOut.lineId);
      if (before?.manifest_id !== manifestId || isStoredAs(before, loadOut)) continue;
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
      const now = loadOutSaid(ledger, { mass_ug: loadOut.massUg, unit: loadOut.unit });
      const detail = `${before.bin_code}: ${loadOutSaid(ledger, before)} → ${now}`;
      noteEvent(ledger, 'weighed a load of a draft', 'manifest_line', loadOut.lineId, { detail });
    }
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

/** Takes a draft up again that was set aside; it goes on as it was left. */
export function takeDraftUp(ledger: Ledger, manifestId: number): void {
  ledger.db.transaction(() => {
    const manifest = findManifest(ledger.db, manifestId);
    if (manifest === undefined) throw new Refusal('not_found', '', 'There is no such manifest.');
    if (manifest.status !== 'returned' || manifest.loaded_on !== null) {
      throw new Refusal('not_taken_back', '', `Manifest ${manifest.number} was not set aside.`);
    }
    updateManifest(ledger.db, manifestId, { status: 'draft' });
    noteEvent(ledger, 'took a draft up again', 'manifest', manifestId);
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
    return [{ ...loadOutOf(load), lineId: line.id }];
  });
  weighLoads(asPart(ledger), toId, loadOuts);
}
