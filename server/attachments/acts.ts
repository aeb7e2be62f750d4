import type { Ledger } from '../context.ts';
import { type Flag, flag } from '../db/columns.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import { type Attachment, type Documents, findAttachment, findSameFile, insertBytes } from './queries.ts';

/** A file that was read and may be kept. */
export interface ReadFile {
  content: 'photo' | 'pdf';
  /** Cleaned, as it is shown. */
  name: string;
  /** Of the file as it was sent. */
  sha256: string;
  width: number | null;
  height: number | null;
  /** Reads the bytes that are kept. */
  whole: () => Uint8Array;
  preview: Uint8Array | null;
}

/** What became of the files of one form. */
export interface KeptFiles {
  kept: number;
  /** Were there already, and were not stored twice. */
  known: number;
  /** Had been taken off, and were put back. */
  back: number;
}

const WORDS = { photo: 'a photo', pdf: 'a PDF' } as const;

/**
 * Keeps files with a document, all under one caption. A file that is there already is not stored twice, and one that
 * was taken off is put back. Throws photo_known when nothing of it is new.
 */
export function keepFiles(
  ledger: Ledger,
  documents: Documents,
  files: readonly ReadFile[],
  caption: string,
): KeptFiles {
  return ledger.db.transaction(() => {
    const count: KeptFiles = { kept: 0, known: 0, back: 0 };
    // One moment for the whole form: its files stay together, in the order in which they were sent.
    const now = ledger.clock.now();
    for (const file of files) count[keepFile(ledger, documents, { file, caption, now })] += 1;
    if (count.kept + count.back > 0) return count;
    const say =
      count.known === 1 ? 'This is kept here already, so it was' : 'These are kept here already, so they were';
    throw new Refusal(
      'photo_known',
      'photos',
      `${say} not kept twice. A caption can be changed on the photo’s own page.`,
    );
  });
}

/** @returns which of the counts the file adds to */
function keepFile(
  ledger: Ledger,
  documents: Documents,
  { file, caption, now }: { file: ReadFile; caption: string; now: string },
): keyof KeptFiles {
  const same = findSameFile(ledger.db, documents, file.sha256);
  if (same?.is_kept === 1) return 'known';
  if (same !== undefined) {
    mark(ledger, same, true);
    if (caption !== '') captionAttachment(ledger, same.id, caption);
    return 'back';
  }
  const { db, clock, who } = ledger;
  const bytes = file.whole();
  const { content, name: file_name, sha256, width, height, preview } = file;
  const [document_kind, document_id] = [documents.kind, documents.ids[0]];
  const told = { document_kind, document_id, content, file_name, sha256, width, height, kept_on: clock.today() };
  const id = db.insert('attachment', { ...told, byte_count: bytes.length, recorded_at: now, who });
  insertBytes(db, 'attachment_bytes', { attachment_id: id, bytes });
  if (preview !== null) insertBytes(db, 'attachment_preview', { attachment_id: id, bytes: preview });
  if (caption !== '') db.insert('attachment_caption', { attachment_id: id, caption, recorded_at: now, who });
  noteEvent(ledger, `kept ${WORDS[content]} with a ${documents.kind}`, 'attachment', id);
  return 'kept';
}

/** Gives another caption; the earlier ones stay in the ledger. */
export function captionAttachment(ledger: Ledger, id: number, caption: string): void {
  ledger.db.transaction(() => {
    const { db, clock, who } = ledger;
    const attachment = attachmentOf(ledger, id);
    if (attachment.caption === caption) return;
    db.insert('attachment_caption', { attachment_id: id, caption, recorded_at: clock.now(), who });
    noteEvent(ledger, `changed the caption of ${WORDS[attachment.content]}`, 'attachment', id);
  });
}

/** Takes a photo or paper off its document. It stays in the ledger and can be put back. */
export function takeOff(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    const attachment = attachmentOf(ledger, id);
    if (attachment.is_kept === 0) throw new Refusal('already_undone', '', 'This was taken off already.');
    mark(ledger, attachment, false);
  });
}

export function putBack(ledger: Ledger, id: number): void {
  ledger.db.transaction(() => {
    const attachment = attachmentOf(ledger, id);
    if (attachment.is_kept === 1) throw new Refusal('already_undone', '', 'This was put back already.');
    mark(ledger, attachment, true);
  });
}

function mark(ledger: Ledger, { id, content }: Attachment, isKept: boolean): void {
  const is_kept: Flag = flag(isKept);
  ledger.db.insert('attachment_mark', { attachment_id: id, is_kept, recorded_at: ledger.clock.now(), who: ledger.who });
  noteEvent(ledger, isKept ? `put ${WORDS[content]} back` : `took ${WORDS[content]} off`, 'attachment', id);
}

function attachmentOf({ db }: Ledger, id: number): Attachment {
  const found = findAttachment(db, id);
  if (found === undefined) throw new Refusal('not_found', '', 'There is no such photo or paper.');
  return found;
}
