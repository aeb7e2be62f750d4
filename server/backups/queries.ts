import { type Insertable, type Selectable, sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { Tables } from '../db/tables.ts';
import { newestEntry, sealOfEntry } from '../last-entry.ts';
import { storeSetting } from '../setup/queries.ts';
import type { Holdings } from './compute.ts';
import type { BackupNoteTable, NoteKind } from './table.ts';

export type BackupNote = Selectable<BackupNoteTable>;

const settingNamed = (db: Db, name: string): string =>
  db.maybe(build.selectFrom('setting').select('value').where('name', '=', name))?.value ?? '';

const FOLDER = 'backup_folder';

/** The folder that the person chose for backups; '' while none was chosen. */
export const chosenFolder = (db: Db): string => settingNamed(db, FOLDER);
export const storeChosenFolder = (db: Db, folder: string): void => storeSetting(db, FOLDER, folder);
/** What every backup of this ledger has inside, and no other ledger's; '' in formats before 0007. */
export const ledgerId = (db: Db): string => settingNamed(db, 'ledger_id');

export const insertNote = (db: Db, note: Omit<BackupNote, 'id'>): number => db.insert('backup_note', note);

/** The newest note of one of these kinds. */
export const newestNote = (db: Db, kinds: readonly NoteKind[]): BackupNote | undefined =>
  db.maybe(
    build
      .selectFrom('backup_note')
      .select(['id', 'kind', 'occasion', 'folder', 'file_name', 'byte_count', 'last_event_id', 'sentence'])
      .select('recorded_at')
      .where('kind', 'in', [...kinds])
      .orderBy('id', 'desc')
      .limit(1),
  );

/** What was noted last about a file that was made and held. */
export const noteOfFile = (db: Db, fileName: string): Pick<BackupNote, 'last_event_id'> | undefined =>
  db.maybe(
    build
      .selectFrom('backup_note')
      .select('last_event_id')
      .where('file_name', '=', fileName)
      .where('kind', 'in', ['made', 'checked'])
      .orderBy('id', 'desc')
      .limit(1),
  );

/** The last line of the trail: its number, which grows with each act, and its moment; 0 and null in an empty ledger. */
export function lastEntry(db: Db): { id: number; at: string | null } {
  const newest = newestEntry(db);
  return { id: newest?.id ?? 0, at: newest?.recordedAt ?? null };
}

/** How many documents of each kind there are, whatever became of them. */
export const holdingsOf = (db: Db): Holdings =>
  db.one(sql<Holdings>`select
    (select count(*) from in_weight) as "weighings",
    (select count(*) from recount) + (select count(*) from bin_transfer) as "recounts and moves",
    (select count(*) from quote) as "prices",
    (select count(*) from manifest) as "manifests",
    (select count(*) from ticket) as "tickets",
    (select count(*) from scale_check) as "scale checks",
    (select count(*) from attachment) as "photos and papers"`);

/** What belongs to this computer rather than to the entries: who gets in, and where backups go. */
export interface KeptHere {
  passphrase: Insertable<Tables['passphrase']>[];
  devices: Insertable<Tables['device']>[];
  folder: string;
}

export const keptHere = (db: Db): KeptHere => ({
  passphrase: db.many(build.selectFrom('passphrase').select(['id', 'hash', 'set_at'])),
  devices: db.many(
    build
      .selectFrom('device')
      .select(['id', 'name', 'token_hash', 'let_in_by', 'signed_in_at', 'seen_on', 'signed_out_at'])
      .orderBy('id'),
  ),
  folder: chosenFolder(db),
});

/**
 * Lets who gets in stay as it is now, in a ledger of an earlier day: a phone that was lost and signed out since then
 * must not be let in again, nor an old passphrase be good. Where that is not known, every device is signed out.
 */
export function putKeptHere(db: Db, kept: KeptHere | null, now: string): void {
  if (kept === null) {
    db.run(build.updateTable('device').set({ signed_out_at: now }).where('signed_out_at', 'is', null));
    return;
  }
  db.transaction(() => {
    db.run(build.deleteFrom('passphrase'));
    db.run(build.deleteFrom('device'));
    for (const row of kept.passphrase) db.insert('passphrase', row);
    for (const row of kept.devices) db.insert('device', row);
    storeChosenFolder(db, kept.folder);
  });
}

/** What a ledger keeps for its own use: who gets in, what the search is made of, and bytes that have files of their own. */
const NOT_AS_TABLES =
  /^(?:passphrase|device|home_address|request|found.*|attachment_bytes|attachment_preview|sqlite_.*)$/;

/** The tables that hold something a person entered, or that follows from it. */
export const tablesForPeople = (db: Db): string[] =>
  db
    .many(sql<{ name: string }>`select name from sqlite_master where type = 'table' order by name`)
    .map(({ name }) => name)
    .filter((name) => !NOT_AS_TABLES.test(name));

/** The columns of a table and its rows, one after the other, so that a large one is never held whole. */
export function rowsOfTable(db: Db, table: string): { columns: string[]; rows: IterableIterator<unknown[]> } {
  const statement = db.sqlite.prepare(`select * from "${table.replaceAll('"', '""')}"`).raw();
  return {
    columns: statement.columns().map(({ name }) => name),
    rows: statement.iterate() as IterableIterator<unknown[]>,
  };
}

/** Takes out who gets in, for a copy that is given away or kept elsewhere; what is deleted is overwritten too. */
export function forgetWhoGetsIn(db: Db): void {
  db.sqlite.pragma('secure_delete = ON');
  db.transaction(() => {
    db.run(build.deleteFrom('passphrase'));
    db.run(build.deleteFrom('device'));
    db.run(build.deleteFrom('home_address'));
    db.run(build.deleteFrom('request'));
  });
}

/** What one ledger has and another one of the same beginning has not: so many lines of the trail, from when on. */
export interface EntriesBeyond {
  count: number;
  /** UTC instant; null for none. */
  since: string | null;
}

/**
 * What `here` has beyond `other`. Each line of the trail is sealed onto the one before, so where two ledgers have one in
 * common, they have all before it in common: the last such line is found by halving.
 */
export function entriesBeyond(here: Db, other: Db): EntriesBeyond {
  let [common, above] = [0, Math.min(lastEntry(here).id, lastEntry(other).id) + 1];
  while (above - common > 1) {
    const middle = Math.floor((common + above) / 2);
    if (sealOfEntry(here, middle) === sealOfEntry(other, middle)) common = middle;
    else above = middle;
  }
  return here.one(
    build
      .selectFrom('event')
      .select((eb) => [eb.fn.countAll<number>().as('count'), eb.fn.min('recorded_at').as('since')])
      .where('id', '>', common),
  );
}
