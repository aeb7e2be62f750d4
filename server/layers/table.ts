import type { Once } from '../db/columns.ts';
import type { AmountMinor } from '../money/money.ts';
import type { Day } from '../units/day.ts';
import type { MassUg } from '../units/mass.ts';

// All of it is worked out from transfers and tickets. `stale_on` and share_due are also written by triggers.

export interface LayerQueueTable {
  account_id: number;
  settled_on: Day | '';
  settled_id: number;
  drawn_on: Day | '';
  drawn_id: number;
  /** JSON of a layer list, see compute.ts. */
  rest: string;
  /** JSON of what was taken ahead, by transfer. */
  ahead: string;
  stale_on: Day | '' | null;
}

export interface LayerStopTable {
  account_id: number;
  settled_on: Day | '';
  settled_id: number;
  drawn_on: Day | '';
  drawn_id: number;
  rest: string;
  ahead: string;
}

export interface LayerPartTable {
  account_id: Once<number>;
  occurred_on: Once<Day>;
  transfer_id: Once<number>;
  item_id: Once<number>;
  grade_id: Once<number>;
  /** Below zero where it left the bin. */
  mass_ug: Once<MassUg>;
}

export interface ItemShareTable {
  ticket_id: Once<number>;
  group_no: Once<number>;
  grade_id: Once<number>;
  item_id: Once<number>;
  mass_ug: Once<MassUg>;
  earned_minor: Once<AmountMinor>;
}

export interface ShareDueTable {
  ticket_id: Once<number>;
}
