import type { Ledger } from '../context.ts';
import { reverseTransfers } from '../ledger/transfers.ts';
import { findLoad, findManifest, type Load, loadsOf, type Manifest, updateManifest } from '../manifests/queries.ts';
import { postLoadingUndone, postLoadReturn, postLoadReturnUndone } from '../manifests/returns.ts';
import { type AmountMinor, NO_MONEY, sumMoney } from '../money/money.ts';
import { quoteAsOf } from '../prices/queries.ts';
import { rebuildGroups, settleTicket } from '../reconciliation/queries.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import type { Day } from '../units/day.ts';
import type { PrintedLine, WorkableFigure } from './compute.ts';
import {
  findTicket,
  insertTicket,
  insertTicketLine,
  insertTicketTotal,
  standingTicketsOf,
  type Ticket,
  ticketPayingFor,
  ticketTotal,
} from './queries.ts';
import type { PaidBy } from './table.ts';

export interface TicketTotals {
  chargesMinor: AmountMinor;
  taxMinor: AmountMinor;
  cashRoundingMinor: AmountMinor;
  totalMinor: AmountMinor;
  paidBy: PaidBy;
  /** Whether the ticket did not print its cash rounding. */
  roundingWorkedOut?: boolean;
}

/** A line to store, and which of its figures the ticket did not print. */
export interface LineInput extends PrintedLine {
  readonly workedOut?: readonly WorkableFigure[];
}

export interface TicketInput {
  yardId: number;
  manifestId: number;
  number: string;
  soldOn: Day;
  note: string;
  /** As printed, complete (see completeLine), numbered 1, 2, 3 in order. */
  lines: readonly LineInput[];
  /** Null when only the lines are known yet, as when a file of lines comes before the file of totals. */
  totals: TicketTotals | null;
}

/**
 * Enters a yard's sale ticket: stores it as printed, moves what its lines pay for out of the loads, and reconciles the
 * manifest anew. @returns the ticket's id
 */
export function recordTicket(ledger: Ledger, input: TicketInput): number {
  return ledger.db.transaction(() => {
    refuseTicket(ledger, input, null);
    const id = storeTicket(ledger, input, null, '');
    noteEvent(ledger, 'entered a ticket', 'ticket', id);
    return id;
  });
}

/**
 * Puts a ticket in the place of another one of the same manifest, which stays readable but no longer counts.
 * @returns the new ticket's id
 */
export function replaceTicket(ledger: Ledger, replacedId: number, input: TicketInput, reason: string): number {
  return ledger.db.transaction(() => {
    refuseTicket(ledger, input, replacedId);
    reverseTransfers(ledger, 'ticket', replacedId, `ticket replaced: ${reason}`);
    const id = storeTicket(ledger, input, replacedId, reason);
    noteEvent(ledger, 'replaced a ticket', 'ticket', id);
    return id;
  });
}

/**
 * Throws what stands against entering this ticket, in the place of another one or of none, and stores nothing: the
 * check page asks before the person saves, the act asks again.
 */
export function refuseTicket(ledger: Ledger, input: TicketInput, replacedId: number | null): void {
  const { db } = ledger;
  if (replacedId !== null && standingTicket(ledger, replacedId).manifest_id !== input.manifestId) {
    throw new Refusal('load_of_other_manifest', 'manifest', 'A ticket can only replace one of the same manifest.');
  }
  const loads = loadsOf(db, manifestOfTicket(ledger, input).id);
  for (const line of input.lines) {
    for (const loadId of line.loadIds) refuseLoad(db, { loadId, lineNo: line.lineNo, loads, replacedId });
  }
}

/** A ticket that counts. */
export function standingTicket({ db }: Ledger, id: number): Ticket {
  const ticket = findTicket(db, id);
  if (ticket === undefined) throw new Refusal('not_found', '', 'There is no such ticket.');
  if (ticket.replaced_by_id !== null) {
    throw new Refusal('ticket_replaced', '', `Ticket ${ticket.number} was replaced already. Go to the newer one.`);
  }
  if (ticket.take_back_id !== null) {
    const say = `Ticket ${ticket.number} was taken back. Let it count again on its page first.`;
    throw new Refusal('ticket_taken_back', '', say);
  }
  return ticket;
}

/** The manifest that a ticket is for: loaded, and of the ticket's yard. */
export function manifestOfTicket(
  { db }: Ledger,
  input: Pick<TicketInput, 'manifestId' | 'yardId'>,
): Manifest & { loaded_on: Day } {
  const manifest = findManifest(db, input.manifestId);
  if (manifest === undefined) throw new Refusal('not_found', 'manifest', 'Choose the manifest of this ticket.');
  if (manifest.yard_id !== input.yardId) {
    const say = `Manifest ${manifest.number} was loaded for ${manifest.yard_name}. Choose that yard or another manifest.`;
    throw new Refusal('manifest_of_other_yard', 'manifest', say);
  }
  const { loaded_on: loadedOn, status } = manifest;
  if (loadedOn === null || status === 'draft' || status === 'returned') {
    throw new Refusal('manifest_not_loaded', 'manifest', `Manifest ${manifest.number} ${whyNotLoaded(manifest)}`);
  }
  return { ...manifest, loaded_on: loadedOn };
}

function whyNotLoaded({ status, loaded_on: loadedOn }: Manifest): string {
  if (status === 'draft') return 'is still a draft. Load it first.';
  return loadedOn === null
    ? 'was set aside.'
    : 'came back unsold. Take the return of a load back on the manifest first.';
}

function storeTicket(ledger: Ledger, input: TicketInput, replacesId: number | null, reason: string): number {
  const { db, clock } = ledger;
  const manifest = manifestOfTicket(ledger, input);
  const id = insertTicket(db, {
    yard_id: input.yardId,
    manifest_id: manifest.id,
    number: input.number,
    sold_on: input.soldOn,
    note: input.note,
    recorded_at: clock.now(),
    replaces_id: replacesId,
    replace_reason: reason,
  });
  for (const line of input.lines) storeLine(ledger, { ticketId: id, line, manifest });
  if (input.totals !== null) storeTotals(ledger, id, input.totals);
  updateManifest(db, manifest.id, { status: 'sold' });
  rebuildGroups(ledger, manifest.id, settleTicket(ledger, id));
  return id;
}

interface LineOfTicket {
  ticketId: number;
  line: LineInput;
  manifest: Manifest & { loaded_on: Day };
}

function storeLine({ db }: Ledger, { ticketId, line, manifest }: LineOfTicket): void {
  const quote = quoteAsOf(db, manifest.yard_id, line.gradeId, manifest.loaded_on);
  insertTicketLine(
    db,
    {
      ticket_id: ticketId,
      line_no: line.lineNo,
      description: line.description,
      grade_id: line.gradeId,
      gross: line.gross,
      tare: line.tare,
      deduction: line.deduction,
      net: line.net,
      unit: line.unit,
      price: line.price,
      per: line.per,
      amount_minor: line.amountMinor,
      quoted_price: quote?.price ?? null,
      quoted_per: quote?.per ?? null,
      worked_out: (line.workedOut ?? []).join(','),
    },
    [...new Set(line.loadIds)],
  );
}

interface LoadOfLine {
  loadId: number;
  lineNo: number;
  loads: readonly Load[];
  replacedId: number | null;
}

/** A line may only pay for loads of its own manifest that are neither back in their bin nor paid by another ticket. */
export function refuseLoad(db: Ledger['db'], { loadId, lineNo, loads, replacedId }: LoadOfLine): void {
  const field = `loads-${lineNo}`;
  const load = loads.find(({ id }) => id === loadId);
  if (load === undefined) {
    const other = findLoad(db, loadId);
    const name = other === undefined ? 'This load' : `Load ${other.label}`;
    throw new Refusal('load_of_other_manifest', field, `${name} is not on this manifest. Choose from its own loads.`);
  }
  if (load.load_return_id !== null) {
    const say = `Load ${load.label} was brought back to ${load.bin_code}. Take that back on the manifest first.`;
    throw new Refusal('load_returned', field, say);
  }
  const paying = ticketPayingFor(db, loadId);
  if (paying !== undefined && paying.id !== replacedId) {
    throw new Refusal('load_already_paid', field, `Load ${load.label} is already paid for by ticket ${paying.number}.`);
  }
}

function storeTotals({ db, clock }: Ledger, ticketId: number, totals: TicketTotals): void {
  insertTicketTotal(db, {
    ticket_id: ticketId,
    charges_minor: totals.chargesMinor,
    tax_minor: totals.taxMinor,
    cash_rounding_minor: totals.cashRoundingMinor,
    total_minor: totals.totalMinor,
    paid_by: totals.paidBy,
    recorded_at: clock.now(),
    worked_out: totals.roundingWorkedOut ? 'cash_rounding' : '',
  });
}

/** Adds the foot of a ticket whose lines were entered without one. */
export function recordTicketTotals(ledger: Ledger, ticketId: number, totals: TicketTotals): void {
  ledger.db.transaction(() => {
    const ticket = standingTicket(ledger, ticketId);
    if (ticketTotal(ledger.db, ticketId) !== undefined) {
      throw new Refusal('ticket_known', 'ticket', `The totals of ticket ${ticket.number} are already in the ledger.`);
    }
    storeTotals(ledger, ticketId, totals);
    rebuildGroups(ledger, ticket.manifest_id);
    noteEvent(ledger, 'entered the totals of a ticket', 'ticket', ticketId);
  });
}

/** The totals of a ticket without a printed foot: the sum of its lines. */
export const totalsOfLines = (lines: readonly Pick<PrintedLine, 'amountMinor'>[]): TicketTotals => ({
  chargesMinor: NO_MONEY,
  taxMinor: NO_MONEY,
  cashRoundingMinor: NO_MONEY,
  totalMinor: sumMoney(lines.map((line) => line.amountMinor)),
  paidBy: 'other',
});

/** Brings one unsold load back to its bin. The last one that comes back makes the manifest returned. */
export function returnLoad(ledger: Ledger, loadId: number, returnedOn: Day, reason: string): void {
  ledger.db.transaction(() => {
    const load = loadedLoad(ledger, loadId);
    const paying = ticketPayingFor(ledger.db, loadId);
    if (paying !== undefined) {
      const say = `Load ${load.label} is paid for by ticket ${paying.number}. Put that ticket right or take it back first.`;
      throw new Refusal('load_already_paid', '', say);
    }
    postLoadReturn(ledger, load, returnedOn, reason);
    settleManifest(ledger, load.manifest_id);
  });
}

/**
 * Takes a return back: the load is out of the house again and waits for its ticket line.
 * @param bookShortfall see postLoadReturnUndone
 */
export function undoLoadReturn(ledger: Ledger, loadId: number, bookShortfall = false): void {
  ledger.db.transaction(() => {
    const load = loadedLoad(ledger, loadId);
    postLoadReturnUndone(ledger, load, bookShortfall);
    settleManifest(ledger, load.manifest_id);
  });
}

/** Brings every load back that no ticket pays for. */
export function returnManifest(ledger: Ledger, manifestId: number, returnedOn: Day, reason: string): void {
  ledger.db.transaction(() => {
    for (const load of loadsOf(ledger.db, manifestId)) {
      const isOut = load.load_return_id === null && ticketPayingFor(ledger.db, load.id) === undefined;
      if (isOut) returnLoad(ledger, load.id, returnedOn, reason);
    }
  });
}

/** Takes a loading back that was a mistake, as if it had never been: only while no load is sold or brought back. */
export function undoLoading(ledger: Ledger, manifestId: number): void {
  ledger.db.transaction(() => {
    const { db } = ledger;
    const manifest = findManifest(db, manifestId);
    const loads = loadsOf(db, manifestId);
    if (manifest === undefined || manifest.status !== 'loaded' || manifest.loaded_on === null) {
      throw new Refusal('manifest_not_loaded', '', 'Only a loaded manifest without a ticket can be taken back.');
    }
    if (loads.some((load) => load.load_return_id !== null)) {
      throw new Refusal('load_returned', '', 'A load of it was brought back already. Bring the others back too.');
    }
    for (const load of loads) postLoadingUndone(ledger, load, manifest.loaded_on);
    settleManifest(ledger, manifestId);
    noteEvent(ledger, 'took a loading back', 'manifest', manifestId);
  });
}

function loadedLoad({ db }: Ledger, loadId: number): Load {
  const load = findLoad(db, loadId);
  if (load === undefined) throw new Refusal('not_found', '', 'There is no such load.');
  if (findManifest(db, load.manifest_id)?.loaded_on == null) {
    throw new Refusal('manifest_not_loaded', '', 'This manifest is not loaded yet.');
  }
  return load;
}

/** Status and groups of a manifest after a load came back or went out again. */
export function settleManifest(ledger: Ledger, manifestId: number): void {
  const { db } = ledger;
  const hasTicket = standingTicketsOf(db, manifestId).length > 0;
  const allBack = loadsOf(db, manifestId).every((load) => load.load_return_id !== null);
  updateManifest(db, manifestId, { status: hasTicket ? 'sold' : allBack ? 'returned' : 'loaded' });
  rebuildGroups(ledger, manifestId);
}
