import type { FastifyInstance, FastifyRequest } from 'fastify';
import { cautions } from '../../seed/cautions.ts';
import { starterKinds } from '../../seed/item-kinds.ts';
import { cautionsPage } from '../../views/items/cautions.ts';
import { type ItemKindsParts, itemKindPage, itemKindsPage } from '../../views/items/kinds.ts';
import type { Ledger } from '../context.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { cutToPage, doneSentence } from '../setup/pages.ts';
import { listGrades } from '../setup/queries.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { addMissingStarterKinds, removeItemKind, saveItemKind } from './kind-acts.ts';
import { readItemKind, typedOfItemKind } from './kind-forms.ts';
import { findItemKind, type ItemKind, listItemKinds } from './kind-queries.ts';

/** What sorts of things are picked up: list, add, change, remove; with their cautions, and how grades are told apart. */
export async function itemKindRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/item-kinds', (request, reply) => {
    const state = { typed: { requestKey: newRequestKey() }, problems: {} };
    return sendHtml(reply, itemKindsPage(showOf(request), readKinds(ledgerOf(request), queryOf(request)), state));
  });

  app.post('/setup/item-kinds', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => `/setup/item-kinds?added=${saveItemKind(ledger, null, readItemKind(ledger.db, reader))}`,
      again: (show, typed, problems) => itemKindsPage(show, readKinds(ledgerOf(request), {}), { typed, problems }),
    }),
  );

  app.post('/setup/item-kinds/starter', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        addMissingStarterKinds(ledger, starterKinds);
        return '/setup/item-kinds?starter=added';
      },
      again: (show, typed, problems) => itemKindsPage(show, readKinds(ledgerOf(request), {}), { typed, problems }),
    }),
  );

  app.get('/setup/item-kinds/:id', (request, reply) => {
    const kind = kindOf(request);
    const { db, settings } = ledgerOf(request);
    const state = { typed: typedOfItemKind(kind, settings), problems: {} };
    return sendHtml(reply, itemKindPage(showOf(request), kind, listGrades(db), state));
  });

  app.post('/setup/item-kinds/:id', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = kindOf(request);
        saveItemKind(ledger, id, readItemKind(ledger.db, reader));
        return `/setup/item-kinds?saved=${id}`;
      },
      again: (show, typed, problems) =>
        itemKindPage(show, kindOf(request), listGrades(ledgerOf(request).db), { typed, problems }),
    }),
  );

  app.post('/setup/item-kinds/:id/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        removeItemKind(ledger, kindOf(request).id);
        return '/setup/item-kinds';
      },
      again(show, _typed, problems) {
        const kind = kindOf(request);
        const typed = typedOfItemKind(kind, show.settings);
        return itemKindPage(show, kind, listGrades(ledgerOf(request).db), { typed, problems });
      },
    }),
  );

  app.get('/setup/cautions', (request, reply) => sendHtml(reply, cautionsPage(showOf(request), cautions)));
}

const kindOf = (request: FastifyRequest): ItemKind =>
  mustFind(findItemKind(ledgerOf(request).db, paramId(request)), 'kind of item');

function readKinds({ db }: Ledger, query: Typed): ItemKindsParts {
  const kinds = listItemKinds(db);
  const names = new Set(kinds.map(({ name }) => name.toLowerCase()));
  return {
    grades: listGrades(db),
    list: cutToPage(kinds, query),
    done:
      query.starter === 'added'
        ? 'The starter kinds are added. The trail can take them all back.'
        : doneSentence(query, (id) => findItemKind(db, id)?.name),
    missingStarters: starterKinds.filter(({ name }) => !names.has(name.toLowerCase())).length,
  };
}
