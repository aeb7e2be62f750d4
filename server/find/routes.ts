import type { FastifyInstance } from 'fastify';
import { findPage } from '../../views/find/find.ts';
import { ledgerOf, listAddresses, pageNumber, queryOf, ROWS_PER_PAGE, sendHtml, showOf } from '../web.ts';
import { findAll, HITS_OF_A_KIND, isFinder } from './pages.ts';

/** The search over everything that has a name, a number or a note. */
export async function findRoutes(app: FastifyInstance): Promise<void> {
  app.get('/find', (request, reply) => {
    const query = queryOf(request);
    const kind = isFinder(query.kind ?? '') ? (query.kind ?? '') : '';
    const slice =
      kind === ''
        ? { offset: 0, count: HITS_OF_A_KIND }
        : { offset: (pageNumber(query) - 1) * ROWS_PER_PAGE, count: ROWS_PER_PAGE };
    const found = findAll(ledgerOf(request), query.q ?? '', kind, slice);
    const hasMore = found.groups[0]?.more != null;
    const addresses = kind === '' ? null : listAddresses('/find', query, { fields: ['q', 'kind'], hasMore });
    return sendHtml(reply, findPage(showOf(request), { found, addresses }));
  });
}
