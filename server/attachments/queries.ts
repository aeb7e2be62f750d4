import type { Selectable } from 'kysely';
import { sql } from 'kysely';
import type { Flag } from '../db/columns.ts';
import { build, type Db } from '../db/database.ts';
import { sealOfNew } from '../db/seals.ts';
import type { AttachedTo, AttachmentTable } from './table.ts';

/** A photo or paper with what it is called now; `is_kept` is 0 after it was taken off. */
export interface Attachment extends Selectable<AttachmentTable> {
  caption: string;
  is_kept: Flag;
}

/**
 * The documents whose photos are shown together: a ticket and those whose place it took, else one alone. New photos go
 * to the first.
 */
export interface Documents {
  kind: AttachedTo;
  ids: readonly [number, ...number[]];
}

const caption = sql<string>`coalesce((select attachment_caption.caption from attachment_caption
  where attachment_caption.attachment_id = attachment.id order by attachment_caption.id desc limit 1), '')`;
/** 1 while a photo or paper is on its document. */
export const isKept = sql<Flag>`coalesce((select attachment_mark.is_kept from attachment_mark
  where attachment_mark.attachment_id = attachment.id order by attachment_mark.id desc limit 1), 1)`;

const attachments = () =>
  build
    .selectFrom('attachment')
    .select(['attachment.id', 'attachment.document_kind', 'attachment.document_id', 'attachment.content'])
    .select(['attachment.file_name', 'attachment.width', 'attachment.height', 'attachment.byte_count'])
    .select(['attachment.sha256', 'attachment.kept_on', 'attachment.recorded_at', 'attachment.who'])
    .select([caption.as('caption'), isKept.as('is_kept')]);

const attachmentsOf = ({ kind, ids }: Documents) =>
  attachments().where('attachment.document_kind', '=', kind).where('attachment.document_id', 'in', ids);

export const findAttachment = (db: Db, id: number): Attachment | undefined =>
  db.maybe(attachments().where('attachment.id', '=', id));

/** Every photo and paper that was ever kept, also those that were taken off. */
export const allAttachments = (db: Db): Attachment[] => db.many(attachments().orderBy('attachment.id'));

/** A page of what is on a document, or was taken off it: the newest form first, and its files in the order sent. */
export const listAttachments = (
  db: Db,
  documents: Documents,
  { isKept: wanted, offset, count }: { isKept: Flag; offset: number; count: number },
): Attachment[] =>
  db.many(
    attachmentsOf(documents)
      .where(isKept, '=', wanted)
      .orderBy('attachment.recorded_at', 'desc')
      .orderBy('attachment.id')
      .limit(count)
      .offset(offset),
  );

/** What a ticket may be typed from: at most so many stand beside a form. */
const MOST_BESIDE = 12;

/** The newest of what is kept with these tickets and manifests, the tickets' own first. */
export function photosToTypeFrom(
  db: Db,
  { tickets, manifests }: { tickets: readonly number[]; manifests: readonly number[] },
): Attachment[] {
  const of = (kind: AttachedTo, [first, ...rest]: readonly number[]): Attachment[] =>
    first === undefined
      ? []
      : listAttachments(db, { kind, ids: [first, ...rest] }, { isKept: 1, offset: 0, count: MOST_BESIDE });
  return [...of('ticket', tickets), ...of('manifest', manifests)].slice(0, MOST_BESIDE);
}

/** The same file on the same document, kept or taken off. */
export const findSameFile = (db: Db, documents: Documents, sha256: string): Attachment | undefined =>
  db.maybe(attachmentsOf(documents).where('attachment.sha256', '=', sha256).orderBy('attachment.id', 'desc'));

export const wholeOf = (db: Db, id: number): Uint8Array | undefined =>
  db.maybe(build.selectFrom('attachment_bytes').select('bytes').where('attachment_id', '=', id))?.bytes;
export const previewOf = (db: Db, id: number): Uint8Array | undefined =>
  db.maybe(build.selectFrom('attachment_preview').select('bytes').where('attachment_id', '=', id))?.bytes;

/** A document in words, and where its page is. */
export interface DocumentName {
  name: string;
  path: string;
}

const documentNames: Record<AttachedTo, (db: Db, id: number) => DocumentName | undefined> = {
  // A ticket that was replaced handed its photos on to the one that counts.
  ticket(db, id) {
    const row = db.maybe(sql<{ id: number; number: string }>`with recursive chain (id, step) as (
        select ${id}, 0 union all
        select ticket.id, chain.step + 1 from chain join ticket on ticket.replaces_id = chain.id)
      select ticket.id, ticket.number from chain join ticket on ticket.id = chain.id order by step desc`);
    return row && { name: `ticket ${row.number}`, path: `/tickets/${row.id}` };
  },
  manifest(db, id) {
    const row = db.maybe(build.selectFrom('manifest').select('number').where('id', '=', id));
    return row && { name: `manifest ${row.number}`, path: `/manifests/${id}` };
  },
  bin(db, id) {
    const row = db.maybe(build.selectFrom('bin').select('code').where('id', '=', id));
    return row && { name: `bin ${row.code}`, path: `/bins/${encodeURIComponent(row.code)}` };
  },
  item(db, id) {
    const row = db.maybe(build.selectFrom('item').select('id').where('id', '=', id));
    return row && { name: `item ${row.id}`, path: `/items/${row.id}` };
  },
};

export const documentName = (db: Db, kind: AttachedTo, id: number): DocumentName | undefined =>
  documentNames[kind](db, id);

/** Keeps the bytes of a photo or paper, or of its preview. */
export const insertBytes = (
  db: Db,
  table: 'attachment_bytes' | 'attachment_preview',
  row: { attachment_id: number; bytes: Uint8Array },
): void => {
  db.insert(table, { ...row, seal: sealOfNew(db.sqlite, table, row) });
};
