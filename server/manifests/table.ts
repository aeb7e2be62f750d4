import type { Flag, Id, Once, OnceOr } from '../db/columns.ts';
import type { AmountMinor } from '../money/money.ts';
import type { PriceUnit } from '../prices/compute.ts';
import type { Day } from '../units/day.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';

export type ManifestStatus = 'draft' | 'loaded' | 'sold' | 'returned';
export type Weighed = 'book' | 'load-out';

export interface ManifestTable {
  id: Id;
  yard_id: Once<number>;
  number: Once<string>;
  status: ManifestStatus;
  drafted_on: Once<Day>;
  loaded_on: Day | null;
  note: string;
}

/** Changes only while the manifest is a draft; the database refuses it afterwards. */
export interface ManifestLineTable {
  id: Id;
  manifest_id: Once<number>;
  label: string;
  bin_id: Once<number>;
  weighed: Weighed;
  empties_bin: Flag;
  container_id: number | null;
  scale_id: number | null;
  gross_typed: string;
  tare_typed: string;
  net_typed: string;
  unit: MassUnit;
  mass_ug: MassUg | null;
  price: string | null;
  per: PriceUnit | null;
  seen_on: Day | null;
  expected_minor: AmountMinor | null;
}

export interface LoadReturnTable {
  id: Id;
  manifest_line_id: Once<number>;
  returned_on: Once<Day>;
  recorded_at: Once<string>;
  reason: OnceOr<string>;
  undoes_loading: OnceOr<Flag>;
}

export interface LoadReturnUndoneTable {
  load_return_id: Once<number>;
  recorded_at: Once<string>;
}
