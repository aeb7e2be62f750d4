import type { FastifyInstance } from 'fastify';
import { scaleReportPage } from '../../views/reports/scales.ts';
import { ledgerOf, queryOf, sendHtml, showOf } from '../web.ts';
import { readScaleReport } from './scale-report.ts';

/** Whose scale is off: what the sales say of the scales at home and at the yards. */
export async function scaleReportRoutes(app: FastifyInstance): Promise<void> {
  app.get('/reports/scales', (request, reply) => {
    const parts = readScaleReport(ledgerOf(request), queryOf(request));
    const isRead = Object.keys(parts.state.problems).length === 0;
    return sendHtml(reply, scaleReportPage(showOf(request), parts), isRead ? 200 : 422);
  });
}
