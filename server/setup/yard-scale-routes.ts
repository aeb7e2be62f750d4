import type { FastifyInstance, FastifyRequest } from 'fastify';
import { idIn, ledgerOf, mustFind, paramsOf, submit } from '../web.ts';
import { removeYardScale, saveYardScale } from './acts.ts';
import { readYardScale } from './forms.ts';
import { type YardScale, yardScalesOf } from './queries.ts';
import { yardOf, yardPageOf } from './yard-routes.ts';

/** A yard's further scales, such as one for trucks: add, change, remove. The page is the yard's own. */
export async function yardScaleRoutes(app: FastifyInstance): Promise<void> {
  app.post('/setup/yards/:id/scales', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const yard = yardOf(request);
        saveYardScale(ledger, yard.id, null, readYardScale(reader, yard.unit));
        return `/setup/yards/${yard.id}?scale=added`;
      },
      again: (show, typed, problems) =>
        yardPageOf(request, show, {}, { scale: { id: null, state: { typed, problems } } }),
    }),
  );

  app.post('/setup/yards/:id/scales/:scale', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const yard = yardOf(request);
        saveYardScale(ledger, yard.id, scaleOf(request).id, readYardScale(reader, yard.unit));
        return `/setup/yards/${yard.id}?scale=saved`;
      },
      again: (show, typed, problems) =>
        yardPageOf(request, show, {}, { scale: { id: scaleOf(request).id, state: { typed, problems } } }),
    }),
  );

  app.post('/setup/yards/:id/scales/:scale/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        const yard = yardOf(request);
        removeYardScale(ledger, scaleOf(request));
        return `/setup/yards/${yard.id}?scale=removed`;
      },
      again: (show, typed, problems) =>
        yardPageOf(request, show, {}, { scale: { id: null, state: { typed, problems } } }),
    }),
  );
}

/** The further scale in the address, of the yard in the address. */
function scaleOf(request: FastifyRequest): YardScale {
  const id = idIn(paramsOf(request).scale);
  const scales = yardScalesOf(ledgerOf(request).db, yardOf(request).id);
  return mustFind(
    scales.find((scale) => scale.id === id),
    'scale of this yard',
  );
}
