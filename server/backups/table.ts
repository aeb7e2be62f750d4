import type { Id, Once, OnceOr } from '../db/columns.ts';

/** A backup that was made, one from before an upgrade that was checked since, one that did not hold, one that could not be made; a trial of restoring, and one that failed. */
export type NoteKind = 'made' | 'checked' | 'not good' | 'failed' | 'tried' | 'not restorable';

export interface BackupNoteTable {
  id: Id;
  kind: Once<NoteKind>;
  /** In words: "daily", "by hand". */
  occasion: Once<string>;
  folder: Once<string>;
  file_name: OnceOr<string>;
  byte_count: OnceOr<number | null>;
  /** The last line of the trail that is in it. */
  last_event_id: Once<number>;
  sentence: OnceOr<string>;
  recorded_at: Once<string>;
}
