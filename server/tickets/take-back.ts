import type { Ledger } from '../context.ts';
import { reverseTransfers } from '../ledger/transfers.ts';
import { loadsOf } from '../manifests/queries.ts';
import { settleTicket } from '../reconciliation/queries.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import { manifestOfTicket, refuseLoad, settleManifest, standingTicket } from './acts.ts';
import { findTicket, insertTicketTakeBack, insertTicketTakeBackUndone, type Ticket, ticketLines } from './queries.ts';

/**
 * Takes a ticket back that should never have been entered: it stays to be read and counts for nothing, and its loads are
 * out of the house again and wait for a ticket.
 */
export function takeTicketBack(ledger: Ledger, ticketId: number, reason: string): void {
  ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const ticket = standingTicket(ledger, ticketId);
    reverseTransfers(ledger, 'ticket', ticketId, 'ticket taken back');
    insertTicketTakeBack(db, { ticket_id: ticketId, reason, recorded_at: clock.now() });
    settleManifest(ledger, ticket.manifest_id);
    noteEvent(ledger, 'took a ticket back', 'ticket', ticketId, { detail: reason });
  });
}

/** Lets a ticket count again that was taken back, as long as no other one pays for its loads and none came home. */
export function letTicketStandAgain(ledger: Ledger, ticketId: number): void {
  ledger.db.transaction(() => {
    const { db, clock } = ledger;
    const ticket = takenBack(ledger, ticketId);
    manifestOfTicket(ledger, { manifestId: ticket.manifest_id, yardId: ticket.yard_id });
    const loads = loadsOf(db, ticket.manifest_id);
    for (const { line_no: lineNo, loadIds } of ticketLines(db, ticketId)) {
      for (const loadId of loadIds) refuseLoad(db, { loadId, lineNo, loads, replacedId: null });
    }
    insertTicketTakeBackUndone(db, ticket.take_back_id, clock.now());
    settleTicket(ledger, ticketId);
    settleManifest(ledger, ticket.manifest_id);
    noteEvent(ledger, 'let a ticket count again', 'ticket', ticketId);
  });
}

/** A ticket that is taken back now. */
function takenBack({ db }: Ledger, id: number): Ticket & { take_back_id: number } {
  const ticket = findTicket(db, id);
  if (ticket === undefined) throw new Refusal('not_found', '', 'There is no such ticket.');
  const { take_back_id: takeBackId } = ticket;
  if (takeBackId === null) throw new Refusal('not_taken_back', '', `Ticket ${ticket.number} was not taken back.`);
  return { ...ticket, take_back_id: takeBackId };
}
