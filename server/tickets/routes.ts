import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { PhotosParts } from '../../views/attachments/section.ts';
import type { SafeHtml } from '../../views/html.ts';
import { type TicketListParts, ticketListPage } from '../../views/tickets/list.ts';
import { ticketPage } from '../../views/tickets/ticket.ts';
import { type PhotoPage, photosOf, takePhotosAt } from '../attachments/taking.ts';
import type { Ledger } from '../context.ts';
import { loadsOf } from '../manifests/queries.ts';
import { Reader, type Typed } from '../reading.ts';
import { figuresOfGroups } from '../reconciliation/figures.ts';
import { reconciledTicket } from '../reconciliation/queries.ts';
import { comparisonsOf, readKnownScales } from '../scales/comparisons.ts';
import { findYard, listGrades, listYards } from '../setup/queries.ts';
import type { Day } from '../units/day.ts';
import { ledgerOf, mustFind, pageNumber, paramId, queryOf, ROWS_PER_PAGE, sendHtml, showOf } from '../web.ts';
import { findTicket, listTickets, type TicketFilter, ticketsReplacedBy } from './queries.ts';
import { auditStored } from './questions.ts';

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
    const photos = photosOf(ledgerOf(request).db, photoPageOf(request), queryOf(request));
    return sendHtml(reply, pageOf(request, photos));
  });

  takePhotosAt(app, '/tickets/:id/photos', { page: photoPageOf, again: pageOf });
}

/** A ticket shows the photos of all whose place it took, too. */
function photoPageOf(request: FastifyRequest): PhotoPage {
  const { db } = ledgerOf(request);
  const { id } = mustFind(findTicket(db, paramId(request)), 'ticket');
  return { documents: { kind: 'ticket', ids: [id, ...ticketsReplacedBy(db, id)] }, path: `/tickets/${id}` };
}

function pageOf(request: FastifyRequest, photos: PhotosParts): SafeHtml {
  const ledger = ledgerOf(request);
  const { db, settings } = ledger;
  const reconciled = mustFind(reconciledTicket(db, settings, paramId(request)), 'ticket');
  const { ticket, reconciliation } = reconciled;
  const unit = findYard(db, ticket.yard_id)?.unit ?? settings.unit;
  const figures = figuresOfGroups(reconciliation, settings.currency, unit);
  return ticketPage(showOf(request), {
    reconciled,
    manifestLoads: loadsOf(db, ticket.manifest_id),
    figures,
    comparisons: comparisonsOf(ledger, readKnownScales(db), reconciled),
    findings: auditStored(ledger, reconciled),
    unit: figures.find(({ group }) => group.isOnTicket)?.unit ?? unit,
    replacedBy: ticket.replaced_by_id === null ? null : (findTicket(db, ticket.replaced_by_id) ?? null),
    replaces: ticket.replaces_id === null ? null : (findTicket(db, ticket.replaces_id) ?? null),
    photos,
  });
}

/** The filter as the address says it. What cannot be read filters nothing and is said beside its field. */
function readFilter(reader: Reader): TicketFilter {
  const dayOrNull = (field: string): Day | null => (reader.raw(field) === '' ? null : (reader.day(field) ?? null));
  return {
    yardId: reader.id('yard'),
    gradeId: reader.id('grade'),
    from: dayOrNull('from'),
    to: dayOrNull('to'),
    number: reader.text('number', 'a ticket number'),
  };
}

function readList({ db, settings }: Ledger, query: Typed): TicketListParts {
  const reader = new Reader(query, settings);
  const filter = readFilter(reader);
  const page = pageNumber(query);
  const found = listTickets(db, filter, (page - 1) * ROWS_PER_PAGE, ROWS_PER_PAGE + 1);
  const filled = ['number', 'yard', 'grade', 'from', 'to'].filter((name) => reader.raw(name) !== '');
  const address = (number: number): string => {
    const fields = filled.map((name): [string, string] => [name, reader.raw(name)]);
    return `/tickets?${new URLSearchParams([...fields, ['page', String(number)]])}`;
  };
  return {
    tickets: found.slice(0, ROWS_PER_PAGE),
    yards: listYards(db),
    grades: listGrades(db),
    state: { typed: query, problems: reader.problems },
    isFiltered: filled.length > 0,
    newer: page > 1 ? address(page - 1) : null,
    older: found.length > ROWS_PER_PAGE ? address(page + 1) : null,
  };
}
