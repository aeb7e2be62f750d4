import type { FastifyInstance } from 'fastify';
import { setUpPage } from '../../views/setup/index.ts';
import { ledgerSettingsPage } from '../../views/setup/ledger.ts';
import { newRequestKey } from '../request-key.ts';
import { ledgerOf, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { changeSettings } from './acts.ts';
import { readLedgerSettings } from './forms.ts';
import { countSetUp, hasAmounts, isLedgerEmpty } from './queries.ts';

/** The overview of the set-up, and how this ledger writes its figures. */
export async function setupRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup', (request, reply) => {
    const { db } = ledgerOf(request);
    return sendHtml(reply, setUpPage(showOf(request), countSetUp(db), isLedgerEmpty(db)));
  });

  app.get('/setup/ledger', (request, reply) => {
    const { db, settings } = ledgerOf(request);
    const typed = {
      ...settings,
      staleQuoteDays: String(settings.staleQuoteDays),
      scaleCheckDays: String(settings.scaleCheckDays),
      wage: settings.wage.replace('.', settings.decimalMark),
      wasteCost: settings.wasteCost.replace('.', settings.decimalMark),
      requestKey: newRequestKey(),
      done: queryOf(request).done ?? '',
    };
    return sendHtml(reply, ledgerSettingsPage(showOf(request), hasAmounts(db), { typed, problems: {} }));
  });

  app.post('/setup/ledger', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        changeSettings(ledger, readLedgerSettings(reader));
        return '/setup/ledger?done=1';
      },
      again: (show, typed, problems) => ledgerSettingsPage(show, hasAmounts(ledgerOf(request).db), { typed, problems }),
    }),
  );
}
