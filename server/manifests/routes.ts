import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { PhotosParts } from '../../views/attachments/section.ts';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import { type ManifestListParts, manifestList } from '../../views/manifests/list.ts';
import { newManifestPage, offeredBins } from '../../views/manifests/new.ts';
import { manifestSheet } from '../../views/manifests/sheet.ts';
import { type PhotoPage, takePhotosAt } from '../attachments/taking.ts';
import type { Ledger } from '../context.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { findGrade, findYard, listGrades, listYards } from '../setup/queries.ts';
import { returnLoad, returnManifest, undoLoading, undoLoadReturn } from '../tickets/acts.ts';
import {
  idIn,
  idsOf,
  ledgerOf,
  mustFind,
  pageOfList,
  paramsOf,
  queryOf,
  readPeriod,
  sendHtml,
  showOf,
  submit,
} from '../web.ts';
import { draftManifest } from './acts.ts';
import { draftRoutes } from './draft-routes.ts';
import { readDraft, readReturn } from './forms.ts';
import { actOn, addressOf, manifestOf, pageOf, photosAt } from './manifest-page.ts';
import { cautionsOf, readManifest, readOfferedBins } from './pages.ts';
import { findLoad, findManifest, listManifests } from './queries.ts';
import type { ManifestStatus } from './table.ts';

/** Manifests: the list, a new one, each one's page and its sheet for the yard, and what comes back. */
export async function manifestRoutes(app: FastifyInstance): Promise<void> {
  listRoutes(app);
  await app.register(draftRoutes);
  returnRoutes(app);
  takePhotosAt(app, '/manifests/:id/photos', { page: photoPageOf, again: pageWithPhotos });
}

const photoPageOf = (request: FastifyRequest): PhotoPage =>
  photosAt(manifestOf(ledgerOf(request), paramsOf(request)).id);

function pageWithPhotos(request: FastifyRequest, photos: PhotosParts): SafeHtml {
  const ledger = ledgerOf(request);
  return pageOf(ledger, showOf(request), manifestOf(ledger, paramsOf(request)), { photos });
}

const STATUSES: readonly ManifestStatus[] = ['draft', 'loaded', 'sold', 'returned'];

function listRoutes(app: FastifyInstance): void {
  app.get('/manifests', (request, reply) => {
    const parts = readList(ledgerOf(request), queryOf(request));
    const isWrong = Object.keys(parts.state.problems).length > 0;
    return sendHtml(reply, manifestList(showOf(request), parts), isWrong ? 422 : 200);
  });

  app.get('/manifests/new', (request, reply) => {
    const typed = { ...queryOf(request), requestKey: newRequestKey() };
    return sendHtml(reply, newPage(ledgerOf(request), showOf(request), typed));
  });

  // The bins at the prices of the yard chosen, and what the ticked ones come to, while the form is filled in.
  app.get('/manifests/new/bins', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = queryOf(request);
    return sendHtml(reply, offeredBins(showOf(request), offerParts(ledger, typed), { typed, problems: {} }));
  });

  app.post('/manifests', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => addressOf(draftManifest(ledger, readDraft(ledger.db, reader))),
      again: (show, typed, problems) => newPage(ledgerOf(request), show, typed, problems),
    }),
  );

  app.get('/manifests/:id', (request, reply) => {
    const ledger = ledgerOf(request);
    return sendHtml(
      reply,
      pageOf(ledger, showOf(request), manifestOf(ledger, paramsOf(request)), { query: queryOf(request) }),
    );
  });

  app.get('/manifests/:id/sheet', (request, reply) => {
    const ledger = ledgerOf(request);
    const shown = readManifest(ledger, manifestOf(ledger, paramsOf(request)));
    return sendHtml(reply, manifestSheet(showOf(request), shown, cautionsOf(ledgerOf(request).db, shown)));
  });
}

const FILTERS = ['number', 'yard', 'grade', 'status', 'from', 'to'] as const;

/** The list as its address filters it. What cannot be read filters nothing and is said beside its field. */
function readList({ db, settings }: Ledger, query: Typed): ManifestListParts {
  const reader = new Reader(query, settings);
  const filter = {
    yardId: findYard(db, reader.id('yard') ?? 0)?.id ?? null,
    gradeId: findGrade(db, reader.id('grade') ?? 0)?.id ?? null,
    status: STATUSES.find((status) => status === query.status) ?? null,
    number: reader.text('number', 'a manifest number'),
    ...readPeriod(reader),
  };
  const { rows, addresses } = pageOfList('/manifests', query, FILTERS, (offset, count) =>
    listManifests(db, filter, offset, count),
  );
  return {
    manifests: rows,
    yards: listYards(db),
    grades: listGrades(db),
    state: { typed: query, problems: reader.problems },
    ...addresses,
  };
}

const offerParts = (ledger: Ledger, typed: Typed) => {
  const yards = listYards(ledger.db);
  const yard = findYard(ledger.db, idIn(typed.yard));
  return { yards, yard, bins: readOfferedBins(ledger, yard?.id ?? null), ticked: new Set(idsOf(typed.bins ?? '')) };
};

function newPage(ledger: Ledger, show: Show, asked: Typed, problems: Problems = {}): SafeHtml {
  const yards = listYards(ledger.db);
  // With one yard there is nothing to choose.
  const typed = yards.length === 1 && !asked.yard ? { ...asked, yard: String(yards[0]?.id) } : asked;
  return newManifestPage(show, offerParts(ledger, typed), { typed, problems });
}

function returnRoutes(app: FastifyInstance): void {
  actOn(app, '/manifests/:id/return', (ledger, reader, params) => {
    const { id } = manifestOf(ledger, params);
    const { returnedOn, reason } = readReturn(reader);
    returnManifest(ledger, id, returnedOn, reason);
    return addressOf(id);
  });

  actOn(app, '/manifests/:id/loading/undo', (ledger, _reader, params) => {
    const { id } = manifestOf(ledger, params);
    undoLoading(ledger, id);
    return addressOf(id);
  });

  actOnLoad(app, '/loads/:id/return', (ledger, reader, loadId) => {
    const { returnedOn, reason } = readReturn(reader);
    returnLoad(ledger, loadId, returnedOn, reason);
  });

  actOnLoad(app, '/loads/:id/return/undo', (ledger, reader, loadId) =>
    undoLoadReturn(ledger, loadId, reader.ticked('bookShortfall')),
  );
}

/** One post about a load; the page is that of its manifest. */
function actOnLoad(app: FastifyInstance, path: string, act: (ledger: Ledger, reader: Reader, id: number) => void) {
  const loadOf = (ledger: Ledger, params: Typed) => mustFind(findLoad(ledger.db, idIn(params.id)), 'load');
  app.post(path, (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const load = loadOf(ledger, paramsOf(request));
        act(ledger, reader, load.id);
        return addressOf(load.manifest_id);
      },
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        const { manifest_id: id } = loadOf(ledger, paramsOf(request));
        return pageOf(ledger, show, mustFind(findManifest(ledger.db, id), 'manifest'), { typed, problems });
      },
    }),
  );
}
