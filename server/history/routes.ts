import type { FastifyInstance } from 'fastify';
import { type TrailPageParts, trailPage } from '../../views/history/trail.ts';
import { startOfDay } from '../clock.ts';
import type { Ledger } from '../context.ts';
import { Reader, type Typed } from '../reading.ts';
import { ledgerOf, mustFind, pageOfList, paramId, queryOf, readPeriod, sendHtml, showOf, submit } from '../web.ts';
import { putBack } from './acts.ts';
import { type ActKind, actKinds, readTrailDocument, type TrailDocument } from './compute.ts';
import { documentLinks, findEvent, listEvents, type TrailFilter, trailDevices } from './queries.ts';

const FILTERS = ['document', 'device', 'kind', 'from', 'to'] as const;

/** The trail: what was done, when, from which device; and putting one line back. */
export async function trailRoutes(app: FastifyInstance): Promise<void> {
  app.get('/trail', (request, reply) => {
    const parts = readTrail(ledgerOf(request), queryOf(request));
    const status = Object.keys(parts.state.problems).length > 0 ? 422 : 200;
    return sendHtml(reply, trailPage(showOf(request), parts), status);
  });

  app.post('/trail/:id/put-back', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        putBack(ledger, paramId(request));
        return '/trail?done=1';
      },
      again(show, _typed, problems) {
        mustFind(findEvent(ledgerOf(request).db, paramId(request)), 'line in the trail');
        const parts = readTrail(ledgerOf(request), {});
        return trailPage(show, { ...parts, state: { typed: {}, problems } });
      },
    }),
  );
}

function readFilter(reader: Reader, document: TrailDocument | null): TrailFilter {
  const { from, to } = readPeriod(reader);
  const kind = reader.raw('kind');
  return {
    who: reader.text('device', 'a device'),
    documentKinds: Object.hasOwn(actKinds, kind) ? actKinds[kind as ActKind] : null,
    document,
    from: from && startOfDay(from),
    until: to && startOfDay(to, 1),
  };
}

/** A page of the trail as the address filters it. */
function readTrail({ db, settings }: Ledger, query: Typed): TrailPageParts {
  const reader = new Reader(query, settings);
  const document = readTrailDocument(reader.raw('document'));
  const filter = readFilter(reader, document);
  const { rows: events, addresses } = pageOfList('/trail', query, FILTERS, (offset, count) =>
    listEvents(db, filter, offset, count),
  );
  const own = document === null ? [] : [{ document_kind: document.kind, document_id: document.id }];
  const links = documentLinks(db, [...events, ...own], settings.decimalMark);
  return {
    events,
    links,
    about: document === null ? null : (links.get(`${document.kind} ${document.id}`) ?? null),
    devices: trailDevices(db),
    isDone: query.done === '1',
    state: { typed: query, problems: reader.problems },
    ...addresses,
  };
}
