import type { FastifyInstance } from 'fastify';
import { earningsReportPage } from '../../views/earnings/report.ts';
import { worthPage } from '../../views/earnings/worth.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf } from '../web.ts';
import { readEarningsReport, readWorth } from './pages.ts';
import { findWorthItem } from './queries.ts';

/** What items earned, and what to do with the next one. Everything asked is in the address; nothing is stored. */
export async function earningRoutes(app: FastifyInstance): Promise<void> {
  app.get('/reports/earnings', (request, reply) => {
    const parts = readEarningsReport(ledgerOf(request), queryOf(request));
    return sendHtml(reply, earningsReportPage(showOf(request), parts), statusOf(parts));
  });

  app.get('/worth', (request, reply) => {
    const parts = readWorth(ledgerOf(request), queryOf(request), null);
    return sendHtml(reply, worthPage(showOf(request), parts), statusOf(parts));
  });

  app.get('/items/:id/worth', (request, reply) => {
    const ledger = ledgerOf(request);
    const item = mustFind(findWorthItem(ledger.db, paramId(request)), 'item');
    const parts = readWorth(ledger, queryOf(request), item);
    return sendHtml(reply, worthPage(showOf(request), parts), statusOf(parts));
  });
}

const statusOf = ({ state }: { state: { problems: object } }): number =>
  Object.keys(state.problems).length === 0 ? 200 : 422;
