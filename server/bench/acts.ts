import type { Insertable } from 'kysely';
import type { Ledger } from '../context.ts';
import { isStillNamed } from '../db/trouble.ts';
import type { Fields } from '../history/change.ts';
import { refuseFuture } from '../ledger/acts.ts';
import { Refusal } from '../refusal.ts';
import { noteSetUp } from '../setup/change-notes.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import {
  deleteWireKind,
  findSample,
  findWireKind,
  findWireKindByName,
  insertSample,
  insertSampleUndone,
  insertWireKind,
  updateWireKind,
} from './queries.ts';
import type { WireKindTable } from './table.ts';

const NO_KIND = 'There is no such kind of wire.';

/** A kind of wire as the trail keeps it: its own columns, without the names of its grades. */
export function wireKindFields({ db }: Ledger, id: number): Fields | undefined {
  const kind = findWireKind(db, id);
  if (kind === undefined) return undefined;
  const { grade_name: _, bare_grade_name: __, ...own } = kind;
  return own;
}

/** Adds a kind of wire, or changes the one with `id`. @returns its id */
export function saveWireKind(ledger: Ledger, id: number | null, kind: Insertable<WireKindTable>): number {
  const { db } = ledger;
  return db.transaction(() => {
    const named = findWireKindByName(db, kind.name);
    if (named !== undefined && named.id !== id) {
      throw new Refusal('name_taken', 'name', `“${kind.name}” is already in the ledger. Choose another name.`);
    }
    const before = id === null ? null : (wireKindFields(ledger, id) ?? null);
    const savedId = id ?? insertWireKind(db, kind);
    if (id !== null) updateWireKind(db, id, kind);
    const after = { ...kind } as unknown as Fields;
    noteSetUp(ledger, { kind: 'wire_kind', id: savedId, name: String(before?.name ?? kind.name), before, after });
    return savedId;
  });
}

/** Removes a kind of wire that was added by mistake; one with samples stays. */
export function removeWireKind(ledger: Ledger, id: number): void {
  const { db } = ledger;
  db.transaction(() => {
    const before = wireKindFields(ledger, id);
    if (before === undefined) throw new Refusal('not_found', '', NO_KIND);
    try {
      db.savepoint(() => deleteWireKind(db, id));
    } catch (error) {
      if (!isStillNamed(error)) throw error;
      throw new Refusal('in_use', '', `${before.name} stays, because it is in use: it has samples.`);
    }
    noteSetUp(ledger, { kind: 'wire_kind', id, name: String(before.name), before, after: null });
  });
}

/** What a piece or a lot weighed before and after it was stripped. */
export interface StrippedWeights {
  beforeTyped: string;
  afterTyped: string;
  unit: MassUnit;
  beforeUg: MassUg;
  afterUg: MassUg;
  /** Null when nobody looked at the clock. */
  seconds: number | null;
}

export interface SampleInput extends StrippedWeights {
  wireKindId: number;
  sampledOn: Day;
  note: string;
  /** The lot that it is. */
  strippingId: number | null;
}

/** The metal cannot weigh more than the wire that it came out of. */
export function refuseMoreAfter({ beforeUg, afterUg }: StrippedWeights): void {
  if (afterUg > beforeUg) {
    throw new Refusal('net_not_positive', 'after', 'The metal weighs more than the wire did. Swap the two figures?');
  }
}

/** Writes down a sample: a piece weighed with its insulation, and its metal alone. @returns its id */
export function recordSample(ledger: Ledger, input: SampleInput): number {
  const { db, clock } = ledger;
  return db.transaction(() => {
    if (findWireKind(db, input.wireKindId) === undefined) throw new Refusal('not_found', 'sampleOf', NO_KIND);
    refuseFuture(ledger, input.sampledOn, 'sampledOn');
    refuseMoreAfter(input);
    const id = insertSample(db, {
      wire_kind_id: input.wireKindId,
      before_typed: input.beforeTyped,
      after_typed: input.afterTyped,
      unit: input.unit,
      before_ug: input.beforeUg,
      after_ug: input.afterUg,
      seconds: input.seconds,
      sampled_on: input.sampledOn,
      note: input.note,
      recorded_at: clock.now(),
      stripping_id: input.strippingId,
    });
    noteEvent(ledger, 'weighed a sample of wire', 'wire_sample', id);
    return id;
  });
}

/** Takes a sample back: it counts no more, and stays in the list as taken back. */
export function undoSample(ledger: Ledger, sampleId: number): void {
  const { db, clock } = ledger;
  db.transaction(() => {
    const sample = findSample(db, sampleId);
    if (sample === undefined) throw new Refusal('not_found', '', 'There is no such sample.');
    if (sample.is_undone) throw new Refusal('already_undone', '', 'This sample was already taken back.');
    insertSampleUndone(db, sampleId, clock.now());
    noteEvent(ledger, 'took back a sample of wire', 'wire_sample', sampleId);
  });
}
