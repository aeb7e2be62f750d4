import type { FastifyInstance, FastifyRequest } from 'fastify';
import { checkPage } from '../../views/tickets/check.ts';
import { chooseManifestPage } from '../../views/tickets/choose.ts';
import { auditFragment, type LineNews, type TicketFormParts, ticketFormPage } from '../../views/tickets/form.ts';
import { type Attachment, photosToTypeFrom } from '../attachments/queries.ts';
import type { Ledger } from '../context.ts';
import { findManifest, loadsOf, type Manifest } from '../manifests/queries.ts';
import { type Problems, Reader, type Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { bodyOf, idIn, ledgerOf, mustFind, paramId, problemsOf, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { recordTicket, refuseTicket, replaceTicket, standingTicket } from './acts.ts';
import { lineRulesOf, quotesBeside, startingTicket, type TicketEntry, ticketEntry, typedOfTicket } from './entry.ts';
import { readTicket } from './forms.ts';
import { changeLines } from './line-changes.ts';
import { findTicket, manifestsAtYards, type Ticket, ticketsReplacedBy } from './queries.ts';
import { auditEntry, auditWhileTyping } from './questions.ts';

/** Entering a ticket, in the place of another one or of none: the form, its lines, its audit, the check page. */
export async function ticketEntryRoutes(app: FastifyInstance): Promise<void> {
  app.get('/tickets/new', (request, reply) => {
    const ledger = ledgerOf(request);
    const asked = queryOf(request).manifest ?? '';
    const manifest = asked === '' ? undefined : findManifest(ledger.db, idIn(asked));
    if (manifest === undefined || !isAtYard(manifest)) {
      const said = asked === '' ? '' : whyNoTicket(manifest);
      return sendHtml(reply, chooseManifestPage(showOf(request), manifestsAtYards(ledger.db), said));
    }
    const typed = startingTicket(ledger, ticketEntry(ledger, { manifest: asked }));
    return sendHtml(reply, newFormPage(request, typed));
  });

  // Split, join, add, remove a line, or come back from the check page: the form again with everything typed.
  // Back may ask for these as pages; they would otherwise be read as tickets.
  for (const path of ['/tickets/lines', '/tickets/check']) {
    app.get(path, (_request, reply) => reply.redirect('/tickets/new', 303));
  }

  app.post('/tickets/lines', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = bodyOf(request);
    const rules = lineRulesOf(ledger, ticketEntry(ledger, typed));
    const changed = changeLines(typed, typed.change ?? '', rules);
    return sendHtml(reply, formPage(request, changed.typed, {}, changed));
  });

  app.post('/tickets/audit', (request, reply) =>
    sendHtml(reply, auditFragment(showOf(request), formParts(request, bodyOf(request), {}))),
  );

  app.post('/tickets/check', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = bodyOf(request);
    const entry = ticketEntry(ledger, typed);
    try {
      const read = readTicket(entry, new Reader(typed, ledger.settings));
      refuseTicket(ledger, read.input, entry.replaced?.id ?? null);
      const findings = auditEntry(ledger, entry, read.input);
      // A key of its own for each check page: what was changed after going back is a new ticket, not a second tap.
      const carried = { ...typed, requestKey: newRequestKey() };
      return sendHtml(reply, checkPage(showOf(request), { entry, read, findings, typed: carried }));
    } catch (error) {
      return sendHtml(reply, formPage(request, typed, problemsOf(error)), 422);
    }
  });

  app.post('/tickets', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { input } = readTicket(ticketEntry(ledger, { ...reader.typed, replaces: '' }), reader);
        return `/tickets/${recordTicket(ledger, input)}`;
      },
      again: (_show, typed, problems) => formPage(request, typed, problems),
    }),
  );

  replacementRoutes(app);
}

/** The same form and check page, for a ticket that takes the place of another one. */
function replacementRoutes(app: FastifyInstance): void {
  app.get('/tickets/:id/replacement', (request, reply) => {
    const ledger = ledgerOf(request);
    const ticket = replaceable(request);
    // When it was the replacement that was wrong, the figures of the ticket before it are put back.
    const before = queryOf(request).like === 'first' ? findTicket(ledger.db, ticket.replaces_id ?? 0) : undefined;
    const typed = typedOfTicket(ledger, before ?? ticket, loadsOf(ledger.db, ticket.manifest_id));
    return sendHtml(reply, newFormPage(request, { ...typed, replaces: String(ticket.id) }));
  });

  app.post('/tickets/:id/replacements', (request, reply) => {
    const replaced = mustFind(findTicket(ledgerOf(request).db, paramId(request)), 'ticket');
    const withReplaced = (typed: Typed): Typed => ({ ...typed, replaces: String(replaced.id) });
    return submit(request, reply, {
      act(ledger, reader) {
        const typed = withReplaced(reader.typed);
        const read = readTicket(ticketEntry(ledger, typed), new Reader(typed, ledger.settings));
        return `/tickets/${replaceTicket(ledger, replaced.id, read.input, read.reason)}`;
      },
      again: (_show, typed, problems) => formPage(request, withReplaced(typed), problems),
    });
  });
}

const isAtYard = ({ status }: Manifest): boolean => status === 'loaded' || status === 'sold';

function whyNoTicket(manifest: Manifest | undefined): string {
  if (manifest === undefined) return 'There is no such manifest. Choose one of these.';
  if (manifest.status === 'draft') return `Manifest ${manifest.number} is still a draft. Load it first.`;
  return `Nothing of manifest ${manifest.number} was sold: it came back, or was set aside.`;
}

/** The ticket in the address, as long as it stands. */
function replaceable(request: FastifyRequest): Ticket {
  const ticket = mustFind(findTicket(ledgerOf(request).db, paramId(request)), 'ticket');
  return standingTicket(ledgerOf(request), ticket.id);
}

function formParts(request: FastifyRequest, typed: Typed, problems: Problems, news?: LineNews): TicketFormParts {
  const ledger = ledgerOf(request);
  const entry = ticketEntry(ledger, typed);
  const running = auditWhileTyping(ledger, entry, typed);
  const quotes = quotesBeside(ledger, entry, typed);
  const photos = photosBesideForm(ledger, entry);
  return { entry, running, quotes, photos, state: { typed, problems }, ...(news === undefined ? {} : { news }) };
}

/** The papers that the ticket may be typed from: those of its manifest and of the tickets whose place it takes. */
function photosBesideForm({ db }: Ledger, { manifest, replaced }: TicketEntry): Attachment[] {
  const ofTickets = replaced === null ? [] : [replaced.id, ...ticketsReplacedBy(db, replaced.id)];
  return photosToTypeFrom(db, { tickets: ofTickets, manifests: manifest === undefined ? [] : [manifest.id] });
}

/** The form as it is begun, under a key of its own. */
const newFormPage = (request: FastifyRequest, typed: Typed) =>
  ticketFormPage(showOf(request), {
    ...formParts(request, { ...typed, requestKey: newRequestKey() }, {}),
    isNew: true,
  });

const formPage = (request: FastifyRequest, typed: Typed, problems: Problems, news?: LineNews) =>
  ticketFormPage(showOf(request), formParts(request, typed, problems, news));
