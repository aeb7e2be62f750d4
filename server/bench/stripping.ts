import type { Ledger } from '../context.ts';
import { coverShortfall, openBin, refuseFuture, refuseOverfull } from '../ledger/acts.ts';
import { soleAccount } from '../ledger/queries.ts';
import { postTransfer } from '../ledger/transfers.ts';
import { Refusal } from '../refusal.ts';
import { asPart, noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import { subtractMass } from '../units/mass.ts';
import { recordSample, refuseMoreAfter, type StrippedWeights } from './acts.ts';
import { insertStripping } from './queries.ts';

export interface StrippingInput extends StrippedWeights {
  fromBinId: number;
  toBinId: number;
  occurredOn: Day;
  note: string;
  bookShortfall: boolean;
  /** The kind of wire that it is kept as a sample of; null for none. */
  sampleOf: number | null;
}

/**
 * Strips a lot: the metal leaves the wire's bin as wire and arrives in the other bin as bare metal, by way of `outside`
 * like every regrading; the rest of it goes to waste. @returns the stripping's id
 */
export function recordStripping(ledger: Ledger, input: StrippingInput): number {
  const { db, clock } = ledger;
  return db.transaction(() => {
    if (input.fromBinId === input.toBinId) throw new Refusal('same_bin', 'toBin', 'Choose another bin for the metal.');
    const from = openBin(ledger, input.fromBinId, 'fromBin');
    const to = openBin(ledger, input.toBinId, 'toBin');
    if (from.grade_id === to.grade_id) {
      const say = `${to.code} is for ${to.grade_name}, as the wire is. Choose a bin for the bare metal.`;
      throw new Refusal('same_bin', 'toBin', say);
    }
    refuseFuture(ledger, input.occurredOn);
    refuseMoreAfter(input);
    refuseOverfull(to, input.afterUg, 'after');
    const id = insertStripping(db, {
      from_bin_id: from.id,
      to_bin_id: to.id,
      before_typed: input.beforeTyped,
      after_typed: input.afterTyped,
      unit: input.unit,
      before_ug: input.beforeUg,
      after_ug: input.afterUg,
      seconds: input.seconds,
      occurred_on: input.occurredOn,
      note: input.note,
      recorded_at: clock.now(),
    });
    const document = { kind: 'stripping', id } as const;
    const shortfall = { binId: from.id, leavingUg: input.beforeUg, day: input.occurredOn, document, field: 'before' };
    coverShortfall(ledger, { ...shortfall, confirmed: input.bookShortfall });
    const posting = { occurredOn: input.occurredOn, document };
    const outside = soleAccount(db, 'outside');
    const metal = { ...posting, massUg: input.afterUg, reason: 'stripped' };
    postTransfer(ledger, { ...metal, from: from.account_id, to: outside, gradeId: from.grade_id });
    postTransfer(ledger, { ...metal, from: outside, to: to.account_id, gradeId: to.grade_id });
    postTransfer(ledger, {
      ...posting,
      from: from.account_id,
      to: soleAccount(db, 'waste'),
      gradeId: from.grade_id,
      massUg: subtractMass(input.beforeUg, input.afterUg),
      reason: 'insulation stripped off, waste',
    });
    keepAsSample(ledger, input, id);
    noteEvent(ledger, 'stripped wire', 'stripping', id);
    return id;
  });
}

/** A lot that is kept as a sample counts as one as long as it is not taken back. */
function keepAsSample(ledger: Ledger, { sampleOf, occurredOn, ...weights }: StrippingInput, strippingId: number): void {
  if (sampleOf === null) return;
  const { beforeTyped, afterTyped, unit, beforeUg, afterUg, seconds } = weights;
  const sample = { beforeTyped, afterTyped, unit, beforeUg, afterUg, seconds, note: '' };
  recordSample(asPart(ledger), { ...sample, wireKindId: sampleOf, sampledOn: occurredOn, strippingId });
}
