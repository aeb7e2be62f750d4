import type { Flag, Id, Once, OnceOr } from '../db/columns.ts';
import type { Day } from '../units/day.ts';

/** The documents that photos and papers are kept with. */
export type AttachedTo = 'ticket' | 'manifest' | 'bin' | 'item';

export interface AttachmentTable {
  id: Id;
  document_kind: Once<AttachedTo>;
  document_id: Once<number>;
  content: Once<'photo' | 'pdf'>;
  /** As it was sent, cleaned to be shown. */
  file_name: Once<string>;
  /** Pixels of the photo as it is kept; null for a PDF. */
  width: Once<number | null>;
  height: Once<number | null>;
  /** Of what is kept. */
  byte_count: Once<number>;
  /** Of the file as it was sent: 64 digits of lower-case hexadecimal. */
  sha256: Once<string>;
  kept_on: Once<Day>;
  recorded_at: Once<string>;
  who: Once<string>;
}

/** The bytes of a photo or PDF, or of a photo's preview. */
export interface AttachmentBytesTable {
  attachment_id: Once<number>;
  bytes: Once<Uint8Array>;
  /** Given where the bytes are at hand, so that they need not be copied to be sealed. */
  seal: OnceOr<Uint8Array | null>;
}

/** The newest row of an attachment is its caption. */
export interface AttachmentCaptionTable {
  id: Id;
  attachment_id: Once<number>;
  caption: Once<string>;
  recorded_at: Once<string>;
  who: Once<string>;
}

/** The newest row of an attachment says whether it is on its document; without one it is. */
export interface AttachmentMarkTable {
  id: Id;
  attachment_id: Once<number>;
  is_kept: Once<Flag>;
  recorded_at: Once<string>;
  who: Once<string>;
}
