import type { FastifyInstance, FastifyRequest } from 'fastify';
import { partSalesPage } from '../../views/items/part-sales.ts';
import { partsPage } from '../../views/items/parts.ts';
import { ledgerOf, mustFind, pageOfList, paramId, queryOf, ROWS_PER_PAGE, sendHtml, showOf, submit } from '../web.ts';
import { recordPartSale, undoPartSale } from './part-sale-acts.ts';
import { readPartSale } from './part-sale-forms.ts';
import { findPartSale, salesByKind, standingPartSales } from './part-sale-queries.ts';
import { findItem, type ItemOfKind } from './queries.ts';
import { readPartSales } from './teardown-pages.ts';
import { keptParts } from './teardown-queries.ts';

/** Parts and whole items sold for reuse. */
export async function partSaleRoutes(app: FastifyInstance): Promise<void> {
  app.get('/items/parts', (request, reply) => {
    const { db } = ledgerOf(request);
    const kept = keptParts(db, 0, ROWS_PER_PAGE + 1);
    const { rows: sales, addresses } = pageOfList('/items/parts', queryOf(request), [], (offset, count) =>
      standingPartSales(db, offset, count),
    );
    const parts = {
      kept: kept.slice(0, ROWS_PER_PAGE),
      hasMoreKept: kept.length > ROWS_PER_PAGE,
      sales,
      kinds: salesByKind(db),
      ...addresses,
    };
    return sendHtml(reply, partsPage(showOf(request), parts));
  });

  app.get('/items/:id/sales', (request, reply) => {
    const parts = readPartSales(ledgerOf(request), itemNumbered(request, paramId(request)), queryOf(request));
    return sendHtml(reply, partSalesPage(showOf(request), parts));
  });

  app.post('/items/:id/sales', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = itemNumbered(request, paramId(request));
        recordPartSale(ledger, readPartSale(reader, id));
        return `/items/${id}/sales?done=sold`;
      },
      again(show, typed, problems) {
        const parts = readPartSales(ledgerOf(request), itemNumbered(request, paramId(request)), {});
        return partSalesPage(show, parts, { sale: { typed, problems } });
      },
    }),
  );

  app.post('/part-sales/:id/undo', (request, reply) => {
    const sale = mustFind(findPartSale(ledgerOf(request).db, paramId(request)), 'sale');
    return submit(request, reply, {
      act(ledger) {
        undoPartSale(ledger, sale.id);
        return `/items/${sale.item_id}/sales?done=undone`;
      },
      again(show, typed, problems) {
        const parts = readPartSales(ledgerOf(request), itemNumbered(request, sale.item_id), {});
        return partSalesPage(show, parts, { undo: { typed, problems } });
      },
    });
  });
}

const itemNumbered = (request: FastifyRequest, id: number): ItemOfKind =>
  mustFind(findItem(ledgerOf(request).db, id), 'item');
