import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { PhotosParts } from '../../views/attachments/section.ts';
import { noProblems } from '../../views/common/form.ts';
import type { SafeHtml } from '../../views/html.ts';
import type { Db } from '../db/database.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { readUpload, type Upload } from '../uploads.ts';
import { bodyOf, ledgerOf, pageNumber, submit } from '../web.ts';
import { keepFiles, type ReadFile } from './acts.ts';
import { Aside } from './aside.ts';
import { doneQuery, doneSentence } from './compute.ts';
import { PHOTO_RULES, readSentFile } from './forms.ts';
import { type Documents, listAttachments } from './queries.ts';

/** Photos on one part of a document's page. */
const PHOTOS_A_PAGE = 24;

/** A document's page as photos are kept with it. */
export interface PhotoPage {
  documents: Documents;
  /** Address of the page. */
  path: string;
}

/** What the section of photos on a document's page shows; `again` is its form as it came back with problems. */
export function photosOf(
  db: Db,
  { documents, path }: PhotoPage,
  query: Typed,
  again?: { typed: Typed; problems: Record<string, string> },
): PhotosParts {
  const page = pageNumber({ page: query.photosPage ?? '' });
  const offset = (page - 1) * PHOTOS_A_PAGE;
  const found = listAttachments(db, documents, { isKept: 1, offset, count: PHOTOS_A_PAGE + 1 });
  const address = (number: number) => `${path}?photosPage=${number}#photos`;
  return {
    kind: documents.kind,
    action: `${path}/photos`,
    photos: found.slice(0, PHOTOS_A_PAGE),
    takenOff: listAttachments(db, documents, { isKept: 0, offset: 0, count: PHOTOS_A_PAGE }),
    newer: page > 1 ? address(page - 1) : null,
    older: found.length > PHOTOS_A_PAGE ? address(page + 1) : null,
    said: again === undefined ? doneSentence(query) : '',
    state: again ?? noProblems({ requestKey: newRequestKey() }),
  };
}

export interface PhotoPost {
  /** The document that the address names; throws not_found when there is none. */
  page(request: FastifyRequest): PhotoPage;
  /** The document's page with this in its section of photos. */
  again(request: FastifyRequest, photos: PhotosParts): SafeHtml;
}

/** Takes photos and papers for a document: all files of the form or, when anything is wrong with one, none. */
export function takePhotosAt(app: FastifyInstance, path: string, post: PhotoPost): void {
  app.post(path, { config: { takesFiles: true } }, async (request, reply) => {
    const page = post.page(request);
    const aside = new Aside();
    try {
      const upload = await readUpload(request, PHOTO_RULES, (file) => readSentFile(file, aside));
      // What was set aside is read back while it is kept, so it is not let go before.
      return await keepUpload(request, reply, { page, upload, again: post.again });
    } finally {
      aside.close();
    }
  });
}

function keepUpload(
  request: FastifyRequest,
  reply: FastifyReply,
  { page, upload, again }: { page: PhotoPage; upload: Upload<ReadFile>; again: PhotoPost['again'] },
): Promise<FastifyReply> {
  const typed = bodyOf(request);
  // What was sent is a part of the form, by which a second tap is told from another set of photos.
  request.body = { ...typed, sent: upload.files.map(({ sha256 }) => sha256).join(' ') };
  return submit(request, reply, {
    act(ledger, reader) {
      if (upload.refused !== null) throw upload.refused;
      const caption = reader.text('caption', 'a caption');
      if (upload.files.length === 0) reader.problem('photos', 'Choose a photo or a PDF first.');
      reader.done();
      const counts = keepFiles(ledger, page.documents, upload.files, caption);
      return `${page.path}?${doneQuery(counts)}#photos`;
    },
    again: (_show, kept, problems) =>
      again(request, photosOf(ledgerOf(request).db, page, {}, { typed: kept, problems })),
  });
}
