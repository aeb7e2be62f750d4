import type { Ledger } from '../context.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import {
  type Device,
  endOtherSessions,
  endSession,
  findDevice,
  findDeviceByName,
  insertDevice,
  insertHomeAddress,
  lastHomeAddresses,
  passphraseHash,
  removePassphrase,
  renameDevice,
  storePassphrase,
} from './queries.ts';
import { hashToken, newToken } from './token.ts';

/** Which name a device goes by: the one asked for, with a number behind it when another device has it. */
function freeName({ db }: Ledger, name: string, ownId: number): string {
  const isFree = (candidate: string) => [undefined, ownId].includes(findDeviceByName(db, candidate)?.id);
  for (let number = 1; number < 1000; number += 1) {
    const candidate = number === 1 ? name : `${name} ${number}`;
    if (isFree(candidate)) return candidate;
  }
  throw new Refusal('name_taken', 'device', 'Choose another name for this device.');
}

/** Lets a device in. @returns its token, which only its browser keeps, and the name it goes by */
export function letIn(
  ledger: Ledger,
  name: string,
  letInBy: Device['let_in_by'],
): { token: string; id: number; name: string } {
  return ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const token = newToken();
    const free = freeName(ledger, name, 0);
    const id = insertDevice(db, {
      name: free,
      tokenHash: hashToken(token),
      letInBy,
      at: clock.now(),
      on: clock.today(),
    });
    const how = letInBy === 'pairing' ? 'by pairing' : 'with the passphrase';
    noteEvent({ ...ledger, who: free }, `signed in ${how}`, 'device', id);
    return { token, id, name: free };
  });
}

export function signOut(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    const device = standingDevice(ledger, id);
    endSession(ledger.db, id, ledger.clock.now());
    noteEvent(ledger, `signed ${device.name} out`, 'device', id);
  });
}

export function nameDevice(ledger: Ledger, id: number, name: string): void {
  ledger.db.transaction(() => {
    const device = standingDevice(ledger, id);
    const free = freeName(ledger, name, id);
    renameDevice(ledger.db, id, free);
    noteEvent(ledger, `renamed the device ${device.name} to ${free}`, 'device', id);
  });
}

function standingDevice({ db }: Ledger, id: number): Device {
  const device = findDevice(db, id);
  if (device === undefined || device.signed_out_at !== null) {
    throw new Refusal('not_found', '', 'There is no such device, or it is signed out already.');
  }
  return device;
}

/** Sets the household's first passphrase: from now on the home network is answered. @param hash as it is kept */
export function setFirstPassphrase(ledger: Ledger, hash: string): void {
  ledger.db.transaction(() => {
    if (passphraseHash(ledger.db) !== undefined) {
      throw new Refusal('passphrase_set', 'passphrase', 'A passphrase is set already. Change it below.');
    }
    storePassphrase(ledger.db, hash, ledger.clock.now());
    noteEvent(ledger, 'set the passphrase', 'device', 0);
  });
}

/** Takes another passphrase: every device is signed out, so that whoever knew the old one is out too. */
export function changePassphrase(ledger: Ledger, hash: string): void {
  ledger.db.transaction(() => {
    storePassphrase(ledger.db, hash, ledger.clock.now());
    endOtherSessions(ledger.db, 0, ledger.clock.now());
    noteEvent(ledger, 'changed the passphrase; every device is signed out', 'device', 0);
  });
}

/** Answers only this computer again. */
export function closeToNetwork(ledger: Ledger): void {
  ledger.db.transaction(() => {
    removePassphrase(ledger.db);
    endOtherSessions(ledger.db, 0, ledger.clock.now());
    noteEvent(ledger, 'took the passphrase away; only this computer is answered', 'device', 0);
  });
}

/** Keeps the address at home when it is another one than before. @returns the one before it, or null */
export function noteHomeAddress(ledger: Ledger, url: string): string | null {
  return ledger.db.transaction(() => {
    const [last] = lastHomeAddresses(ledger.db);
    if (last?.url === url) return null;
    // The first address is no change that anybody has to be told of.
    insertHomeAddress(ledger.db, { url, seen_on: ledger.clock.today(), is_read: last === undefined ? 1 : 0 });
    if (last === undefined) return null;
    noteEvent({ ...ledger, who: 'this computer' }, `has another address at home: ${url}`, 'device', 0);
    return last.url;
  });
}
