import SqliteDatabase from 'better-sqlite3';
import { Db } from './database.ts';

/** The ledger as it stood at one moment, to be read at leisure while the bench goes on weighing in. */
export interface Snapshot {
  db: Db;
  close(): void;
}

/** Opens a snapshot of an open ledger. One that lives in memory has no second door: it is read as it is. */
export function openSnapshot(db: Db): Snapshot {
  if (db.sqlite.memory) return { db, close: () => undefined };
  const sqlite = new SqliteDatabase(db.sqlite.name, { readonly: true, timeout: 5000 });
  // What is read first fixes the moment.
  sqlite.exec('BEGIN; SELECT count(*) FROM setting');
  const snapshot = new Db(sqlite);
  return { db: snapshot, close: () => snapshot.close() };
}
