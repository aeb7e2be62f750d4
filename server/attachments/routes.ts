import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { photoPage } from '../../views/attachments/photo.ts';
import type { FormState } from '../../views/common/form.ts';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import type { Ledger } from '../context.ts';
import type { Reader } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { captionAttachment, putBack, takeOff } from './acts.ts';
import { BACK_QUERY, markOf, OFF_QUERY } from './compute.ts';
import { disposition, outgoingName } from './names.ts';
import { type Attachment, documentName, findAttachment, previewOf, wholeOf } from './queries.ts';

/** A file that was sent in runs nothing, loads nothing and is nothing but what it says, wherever it is opened. */
const SHUT_IN = "default-src 'none'; sandbox";
const A_YEAR = 31_536_000;

/** Photos and papers: their bytes, and for each one a page with its caption and the way off its document. */
export async function attachmentRoutes(app: FastifyInstance): Promise<void> {
  app.get('/files/:id', (request, reply) => {
    const attachment = attachmentOf(request);
    const { content, file_name: name } = attachment;
    // A PDF is opened outside the browser's page: its viewer does not run in a sandbox.
    const kind = content === 'photo' ? 'inline' : 'attachment';
    reply.header('content-disposition', disposition(kind, outgoingName(name, content)));
    return sendBytes(request, reply, attachment, { type: TYPES[content], part: 'whole', read: wholeOf });
  });

  app.get('/files/:id/preview', (request, reply) =>
    sendBytes(request, reply, attachmentOf(request), { type: TYPES.photo, part: 'preview', read: previewOf }),
  );

  app.get('/photos/:id', (request, reply) => {
    const attachment = attachmentOf(request);
    const state = { typed: { caption: attachment.caption, requestKey: newRequestKey() }, problems: {} };
    return sendHtml(reply, pageOf(request, showOf(request), state));
  });

  actOn(app, '/photos/:id/captions', '', (ledger, reader, id) => {
    const caption = reader.text('caption', 'a caption');
    reader.done();
    captionAttachment(ledger, id, caption);
  });
  actOn(app, '/photos/:id/removal', OFF_QUERY, (ledger, _reader, id) => takeOff(ledger, id));
  actOn(app, '/photos/:id/removal/undo', BACK_QUERY, (ledger, _reader, id) => putBack(ledger, id));
}

const TYPES = { photo: 'image/jpeg', pdf: 'application/pdf' } as const;

/** What was taken off is shown too: one looks at it before putting it back. */
const attachmentOf = (request: FastifyRequest): Attachment =>
  mustFind(findAttachment(ledgerOf(request).db, paramId(request)), 'photo or paper');

interface Sent {
  type: string;
  part: 'whole' | 'preview';
  read: (db: Ledger['db'], id: number) => Uint8Array | undefined;
}

/** Sends bytes that never change under an address with their mark; without it a browser asks again each time. */
function sendBytes(request: FastifyRequest, reply: FastifyReply, attachment: Attachment, sent: Sent): FastifyReply {
  const etag = `"${sent.part}-${attachment.id}-${markOf(attachment)}"`;
  const isMarked = queryOf(request).of === markOf(attachment);
  reply
    .header('x-content-type-options', 'nosniff')
    .header('content-security-policy', SHUT_IN)
    .header('cache-control', isMarked ? `private, max-age=${A_YEAR}, immutable` : 'private, no-cache')
    .header('etag', etag);
  if (request.headers['if-none-match'] === etag) return reply.code(304).send();
  const bytes = mustFind(sent.read(ledgerOf(request).db, attachment.id), 'photo or paper');
  return reply.type(sent.type).send(bytes);
}

const documentOf = (ledger: Ledger, { document_kind: kind, document_id: id }: Attachment) =>
  mustFind(documentName(ledger.db, kind, id), kind);

function pageOf(request: FastifyRequest, show: Show, state: FormState): SafeHtml {
  const attachment = attachmentOf(request);
  return photoPage(show, { attachment, document: documentOf(ledgerOf(request), attachment) }, state);
}

/** One post about a photo: acts and leads back to its document, or shows the photo's page again. */
function actOn(
  app: FastifyInstance,
  path: string,
  done: string,
  act: (ledger: Ledger, reader: Reader, id: number) => void,
): void {
  app.post(path, (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const attachment = attachmentOf(request);
        act(ledger, reader, attachment.id);
        return `${documentOf(ledger, attachment).path}${done === '' ? '' : `?${done}`}#photos`;
      },
      again(show, typed, problems) {
        const { caption } = attachmentOf(request);
        return pageOf(request, show, { typed: { caption, ...typed }, problems });
      },
    }),
  );
}
