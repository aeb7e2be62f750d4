import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import { sheetSum } from '../../views/items/outputs.ts';
import { type TeardownForms, teardownPage } from '../../views/items/teardown.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import { bodyOf, ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { withMoreRows } from './output-rows.ts';
import { findItem, type ItemOfKind } from './queries.ts';
import { finishTeardown, recordOutputs, undoOutput } from './teardown-acts.ts';
import { askAboutOutputs, readFinish, readOutputs, readStop, readWork, sumSheet } from './teardown-forms.ts';
import { readTeardown } from './teardown-pages.ts';
import { findOutput } from './teardown-queries.ts';
import { recordWork, startWork, stopWork, undoWork } from './work-acts.ts';
import { findWork } from './work-queries.ts';

/** Taking an item apart: its time, what it gives, how far it was taken. All of it stands on one sheet. */
export async function teardownRoutes(app: FastifyInstance): Promise<void> {
  app.get('/items/:id/teardown', (request, reply) => {
    const parts = readTeardown(ledgerOf(request), itemOf(request), queryOf(request));
    return sendHtml(reply, teardownPage(showOf(request), parts));
  });

  clockRoutes(app);
  minuteRoutes(app);
  outputRoutes(app);

  app.post('/items/:id/teardown/finish', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = itemOf(request);
        finishTeardown(ledger, id, readFinish(reader));
        return `${sheetOf(id)}?done=finished`;
      },
      again: (show, typed, problems) => pageOf(request, show, paramId(request), { finish: { typed, problems } }),
    }),
  );
}

const itemNumbered = (request: FastifyRequest, id: number): ItemOfKind =>
  mustFind(findItem(ledgerOf(request).db, id), 'item');
const itemOf = (request: FastifyRequest): ItemOfKind => itemNumbered(request, paramId(request));
const sheetOf = (itemId: number): string => `/items/${itemId}/teardown`;

/** The sheet again, with what was wrong with one of its forms. */
const pageOf = (request: FastifyRequest, show: Show, itemId: number, forms: TeardownForms): SafeHtml =>
  teardownPage(show, readTeardown(ledgerOf(request), itemNumbered(request, itemId), {}), forms);

/** Start, pause, stop. */
function clockRoutes(app: FastifyInstance): void {
  const again = (request: FastifyRequest) => (show: Show, typed: Typed, problems: Problems) =>
    pageOf(request, show, paramId(request), { clock: { typed, problems } });

  app.post('/items/:id/teardown/clock', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        const { id } = itemOf(request);
        startWork(ledger, id);
        return `${sheetOf(id)}?done=started`;
      },
      again: again(request),
    }),
  );

  for (const [path, act] of [
    ['pause', 'paused'],
    ['stop', 'stopped'],
  ] as const) {
    app.post(`/items/:id/teardown/clock/${path}`, (request, reply) =>
      submit(request, reply, {
        act(ledger, reader) {
          const { id } = itemOf(request);
          return `${sheetOf(id)}?work=${stopWork(ledger, id, readStop(reader), act)}`;
        },
        again: again(request),
      }),
    );
  }
}

/** Minutes that are typed, and taking a time back. */
function minuteRoutes(app: FastifyInstance): void {
  app.post('/items/:id/teardown/minutes', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = itemOf(request);
        return `${sheetOf(id)}?work=${recordWork(ledger, id, readWork(reader))}`;
      },
      again: (show, typed, problems) => pageOf(request, show, paramId(request), { minutes: { typed, problems } }),
    }),
  );

  app.post('/minutes/:id/undo', (request, reply) => {
    const work = mustFind(findWork(ledgerOf(request).db, paramId(request)), 'time');
    return submit(request, reply, {
      act(ledger) {
        undoWork(ledger, work.id);
        return `${sheetOf(work.item_id)}?done=undone`;
      },
      again: (show, typed, problems) => pageOf(request, show, work.item_id, { undo: { typed, problems } }),
    });
  });
}

/** The sheet of outputs, more rows for it, what it comes to while it is typed, and taking waste or a part back. */
function outputRoutes(app: FastifyInstance): void {
  const again = (request: FastifyRequest) => (show: Show, typed: Typed, problems: Problems) =>
    pageOf(request, show, paramId(request), { outputs: { typed, problems } });

  app.post('/items/:id/teardown/outputs', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const item = itemOf(request);
        const sheet = readOutputs(ledger.db, reader);
        askAboutOutputs(ledger, reader, item, sheet);
        recordOutputs(ledger, item.id, sheet);
        return `${sheetOf(item.id)}?done=outputs`;
      },
      again: again(request),
    }),
  );

  app.post('/items/:id/teardown/outputs/rows', (request, reply) => {
    const typed = bodyOf(request);
    return sendHtml(reply, again(request)(showOf(request), withMoreRows(typed, typed.change ?? ''), {}));
  });

  app.post('/items/:id/teardown/outputs/understood', (request, reply) => {
    const ledger = ledgerOf(request);
    return sendHtml(reply, sheetSum(sumSheet(ledger, new Reader(bodyOf(request), ledger.settings), itemOf(request))));
  });

  app.post('/item-outputs/:id/undo', (request, reply) => {
    const output = mustFind(findOutput(ledgerOf(request).db, paramId(request)), 'waste or part');
    return submit(request, reply, {
      act(ledger) {
        undoOutput(ledger, output.id);
        return `${sheetOf(output.item_id)}?done=undone`;
      },
      again: (show, typed, problems) => pageOf(request, show, output.item_id, { undo: { typed, problems } }),
    });
  });
}
