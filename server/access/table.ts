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
  /** SHA-256 of the device's token; null once it is signed out. */
  token_hash: string | null;
  let_in_by: Once<'passphrase' | 'pairing'>;
  signed_in_at: Once<string>;
  seen_on: Day;
  signed_out_at: string | null;
}

export interface HomeAddressTable {
  id: Id;
  url: Once<string>;
  seen_on: Once<Day>;
  is_read: Flag;
}
