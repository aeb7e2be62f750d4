import { readFileSync, renameSync, writeFileSync } from 'node:fs';
import { sql } from 'kysely';
import { build, type Db } from './db/database.ts';

/** The newest line of a ledger's trail, by which it is known again. */
export interface Entry {
  id: number;
  /** As hexadecimal digits. */
  seal: string;
  /** UTC instant. */
  recordedAt: string;
}

/** A ledger that does not hold what was written into it last. Either may be null: a ledger with no entry at all. */
export interface MissingEntries {
  expected: Entry;
  newest: Entry | null;
}

const entries = () =>
  build
    .selectFrom('event')
    .select(['id', 'recorded_at as recordedAt'])
    .select(sql<string>`lower(hex(seal))`.as('seal'));

/** The newest line of the trail; null in a ledger without any. */
export const newestEntry = (db: Db): Entry | null => db.maybe(entries().orderBy('id', 'desc').limit(1)) ?? null;

/** The seal of a line of the trail, by which two ledgers know that they have it and all before it in common. */
export const sealOfEntry = (db: Db, id: number): string | undefined => db.maybe(entries().where('id', '=', id))?.seal;

const holds = (db: Db, { id, seal }: Entry): boolean => sealOfEntry(db, id) === seal;

/**
 * Keeps beside a ledger which entry was its newest, so that a ledger that lost its end is known as such when it is
 * opened: the file that held the newest entries is gone, or an older copy was put in its place. What is in the ledger
 * alone cannot tell, because an older ledger is whole too.
 */
export class LastEntry {
  readonly #db: Db;
  readonly #file: string;
  #noted: number;
  #missing: MissingEntries | null;

  /** @param file of the note, beside the ledger */
  constructor(db: Db, file: string) {
    this.#db = db;
    this.#file = file;
    const noted = readNote(file);
    this.#noted = noted?.id ?? 0;
    this.#missing = noted === null || holds(db, noted) ? null : { expected: noted, newest: newestEntry(db) };
  }

  /** What the ledger lacked when it was opened, until somebody says to go on with it as it is. */
  get missing(): MissingEntries | null {
    return this.#missing;
  }

  /** Notes the newest entry when there is one since the last time. */
  note(): void {
    if (this.#missing === null) this.#write();
  }

  /** Goes on with the ledger as it is. */
  accept(): void {
    this.#missing = null;
    this.#noted = 0;
    this.#write();
  }

  #write(): void {
    try {
      const newest = newestEntry(this.#db);
      if (newest === null || newest.id === this.#noted) return;
      writeFileSync(`${this.#file}.part`, JSON.stringify(newest));
      renameSync(`${this.#file}.part`, this.#file);
      this.#noted = newest.id;
    } catch {
      // Without room or rights, or from a ledger that cannot be read any more, the older note stays, which is true too.
    }
  }
}

function readNote(file: string): Entry | null {
  try {
    const { id, seal, recordedAt } = JSON.parse(readFileSync(file, 'utf8'));
    return typeof id === 'number' && typeof seal === 'string' && typeof recordedAt === 'string'
      ? { id, seal, recordedAt }
      : null;
  } catch {
    return null;
  }
}
