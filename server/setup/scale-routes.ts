import type { FastifyInstance, FastifyRequest } from 'fastify';
import { type ScalesParts, scalePage, scalesPage } from '../../views/setup/scales.ts';
import type { Ledger } from '../context.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { readScaleChecks } from '../scales/pages.ts';
import { lastCheckedScales } from '../scales/queries.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { saveScale } from './acts.ts';
import { readScale } from './forms.ts';
import { cutToPage, doneSentence, typedOfScale } from './pages.ts';
import { findScale, listScales, type Scale } from './queries.ts';
import { removeScale } from './removals.ts';

/** The scales at home: list, add, change; each with its checks. */
export async function scaleRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/scales', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = { unit: ledger.settings.unit, requestKey: newRequestKey() };
    const parts = readScales(ledger, queryOf(request));
    return sendHtml(reply, scalesPage(showOf(request), parts, { typed, problems: {} }));
  });

  app.post('/setup/scales', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => `/setup/scales?added=${saveScale(ledger, null, readScale(reader))}`,
      again: (show, typed, problems) => scalesPage(show, readScales(ledgerOf(request), {}), { typed, problems }),
    }),
  );

  app.get('/setup/scales/:id', (request, reply) => {
    const show = showOf(request);
    const scale = scaleOf(request);
    const checks = readScaleChecks(ledgerOf(request), scale, queryOf(request));
    return sendHtml(reply, scalePage(show, { scale, checks, change: typedOfScale(scale, show.settings) }));
  });

  app.post('/setup/scales/:id', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = scaleOf(request);
        saveScale(ledger, id, readScale(reader));
        return `/setup/scales?saved=${id}`;
      },
      again(show, typed, problems) {
        const scale = scaleOf(request);
        const checks = readScaleChecks(ledgerOf(request), scale, {});
        return scalePage(show, { scale, checks, change: typed }, { change: { typed, problems } });
      },
    }),
  );

  app.post('/setup/scales/:id/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        removeScale(ledger, scaleOf(request).id);
        return '/setup/scales';
      },
      again(show, typed, problems) {
        const scale = scaleOf(request);
        const checks = readScaleChecks(ledgerOf(request), scale, {});
        const change = typedOfScale(scale, show.settings);
        return scalePage(show, { scale, checks, change }, { undo: { typed, problems } });
      },
    }),
  );
}

const scaleOf = (request: FastifyRequest): Scale =>
  mustFind(findScale(ledgerOf(request).db, paramId(request)), 'scale');

const readScales = ({ db }: Ledger, query: Typed): ScalesParts => ({
  list: cutToPage(listScales(db), query),
  lastChecks: new Map(lastCheckedScales(db).map((scale) => [scale.id, scale])),
  done: doneSentence(query, (id) => findScale(db, id)?.name),
  isAdding: query.added !== undefined,
});
