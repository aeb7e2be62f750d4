import type { FastifyInstance } from 'fastify';
import type { PhotosParts } from '../../views/attachments/section.ts';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import { draftPage } from '../../views/manifests/draft.ts';
import { loadedPage } from '../../views/manifests/loaded.ts';
import { type PhotoPage, photosOf } from '../attachments/taking.ts';
import type { Ledger } from '../context.ts';
import type { Problems, Reader, Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { idIn, ledgerOf, mustFind, paramsOf, submit } from '../web.ts';
import { writeVersion } from './draft-version.ts';
import { readMeanwhile, typedInVain, versionOf, withTheirs } from './meanwhile.ts';
import { cautionsOf, readDraftLists, readManifest, type ShownManifest, typedOfDraft, understandLoad } from './pages.ts';
import { findManifest, type Manifest } from './queries.ts';

export const manifestOf = ({ db }: Ledger, params: Typed): Manifest =>
  mustFind(findManifest(db, idIn(params.id)), 'manifest');
export const addressOf = (manifestId: number): string => `/manifests/${manifestId}`;

/** What a page is shown with: as it is asked for, or as a form that comes back. */
export interface Asked {
  query?: Typed;
  typed?: Typed;
  problems?: Problems;
  /** The section of photos where its own form comes back. */
  photos?: PhotosParts;
}

export const photosAt = (id: number): PhotoPage => ({
  documents: { kind: 'manifest', ids: [id] },
  path: addressOf(id),
});

/** A manifest as it is now: a draft's form, or what was loaded. `saved` in the address says what was just done. */
export function pageOf(ledger: Ledger, show: Show, manifest: Manifest, asked: Asked = {}): SafeHtml {
  const shown = readManifest(ledger, manifest);
  const photos = asked.photos ?? photosOf(ledger.db, photosAt(manifest.id), asked.query ?? {});
  return manifest.status === 'draft'
    ? draftOfNow(ledger, show, { shown, photos }, asked)
    : frozen(ledger, show, { shown, photos }, asked);
}

interface WithPhotos {
  shown: ShownManifest;
  photos: PhotosParts;
}

function draftOfNow(
  ledger: Ledger,
  show: Show,
  { shown, photos }: WithPhotos,
  { query = {}, typed = {}, problems = {} }: Asked,
): SafeHtml {
  const loads = shown.loads.map(({ load }) => load);
  const starting = { loadedOn: ledger.clock.today(), requestKey: newRequestKey() };
  const filled = {
    ...typedOfDraft(shown.loads, { ...starting, ...withTheirs(typed, loads) }),
    // The other's version is said beside each load by now, so from here on the form goes by it.
    version: writeVersion(loads.map(versionOf)),
  };
  const parts = {
    shown,
    lists: readDraftLists(ledger, shown.loads),
    understood: new Map(shown.loads.map((each) => [each.load.id, understandLoad(ledger, shown, each, filled)])),
    isSaved: query.saved === '1',
    meanwhile: readMeanwhile(ledger, shown.manifest.id, loads, typed),
    photos,
    cautions: cautionsOf(ledger.db, shown),
  };
  return draftPage(show, parts, { typed: filled, problems });
}

function frozen(ledger: Ledger, show: Show, parts: WithPhotos, { typed = {}, problems = {} }: Asked): SafeHtml {
  const { shown } = parts;
  const starting = { returnedOn: ledger.clock.today(), requestKey: newRequestKey(), ...typed };
  const loads = shown.loads.map(({ load }) => load);
  const inVain = typedInVain(ledger, shown.manifest.id, loads, typed);
  const cautions = shown.manifest.status === 'loaded' ? cautionsOf(ledger.db, shown) : [];
  return loadedPage(show, { ...parts, inVain, cautions }, { typed: starting, problems });
}

/** One post on a manifest's page: acts, then shows the page again, with everything typed when something was wrong. */
export function actOn(
  app: FastifyInstance,
  path: string,
  act: (ledger: Ledger, reader: Reader, params: Typed) => string,
): void {
  app.post(path, (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => act(ledger, reader, paramsOf(request)),
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        return pageOf(ledger, show, manifestOf(ledger, paramsOf(request)), { typed, problems });
      },
    }),
  );
}
