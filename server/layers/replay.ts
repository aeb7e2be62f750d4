import type { Db } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import {
  addFound,
  byItem,
  filledUp,
  type Layer,
  massOfLayers,
  type Part,
  resized,
  takeFromFront,
  takeOfEach,
} from './compute.ts';
import { type Inflow, listInflows, listSteps, partsOfInflow, partsOfLoad, type Step } from './lines.ts';

/** A bin's queue at the end of a day. */
export interface QueueState {
  /** The last step that was followed. */
  readonly settledOn: Day | '';
  readonly settledId: number;
  /** The last inflow that was drawn on; later ones stand behind the layers just as they came. */
  readonly drawnOn: Day | '';
  readonly drawnId: number;
  /** What is left of the inflows up to that one, oldest first. */
  readonly layers: readonly Layer[];
  /** What was already taken of later steps that bring material in, by transfer. */
  readonly ahead: readonly Part[];
}

export const emptyQueue: QueueState = {
  settledOn: '',
  settledId: 0,
  drawnOn: '',
  drawnId: 0,
  layers: [],
  ahead: [],
};

/** Items' material that a step took out of the bin (below zero) or brought into it. */
export interface StepParts {
  readonly step: Step;
  readonly parts: readonly Part[];
}

export interface Followed {
  /** The queue after the last step. */
  readonly state: QueueState;
  /** The queue at the end of each day on which there was a step, in order. */
  readonly days: readonly QueueState[];
  /** Steps that moved material of items. */
  readonly parts: readonly StepParts[];
}

const FEW = 32;
const MANY = 1_000;

/** Whether one place in a line, by day and id, comes before or is another. */
const isUpTo = (onDay: string, id: number, lastOn: string, lastId: number): boolean =>
  onDay < lastOn || (onDay === lastOn && id <= lastId);

const items = (parts: readonly Part[], sign: 1 | -1): Part[] =>
  byItem(parts.filter(([itemId]) => itemId !== 0)).map(([itemId, mass]) => [itemId, sign * mass]);

/** Follows one bin step by step. Reads only. */
class Follower {
  readonly #db: Db;
  readonly #accountId: number;
  readonly #steps: readonly Step[];
  #layers: Layer[];
  #drawn: { on: Day | ''; id: number };
  /** The inflows behind those, as far as they were read. */
  #coming: Inflow[] = [];
  #atOnce = FEW;
  #isDry = false;
  readonly #ahead: Map<number, number>;
  /** What is in the loads of this stretch, by account: it may come back before anything of it is stored. */
  readonly #loads = new Map<number, readonly Part[]>();

  constructor(db: Db, accountId: number, from: QueueState) {
    this.#db = db;
    this.#accountId = accountId;
    this.#steps = listSteps(db, accountId, from.settledOn);
    this.#drawn = { on: from.drawnOn, id: from.drawnId };
    this.#layers = [...from.layers];
    this.#ahead = new Map(from.ahead);
  }

  followAll(from: QueueState): Followed {
    const parts: StepParts[] = [];
    const days: QueueState[] = [];
    this.#steps.forEach((step, place) => {
      const moved = this.#follow(step, place);
      if (moved.length > 0) parts.push({ step, parts: moved });
      if (this.#steps[place + 1]?.occurred_on !== step.occurred_on) days.push(this.#stateAfter(step));
    });
    return { state: days.at(-1) ?? from, days, parts };
  }

  #follow(step: Step, place: number): Part[] {
    if (step.to_account_id === this.#accountId) return this.#takeIn(step);
    const isLoaded = step.to_kind === 'load';
    if (!isLoaded) this.#drawUpTo(step);
    this.#ensure(step, place);
    const { taken, left } = (isLoaded ? takeFromFront : takeOfEach)(this.#layers, step.mass_ug);
    this.#layers = [...left];
    if (isLoaded) this.#loads.set(step.to_account_id, taken);
    return items(taken, -1);
  }

  #stateAfter(step: Step): QueueState {
    return {
      settledOn: step.occurred_on,
      settledId: step.id,
      drawnOn: this.#drawn.on,
      drawnId: this.#drawn.id,
      layers: [...this.#layers],
      ahead: [...this.#ahead].sort(([a], [b]) => a - b),
    };
  }

  #takeIn(step: Step): Part[] {
    const massUg = this.#isLeftOf(step);
    this.#ahead.delete(step.id);
    if (massUg === 0) return [];
    this.#drawUpTo(step);
    if (step.from_kind === 'count_difference') {
      const { added, left } = addFound(this.#layers, massUg, step.occurred_on);
      this.#layers = [...left];
      return items(added, 1);
    }
    // What comes back was the oldest when it left, and is so again.
    const known = this.#loads.get(step.from_account_id) ?? partsOfLoad(this.#db, step.from_account_id);
    const parts = resized(filledUp(known, step.mass_ug), massUg);
    this.#layers = [[step.occurred_on, parts], ...this.#layers];
    return items(parts, 1);
  }

  /** Draws inflows, oldest first, until there is enough for what a step takes. */
  #ensure(step: Step, place: number): void {
    let held = massOfLayers(this.#layers);
    while (held < step.mass_ug) {
      const next = this.#next();
      const found = this.#nextBringing(place);
      const isFoundFirst =
        found !== undefined && (next === undefined || isUpTo(found.occurred_on, found.id, next.occurred_on, next.id));
      if (isFoundFirst) held += this.#takeAhead(found, step.mass_ug - held);
      else if (next !== undefined) held += this.#draw(next, step);
      else throw new Error(`account ${this.#accountId} gave more by transfer ${step.id} than ever came in`);
    }
  }

  /** The next step behind a place that brings something in of which something is left. */
  #nextBringing(place: number): Step | undefined {
    for (let behind = place + 1; behind < this.#steps.length; behind += 1) {
      const step = this.#steps[behind];
      if (step?.to_account_id === this.#accountId && this.#isLeftOf(step) > 0) return step;
    }
    return undefined;
  }

  #isLeftOf(step: Step): number {
    return step.mass_ug - (this.#ahead.get(step.id) ?? 0);
  }

  /** Material that left before it was written down as found: of no item. */
  #takeAhead(step: Step, wantedUg: number): number {
    const massUg = Math.min(wantedUg, this.#isLeftOf(step));
    this.#ahead.set(step.id, (this.#ahead.get(step.id) ?? 0) + massUg);
    this.#layers.push([step.occurred_on, [[0, massUg]]]);
    return massUg;
  }

  #drawUpTo(step: Step): void {
    for (let next = this.#next(); next !== undefined; next = this.#next()) {
      if (!isUpTo(next.occurred_on, next.id, step.occurred_on, step.id)) return;
      this.#draw(next, step);
    }
  }

  #draw(inflow: Inflow, step: Step): number {
    this.#layers.push([inflow.occurred_on, this.#partsOf(inflow, step)]);
    this.#coming.shift();
    this.#drawn = { on: inflow.occurred_on, id: inflow.id };
    return inflow.mass_ug;
  }

  #partsOf(inflow: Inflow, step: Step): Part[] {
    const isLater = !isUpTo(inflow.occurred_on, inflow.id, step.occurred_on, step.id);
    // What a later move brings is not looked at: it may be of the very material that is followed here.
    if (isLater && inflow.document_kind !== 'in_weight') return [[0, inflow.mass_ug]];
    return partsOfInflow(this.#db, this.#accountId, inflow);
  }

  #next(): Inflow | undefined {
    if (this.#coming.length === 0 && !this.#isDry) {
      this.#coming = listInflows(this.#db, this.#accountId, this.#drawn.on, this.#drawn.id, this.#atOnce);
      this.#isDry = this.#coming.length < this.#atOnce;
      this.#atOnce = MANY;
    }
    return this.#coming[0];
  }
}

/** Follows a bin's account from a queue on, over everything that happened on later days. Writes nothing. */
export const follow = (db: Db, accountId: number, from: QueueState): Followed =>
  new Follower(db, accountId, from).followAll(from);
