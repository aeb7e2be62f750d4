import type { Ledger } from '../context.ts';
import { type InWeightInput, recordInWeight, refuseFuture } from '../ledger/acts.ts';
import type { AmountMinor } from '../money/money.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { closeItem, itemAtHand } from './acts.ts';
import { itemName, refuseGoneWhole } from './compute.ts';
import { fieldAt } from './output-rows.ts';
import type { Depth } from './table.ts';
import { findOutput, insertOutput, insertOutputUndone } from './teardown-queries.ts';
import { refuseBeforePickUp } from './work-acts.ts';
import { findClock } from './work-queries.ts';

/** Waste or a part kept: what goes into no bin. */
export interface OutputInput {
  kind: 'waste' | 'part';
  /** What it is; '' for waste without a name. */
  name: string;
  netTyped: string;
  /** Null for a part that was not weighed. */
  netUg: MassUg | null;
}

/** One sheet of what an item gave. */
export interface OutputSheet {
  occurredOn: Day;
  unit: MassUnit;
  /** Each with the number of its row on the form, for what is refused. */
  weighings: readonly { row: number; input: InWeightInput }[];
  others: readonly OutputInput[];
}

/** Writes down what an item gave: each filled row of bins is an in-weight of the item. All of it or, refused, nothing. */
export function recordOutputs(ledger: Ledger, itemId: number, sheet: OutputSheet): void {
  ledger.db.transaction(() => {
    const item = itemAtHand(ledger, itemId);
    refuseGoneWhole(item);
    refuseFuture(ledger, sheet.occurredOn);
    refuseBeforePickUp(item, sheet.occurredOn, 'occurredOn');
    for (const { row, input } of sheet.weighings) {
      atRow(row, () => recordInWeight(ledger, { ...input, itemId }));
    }
    for (const output of sheet.others) recordOutput(ledger, itemId, sheet, output);
  });
}

/** What is refused of one row is said beside the fields of that row. */
function atRow(row: number, act: () => unknown): void {
  try {
    act();
  } catch (error) {
    if (!(error instanceof Refusal) || !['bin', 'gross'].includes(error.field)) throw error;
    throw new Refusal(error.code, fieldAt(error.field, row), error.message);
  }
}

function recordOutput(ledger: Ledger, itemId: number, { occurredOn, unit }: OutputSheet, output: OutputInput): void {
  const { db, clock } = ledger;
  const id = insertOutput(db, {
    item_id: itemId,
    kind: output.kind,
    name: output.name,
    net_typed: output.netTyped,
    unit,
    net_ug: output.netUg,
    occurred_on: occurredOn,
    recorded_at: clock.now(),
  });
  noteEvent(ledger, output.kind === 'part' ? 'kept a part' : 'wrote down waste', 'item_output', id);
}

/** Takes waste or a part back: it counts no more, and stays in the list as taken back. */
export function undoOutput(ledger: Ledger, outputId: number): void {
  ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const output = findOutput(db, outputId);
    if (output === undefined) throw new Refusal('not_found', '', 'There is no such waste or part.');
    if (output.is_undone) throw new Refusal('already_undone', '', 'This was already taken back.');
    if (output.sale_id !== null) {
      throw new Refusal('in_use', '', `${output.name} was sold. Take its sale back first.`);
    }
    insertOutputUndone(db, outputId, clock.now());
    noteEvent(ledger, output.kind === 'part' ? 'took a part back' : 'took waste back', 'item_output', outputId);
  });
}

export interface FinishInput {
  depth: Exclude<Depth, ''>;
  closedOn: Day;
  /** What it cost to throw away what was left. */
  disposalMinor: AmountMinor;
}

/** Closes an item as taken apart. A time that is still running would go on for ever, so it is stopped first. */
export function finishTeardown(ledger: Ledger, itemId: number, finish: FinishInput): void {
  ledger.db.transaction(() => {
    if (findClock(ledger.db, itemId) !== undefined) {
      const say = `The time of ${itemName(itemId)} is still running. Stop it first, then finish.`;
      throw new Refusal('clock_running', '', say);
    }
    closeItem(ledger, itemId, { status: 'taken apart', ...finish });
  });
}
