import type { Selectable } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import type { DeviceTable, HomeAddressTable } from './table.ts';

export type Device = Omit<Selectable<DeviceTable>, 'token_hash'>;
export type HomeAddress = Selectable<HomeAddressTable>;

const DEVICE = ['id', 'name', 'let_in_by', 'signed_in_at', 'seen_on', 'signed_out_at'] as const;

const passphrase = writtenOnce(() => build.selectFrom('passphrase').select('hash'));

/** The household's passphrase as it is kept, or undefined until one is set. */
export const passphraseHash = (db: Db): string | undefined => db.maybe(passphrase())?.hash;

export function storePassphrase(db: Db, hash: string, setAt: string): void {
  db.run(
    build
      .insertInto('passphrase')
      .values({ id: 1, hash, set_at: setAt })
      .onConflict((conflict) => conflict.column('id').doUpdateSet({ hash, set_at: setAt })),
  );
}

export const removePassphrase = (db: Db): void => void db.run(build.deleteFrom('passphrase'));

const deviceByToken = writtenOnce(() => build.selectFrom('device').select(DEVICE).where('token_hash', '=', ''));

/** The device that has or had this token; it is signed in unless `signed_out_at` says otherwise. */
export const findDeviceByToken = (db: Db, tokenHash: string): Device | undefined =>
  db.maybe(deviceByToken(tokenHash)) as Device | undefined;

export const findDevice = (db: Db, id: number): Device | undefined =>
  db.maybe(build.selectFrom('device').select(DEVICE).where('id', '=', id));

/** The devices that are signed in, the one seen last first. */
export const listDevices = (db: Db): Device[] =>
  db.many(
    build
      .selectFrom('device')
      .select(DEVICE)
      .where('signed_out_at', 'is', null)
      .orderBy('seen_on', 'desc')
      .orderBy('id', 'desc')
      .limit(200),
  );

/** The device of that name that is signed in. */
export const findDeviceByName = (db: Db, name: string): Device | undefined =>
  db.maybe(build.selectFrom('device').select(DEVICE).where('name', '=', name).where('signed_out_at', 'is', null));

export function insertDevice(
  db: Db,
  device: { name: string; tokenHash: string; letInBy: Device['let_in_by']; at: string; on: Day },
): number {
  return db.insert('device', {
    name: device.name,
    token_hash: device.tokenHash,
    let_in_by: device.letInBy,
    signed_in_at: device.at,
    seen_on: device.on,
    signed_out_at: null,
  });
}

export const renameDevice = (db: Db, id: number, name: string): void =>
  void db.run(build.updateTable('device').set({ name }).where('id', '=', id));

export const noteSeen = (db: Db, id: number, on: Day): void =>
  void db.run(build.updateTable('device').set({ seen_on: on }).where('id', '=', id));

export const endSession = (db: Db, id: number, at: string): void =>
  void db.run(build.updateTable('device').set({ signed_out_at: at }).where('id', '=', id));

/** Ends every session but one. @param exceptId 0 for none */
export const endOtherSessions = (db: Db, exceptId: number, at: string): void =>
  void db.run(
    build
      .updateTable('device')
      .set({ signed_out_at: at })
      .where('signed_out_at', 'is', null)
      .where('id', '<>', exceptId),
  );

/** The addresses at home by which this computer was last known, the newest first. */
export const lastHomeAddresses = (db: Db): HomeAddress[] =>
  db.many(build.selectFrom('home_address').select(['id', 'url', 'seen_on', 'is_read']).orderBy('id', 'desc').limit(2));

const unreadAddress = writtenOnce(() =>
  build.selectFrom('home_address').select('url').where('is_read', '=', 0).orderBy('id', 'desc'),
);
/** The newest of them when nobody has read yet that it changed. */
export const unreadHomeUrl = (db: Db): string | null => db.maybe(unreadAddress(0))?.url ?? null;

export const insertHomeAddress = (db: Db, address: { url: string; seen_on: Day; is_read: 0 | 1 }): number =>
  db.insert('home_address', address);

export const readHomeAddresses = (db: Db): void =>
  void db.run(build.updateTable('home_address').set({ is_read: 1 }).where('is_read', '=', 0));
