import type { FastifyInstance } from 'fastify';
import { type StrippingParts, strippingPage } from '../../views/bench/stripping.ts';
import { noProblems } from '../../views/common/form.ts';
import type { Ledger } from '../context.ts';
import { listBinsOnHand } from '../ledger/queries.ts';
import { newRequestKey } from '../request-key.ts';
import { ledgerOf, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { readStripping } from './forms.ts';
import { listWireKinds } from './queries.ts';
import { recordStripping } from './stripping.ts';

/** Stripping a lot of wire. It stands in the ledgers of both bins afterwards, and is taken back there. */
export async function strippingRoutes(app: FastifyInstance): Promise<void> {
  app.get('/bench/stripping', (request, reply) => {
    const ledger = ledgerOf(request);
    const { from = '' } = queryOf(request);
    const starting = { fromBin: from, occurredOn: ledger.clock.today(), unit: ledger.settings.unit };
    const state = noProblems({ ...starting, requestKey: newRequestKey() });
    return sendHtml(reply, strippingPage(showOf(request), readParts(ledger), state));
  });

  app.post('/strippings', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        recordStripping(ledger, readStripping(ledger.db, reader));
        return `/bins/${encodeURIComponent(reader.raw('toBin'))}?done=stripped`;
      },
      again: (show, typed, problems) => strippingPage(show, readParts(ledgerOf(request)), { typed, problems }),
    }),
  );
}

const readParts = ({ db }: Ledger): StrippingParts => ({ bins: listBinsOnHand(db), kinds: listWireKinds(db) });
