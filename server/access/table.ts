import type { Flag, Id, Once } from '../db/columns.ts';
import type { Day } from '../units/day.ts';

export interface PassphraseTable {
  id: number;
  /** As server/access/passphrase.ts writes it. */
  hash: string;
  set_at: string;
}

export interface DeviceTable {
  id: Id;
  name: string;
  /** SHA-256 of the device's token. */
  token_hash: Once<string>;
  let_in_by: Once<'passphrase' | 'pairing'>;
  signed_in_at: Once<string>;
  seen_on: Day;
  /** Null as long as the token is good. */
  signed_out_at: string | null;
}

export interface HomeAddressTable {
  id: Id;
  url: Once<string>;
  seen_on: Once<Day>;
  is_read: Flag;
}
