import type { FastifyInstance } from 'fastify';
import { loadUnderstood } from '../../views/manifests/draft.ts';
import type { Ledger } from '../context.ts';
import type { Reader, Typed } from '../reading.ts';
import { idIn, ledgerOf, mustFind, paramsOf, queryOf, sendHtml, showOf } from '../web.ts';
import {
  addBinToDraft,
  copyToDraft,
  draftOf,
  type LoadOut,
  removeFromDraft,
  setDraftAside,
  takeDraftUp,
  weighLoads,
} from './acts.ts';
import { askAboutLoads, readBins, readLoadOuts } from './forms.ts';
import { loadManifest } from './loading.ts';
import { actOn, addressOf, manifestOf } from './manifest-page.ts';
import { layTogether, type WholeDraft } from './meanwhile.ts';
import { readManifest, understandLoad } from './pages.ts';
import { type Load, loadsOf } from './queries.ts';

/** A draft as it is weighed and loaded. Every post takes the weights along, so that nothing typed is lost by it. */
export async function draftRoutes(app: FastifyInstance): Promise<void> {
  weighingRoutes(app);
  lineRoutes(app);
}

interface DraftForm {
  id: number;
  loads: Load[];
  /** For after `reader.done`: saves the weights, laid together with what somebody else saved meanwhile. */
  weigh(): LoadOut[];
}

function readDraftForm(ledger: Ledger, reader: Reader, params: Typed, whole: WholeDraft = {}): DraftForm {
  const { id } = manifestOf(ledger, params);
  draftOf(ledger, id);
  const loads = loadsOf(ledger.db, id);
  const others = loads.filter((load) => load.id !== whole.leaving);
  const loadOuts = readLoadOuts(ledger.db, reader, others);
  const weigh = () => {
    const together = layTogether(reader, loads, loadOuts, whole);
    weighLoads(ledger, id, together);
    return together;
  };
  return { id, loads, weigh };
}

function weighingRoutes(app: FastifyInstance): void {
  actOn(app, '/manifests/:id/weights', (ledger, reader, params) => {
    const { id, weigh } = readDraftForm(ledger, reader, params);
    reader.done();
    weigh();
    return `${addressOf(id)}?saved=1`;
  });

  actOn(app, '/manifests/:id/loading', (ledger, reader, params) => {
    const { id, loads, weigh } = readDraftForm(ledger, reader, params, { loads: true });
    const loadedOn = reader.day('loadedOn');
    reader.done();
    askAboutLoads(ledger.db, reader, loads, weigh());
    loadManifest(ledger, id, loadedOn, reader.ticked('bookShortfall'));
    return addressOf(id);
  });

  actOn(app, '/manifests/:id/set-aside', (ledger, reader, params) => {
    const { id, loads } = readDraftForm(ledger, reader, params);
    layTogether(reader, loads, [], { putsAway: true });
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
    const { id, weigh } = readDraftForm(ledger, reader, params);
    const binIds = readBins(ledger.db, reader);
    reader.done();
    weigh();
    for (const binId of binIds) addBinToDraft(ledger, id, binId);
    return addressOf(id);
  });

  actOn(app, '/manifests/:id/lines/:line/removal', (ledger, reader, params) => {
    const leaving = idIn(params.line);
    const { id, weigh } = readDraftForm(ledger, reader, params, { leaving });
    reader.done();
    weigh();
    removeFromDraft(ledger, id, leaving);
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
