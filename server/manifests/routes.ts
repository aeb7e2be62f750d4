import type { FastifyInstance } from 'fastify';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import { draftPage, loadUnderstood } from '../../views/manifests/draft.ts';
import { type ManifestListParts, manifestList } from '../../views/manifests/list.ts';
import { loadedPage } from '../../views/manifests/loaded.ts';
import { newManifestPage, offeredBins } from '../../views/manifests/new.ts';
import { manifestSheet } from '../../views/manifests/sheet.ts';
import type { Ledger } from '../context.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { findGrade, findYard, listGrades, listYards } from '../setup/queries.ts';
import { returnLoad, returnManifest, undoLoading, undoLoadReturn } from '../tickets/acts.ts';
import {
  idIn,
  idsOf,
  ledgerOf,
  listAddresses,
  mustFind,
  pageNumber,
  paramsOf,
  queryOf,
  ROWS_PER_PAGE,
  readPeriod,
  sendHtml,
  showOf,
  submit,
} from '../web.ts';
import {
  addBinToDraft,
  copyToDraft,
  draftManifest,
  removeFromDraft,
  setDraftAside,
  takeDraftUp,
  weighLoads,
} from './acts.ts';
import { askAboutLoads, readBins, readDraft, readLoadOuts, readReturn } from './forms.ts';
import { loadManifest } from './loading.ts';
import { cautionsOf, readDraftLists, readManifest, readOfferedBins, typedOfDraft, understandLoad } from './pages.ts';
import { findLoad, findManifest, listManifests, loadsOf, type Manifest } from './queries.ts';
import type { ManifestStatus } from './table.ts';

/** Manifests: the list, a new one, a draft as it is weighed and loaded, what was loaded, and the sheet for the yard. */
export async function manifestRoutes(app: FastifyInstance): Promise<void> {
  listRoutes(app);
  draftRoutes(app);
  lineRoutes(app);
  returnRoutes(app);
}

const manifestOf = ({ db }: Ledger, params: Typed): Manifest => mustFind(findManifest(db, idIn(params.id)), 'manifest');
const addressOf = (manifestId: number): string => `/manifests/${manifestId}`;

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
    return sendHtml(reply, pageOf(ledger, showOf(request), manifestOf(ledger, paramsOf(request)), queryOf(request)));
  });

  app.get('/manifests/:id/sheet', (request, reply) => {
    const ledger = ledgerOf(request);
    const shown = readManifest(ledger, manifestOf(ledger, paramsOf(request)));
    return sendHtml(reply, manifestSheet(showOf(request), shown, cautionsOf(shown)));
  });
}

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
  const page = pageNumber(query);
  const found = listManifests(db, filter, (page - 1) * ROWS_PER_PAGE, ROWS_PER_PAGE + 1);
  return {
    manifests: found.slice(0, ROWS_PER_PAGE),
    yards: listYards(db),
    grades: listGrades(db),
    state: { typed: query, problems: reader.problems },
    ...listAddresses('/manifests', query, {
      fields: ['number', 'yard', 'grade', 'status', 'from', 'to'],
      hasMore: found.length > ROWS_PER_PAGE,
    }),
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

/** A manifest as it is now: a draft's form, or what was loaded. `saved` in the address says what was just done. */
function pageOf(
  ledger: Ledger,
  show: Show,
  manifest: Manifest,
  query: Typed,
  typed: Typed = {},
  problems: Problems = {},
): SafeHtml {
  const shown = readManifest(ledger, manifest);
  const today = ledger.clock.today();
  if (manifest.status !== 'draft') {
    const starting = { returnedOn: today, requestKey: newRequestKey(), ...typed };
    return loadedPage(show, shown, { typed: starting, problems });
  }
  const filled = typedOfDraft(shown.loads, { loadedOn: today, requestKey: newRequestKey(), ...typed });
  const parts = {
    shown,
    lists: readDraftLists(ledger, shown.loads),
    understood: new Map(shown.loads.map((each) => [each.load.id, understandLoad(ledger, shown, each, filled)])),
    isSaved: query.saved === '1',
  };
  return draftPage(show, parts, { typed: filled, problems });
}

/** One post on a manifest's page: acts, then shows the page again, with everything typed when something was wrong. */
function actOn(app: FastifyInstance, path: string, act: (ledger: Ledger, reader: Reader, params: Typed) => string) {
  app.post(path, (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => act(ledger, reader, paramsOf(request)),
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        return pageOf(ledger, show, manifestOf(ledger, paramsOf(request)), {}, typed, problems);
      },
    }),
  );
}

function draftRoutes(app: FastifyInstance): void {
  actOn(app, '/manifests/:id/weights', (ledger, reader, params) => {
    const { id } = manifestOf(ledger, params);
    const loadOuts = readLoadOuts(ledger.db, reader, loadsOf(ledger.db, id));
    reader.done();
    weighLoads(ledger, id, loadOuts);
    return `${addressOf(id)}?saved=1`;
  });

  // Takes the weights along, so that what was typed a moment ago is loaded and not lost.
  actOn(app, '/manifests/:id/loading', (ledger, reader, params) => {
    const { id } = manifestOf(ledger, params);
    const loads = loadsOf(ledger.db, id);
    const loadOuts = readLoadOuts(ledger.db, reader, loads);
    const loadedOn = reader.day('loadedOn');
    reader.done();
    askAboutLoads(ledger.db, reader, loads, loadOuts);
    weighLoads(ledger, id, loadOuts);
    loadManifest(ledger, id, loadedOn, reader.ticked('bookShortfall'));
    return addressOf(id);
  });

  actOn(app, '/manifests/:id/set-aside', (ledger, _reader, params) => {
    const { id } = manifestOf(ledger, params);
    setDraftAside(ledger, id);
    return addressOf(id);
  });

  actOn(app, '/manifests/:id/taking-up', (ledger, _reader, params) => {
    const { id } = manifestOf(ledger, params);
    takeDraftUp(ledger, id);
    return addressOf(id);
  });

  actOn(app, '/manifests/:id/copies', (ledger, _reader, params) =>
    addressOf(copyToDraft(ledger, manifestOf(ledger, params).id)),
  );
}

function lineRoutes(app: FastifyInstance): void {
  actOn(app, '/manifests/:id/lines', (ledger, reader, params) => {
    const { id } = manifestOf(ledger, params);
    const loadOuts = readLoadOuts(ledger.db, reader, loadsOf(ledger.db, id));
    const binIds = readBins(ledger.db, reader);
    reader.done();
    weighLoads(ledger, id, loadOuts);
    for (const binId of binIds) addBinToDraft(ledger, id, binId);
    return addressOf(id);
  });

  actOn(app, '/manifests/:id/lines/:line/removal', (ledger, reader, params) => {
    const { id } = manifestOf(ledger, params);
    const lineId = idIn(params.line);
    const others = loadsOf(ledger.db, id).filter((load) => load.id !== lineId);
    const loadOuts = readLoadOuts(ledger.db, reader, others);
    reader.done();
    weighLoads(ledger, id, loadOuts);
    removeFromDraft(ledger, id, lineId);
    return addressOf(id);
  });

  // What the figures of one load come to, asked for while typing.
  app.get('/manifests/:id/lines/:line/understood', (request, reply) => {
    const ledger = ledgerOf(request);
    const params = paramsOf(request);
    const manifest = readManifest(ledger, manifestOf(ledger, params));
    const shown = mustFind(
      manifest.loads.find(({ load }) => load.id === idIn(params.line)),
      'load',
    );
    const understood = understandLoad(ledger, manifest, shown, queryOf(request));
    return sendHtml(reply, loadUnderstood(showOf(request), shown, understood));
  });
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
        return pageOf(ledger, show, mustFind(findManifest(ledger.db, id), 'manifest'), {}, typed, problems);
      },
    }),
  );
}
