import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { PhotosParts } from '../../views/attachments/section.ts';
import type { FormState } from '../../views/common/form.ts';
import type { SafeHtml } from '../../views/html.ts';
import { type TicketListParts, ticketListPage } from '../../views/tickets/list.ts';
import { type TicketPageParts, ticketPage } from '../../views/tickets/ticket.ts';
import { photosToTypeFrom } from '../attachments/queries.ts';
import { type PhotoPage, photosOf, takePhotosAt } from '../attachments/taking.ts';
import type { Ledger } from '../context.ts';
import { loadsOf } from '../manifests/queries.ts';
import { Reader, type Typed } from '../reading.ts';
import { figuresOfGroups } from '../reconciliation/figures.ts';
import { reconciledTicket } from '../reconciliation/queries.ts';
import { newRequestKey } from '../request-key.ts';
import { comparisonsOf, readKnownScales } from '../scales/comparisons.ts';
import { findYard, listGrades, listYards } from '../setup/queries.ts';
import { ledgerOf, mustFind, pageOfList, paramId, queryOf, readPeriod, sendHtml, showOf, submit } from '../web.ts';
import { findTicket, listTickets, type TicketFilter, ticketStatuses, ticketsReplacedBy } from './queries.ts';
import { auditStored } from './questions.ts';
import { letTicketStandAgain, takeTicketBack } from './take-back.ts';

/** The tickets that were entered: the list, and each one with where every cent went. */
export async function ticketRoutes(app: FastifyInstance): Promise<void> {
  app.get('/tickets', (request, reply) => {
    const parts = readList(ledgerOf(request), queryOf(request));
    return sendHtml(
      reply,
      ticketListPage(showOf(request), parts),
      Object.keys(parts.state.problems).length > 0 ? 422 : 200,
    );
  });

  app.get('/tickets/:id', (request, reply) => {
    const ledger = ledgerOf(request);
    const photos = photosOf(ledger.db, photoPageOf(request), queryOf(request));
    return sendHtml(reply, ticketPage(showOf(request), readTicketPage(ledger, paramId(request), photos), newForm()));
  });

  takePhotosAt(app, '/tickets/:id/photos', { page: photoPageOf, again: withPhotos });

  for (const [path, act] of [
    ['take-backs', takeBack],
    ['take-backs/undo', letTicketStandAgain],
  ] as const) {
    app.post(`/tickets/:id/${path}`, (request, reply) =>
      submit(request, reply, {
        act(ledger, reader) {
          const { id } = mustFind(findTicket(ledger.db, paramId(request)), 'ticket');
          act(ledger, id, reader);
          return `/tickets/${id}`;
        },
        again(show, typed, problems) {
          // What stands against it may be said of a line's loads, a field that is not on this page.
          const own = Object.entries(problems).map(([field, say]) => [field === 'reason' ? field : '', say]);
          const ledger = ledgerOf(request);
          const photos = photosOf(ledger.db, photoPageOf(request), {});
          const parts = readTicketPage(ledger, paramId(request), photos);
          return ticketPage(show, parts, { typed, problems: Object.fromEntries(own) });
        },
      }),
    );
  }
}

const newForm = (): FormState => ({ typed: { requestKey: newRequestKey() }, problems: {} });

/** A ticket shows the photos of all whose place it took, too. */
function photoPageOf(request: FastifyRequest): PhotoPage {
  const { db } = ledgerOf(request);
  const { id } = mustFind(findTicket(db, paramId(request)), 'ticket');
  return { documents: { kind: 'ticket', ids: [id, ...ticketsReplacedBy(db, id)] }, path: `/tickets/${id}` };
}

const withPhotos = (request: FastifyRequest, photos: PhotosParts): SafeHtml =>
  ticketPage(showOf(request), readTicketPage(ledgerOf(request), paramId(request), photos), newForm());

function takeBack(ledger: Ledger, id: number, reader: Reader): void {
  const reason = reader.text('reason', 'why it is taken back');
  reader.done();
  takeTicketBack(ledger, id, reason);
}

/** A ticket with where every cent went, as its page shows it. */
function readTicketPage(ledger: Ledger, id: number, photos: PhotosParts): TicketPageParts {
  const { db, settings } = ledger;
  const reconciled = mustFind(reconciledTicket(db, settings, id), 'ticket');
  const { ticket, reconciliation } = reconciled;
  const unit = findYard(db, ticket.yard_id)?.unit ?? settings.unit;
  const figures = figuresOfGroups(reconciliation, settings.currency, unit);
  return {
    reconciled,
    manifestLoads: loadsOf(db, ticket.manifest_id),
    figures,
    comparisons: comparisonsOf(ledger, readKnownScales(db), reconciled),
    findings: auditStored(ledger, reconciled),
    unit: figures.find(({ group }) => group.isOnTicket)?.unit ?? unit,
    replacedBy: ticket.replaced_by_id === null ? null : (findTicket(db, ticket.replaced_by_id) ?? null),
    replaces: ticket.replaces_id === null ? null : (findTicket(db, ticket.replaces_id) ?? null),
    photos,
    manifestPhotos: photosToTypeFrom(db, { tickets: [], manifests: [ticket.manifest_id] }),
  };
}

/** The filter as the address says it. What cannot be read filters nothing and is said beside its field. */
function readFilter(reader: Reader): TicketFilter {
  return {
    yardId: reader.id('yard'),
    gradeId: reader.id('grade'),
    ...readPeriod(reader),
    number: reader.text('number', 'a ticket number'),
    status: ticketStatuses.find((status) => status === reader.raw('status')) ?? 'counting',
  };
}

const FILTERS = ['number', 'yard', 'grade', 'from', 'to', 'status'] as const;

function readList({ db, settings }: Ledger, query: Typed): TicketListParts {
  const reader = new Reader(query, settings);
  const filter = readFilter(reader);
  const { rows, addresses } = pageOfList('/tickets', query, FILTERS, (offset, count) =>
    listTickets(db, filter, offset, count),
  );
  return {
    tickets: rows,
    yards: listYards(db),
    grades: listGrades(db),
    state: { typed: query, problems: reader.problems },
    ...addresses,
  };
}
