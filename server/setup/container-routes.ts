import type { FastifyInstance, FastifyRequest } from 'fastify';
import { type ContainersParts, containerPage, containersPage } from '../../views/setup/containers.ts';
import type { Ledger } from '../context.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { saveContainer } from './acts.ts';
import { readContainer, weightFields } from './forms.ts';
import { cutToPage, doneSentence } from './pages.ts';
import { type Container, findContainer, listContainers } from './queries.ts';
import { removeContainer } from './removals.ts';
import type { Settings } from './settings.ts';

/** Buckets, tubs and carts with a known tare: list, add, change. */
export async function containerRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/containers', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = { unit: ledger.settings.unit, requestKey: newRequestKey() };
    const parts = readContainers(ledger, queryOf(request));
    return sendHtml(reply, containersPage(showOf(request), parts, { typed, problems: {} }));
  });

  app.post('/setup/containers', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => `/setup/containers?added=${saveContainer(ledger, null, readContainer(reader))}`,
      again: (show, typed, problems) =>
        containersPage(show, readContainers(ledgerOf(request), {}), { typed, problems }),
    }),
  );

  app.get('/setup/containers/:id', (request, reply) => {
    const container = containerOf(request);
    const typed = typedOfContainer(container, ledgerOf(request).settings);
    return sendHtml(reply, containerPage(showOf(request), container, { typed, problems: {} }));
  });

  app.post('/setup/containers/:id', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = containerOf(request);
        saveContainer(ledger, id, readContainer(reader));
        return `/setup/containers?saved=${id}`;
      },
      again: (show, typed, problems) => containerPage(show, containerOf(request), { typed, problems }),
    }),
  );

  app.post('/setup/containers/:id/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        removeContainer(ledger, containerOf(request).id);
        return '/setup/containers';
      },
      again(show, _typed, problems) {
        const container = containerOf(request);
        return containerPage(show, container, { typed: typedOfContainer(container, show.settings), problems });
      },
    }),
  );
}

/** A container as its form would have been typed. */
function typedOfContainer(container: Container, settings: Settings): Typed {
  const { figure, unit } = weightFields(container.tare_typed, container.tare_ug, settings);
  return { name: container.name, tare: figure, unit, requestKey: newRequestKey() };
}

const containerOf = (request: FastifyRequest): Container =>
  mustFind(findContainer(ledgerOf(request).db, paramId(request)), 'container');

const readContainers = ({ db }: Ledger, query: Typed): ContainersParts => ({
  list: cutToPage(listContainers(db), query),
  done: doneSentence(query, (id) => findContainer(db, id)?.name),
  isAdding: query.added !== undefined,
});
