import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { FormState } from '../../views/common/form.ts';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import { scalePage } from '../../views/setup/scales.ts';
import { typedOfScale } from '../setup/pages.ts';
import { findScale, type Scale } from '../setup/queries.ts';
import { ledgerOf, mustFind, paramId, submit } from '../web.ts';
import { markAdjusted, recordCheck, undoCheck } from './acts.ts';
import { askAboutCheck, readCheck } from './forms.ts';
import { readScaleChecks } from './pages.ts';
import { findCheck } from './queries.ts';

/** Checks of the scales at home with a known weight: write one down, take one back. The page is the scale's own. */
export async function scaleCheckRoutes(app: FastifyInstance): Promise<void> {
  app.post('/setup/scales/:id/checks', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const scale = scaleNumbered(request, paramId(request));
        const input = readCheck(reader, scale);
        askAboutCheck(reader, scale, input);
        return `/setup/scales/${scale.id}?checked=${recordCheck(ledger, input)}`;
      },
      again(show, typed, problems) {
        const scale = scaleNumbered(request, paramId(request));
        const checks = readScaleChecks(ledgerOf(request), scale, {});
        return scalePage(
          show,
          { scale, checks, change: typedOfScale(scale, show.settings) },
          { check: { typed, problems } },
        );
      },
    }),
  );

  app.post('/scale-checks/:id/undo', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        const check = mustFind(findCheck(ledger.db, paramId(request)), 'check');
        undoCheck(ledger, check.id);
        return `/setup/scales/${check.scale_id}?undone=1`;
      },
      again: (show, typed, problems) => pageOfCheck(request, show, { typed, problems }),
    }),
  );

  app.post('/scale-checks/:id/adjustment', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        const check = mustFind(findCheck(ledger.db, paramId(request)), 'check');
        return `/setup/scales/${check.scale_id}?checked=${markAdjusted(ledger, check.id)}`;
      },
      again: (show, typed, problems) => pageOfCheck(request, show, { typed, problems }),
    }),
  );
}

/** The page of a check's scale, with what was wrong. */
function pageOfCheck(request: FastifyRequest, show: Show, undo: FormState): SafeHtml {
  const check = mustFind(findCheck(ledgerOf(request).db, paramId(request)), 'check');
  const scale = scaleNumbered(request, check.scale_id);
  const checks = readScaleChecks(ledgerOf(request), scale, {});
  return scalePage(show, { scale, checks, change: typedOfScale(scale, show.settings) }, { undo });
}

const scaleNumbered = (request: FastifyRequest, id: number): Scale =>
  mustFind(findScale(ledgerOf(request).db, id), 'scale');
