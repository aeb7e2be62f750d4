import type { Ledger } from '../../context.ts';
import { amountMinor, NO_MONEY, writeMoney } from '../../money/money.ts';
import type { Reader } from '../../reading.ts';
import { reconciledTicket } from '../../reconciliation/queries.ts';
import { recordTicketTotals } from '../../tickets/acts.ts';
import { standingTicketsNumbered, type Ticket } from '../../tickets/queries.ts';
import { paymentKinds } from '../../tickets/table.ts';
import { shortly } from '../compute.ts';
import { enterEach, type ImportJob, type ImportKind, type ImportRow, readYard } from './rows.ts';

function readTicket(ledger: Ledger, reader: Reader): Ticket {
  const yard = readYard(ledger, reader);
  const number = reader.text('ticket', "the ticket's number", { required: true, longest: 220 });
  if (yard === undefined || number === '') return undefined as unknown as Ticket;
  const tickets = standingTicketsNumbered(ledger.db, yard.id, number);
  if (tickets.length === 0) {
    const say = `Ticket ${shortly(number)} of ${yard.name} is not in the ledger. Import its lines first.`;
    reader.problem('ticket', say);
  }
  if (tickets.length > 1) {
    const say = `${yard.name} has ${tickets.length} tickets numbered ${number} in the ledger. Enter its totals on its page.`;
    reader.problem('ticket', say);
  }
  return tickets[0] as Ticket;
}

const readRow = (ledger: Ledger, reader: Reader) => ({
  ticket: readTicket(ledger, reader),
  totals: {
    chargesMinor: reader.money('charges', { emptyIs: NO_MONEY }),
    taxMinor: reader.money('tax', { emptyIs: NO_MONEY, negativeAllowed: true }),
    cashRoundingMinor: reader.money('cash_rounding', { emptyIs: NO_MONEY, negativeAllowed: true }),
    totalMinor: reader.money('total'),
    paidBy: reader.choice('paid_by', paymentKinds, 'how it was paid'),
  },
});

function enter(
  { ledger, notes }: ImportJob,
  { ticket, totals }: ReturnType<typeof readRow>,
  { line }: ImportRow,
): void {
  recordTicketTotals(ledger, ticket.id, totals);
  const { currency, decimalMark } = ledger.settings;
  const slip = reconciledTicket(ledger.db, ledger.settings, ticket.id)?.reconciliation.ticketArithmeticMinor ?? 0;
  if (slip === 0) return;
  const [sum, total] = [amountMinor(totals.totalMinor - slip), totals.totalMinor].map((amount) =>
    writeMoney(amount, currency, decimalMark),
  );
  const sentence = `Ticket ${ticket.number}: its lines, charges, tax and rounding come to ${sum}, its total says ${total}.`;
  notes.push({ line, sentence });
}

export const ticketTotals: ImportKind = {
  name: 'ticket-totals',
  sentence: 'The foot of each ticket: charges (taken off), tax, cash rounding, total, and how it was paid.',
  columns: ['yard', 'ticket', 'charges', 'tax', 'cash_rounding', 'total', 'paid_by'],
  optional: ['charges', 'tax', 'cash_rounding'],
  words: ['ticket total', 'ticket totals'],
  run(job) {
    enterEach(
      job,
      {},
      (reader) => readRow(job.ledger, reader),
      (row, fileRow) => enter(job, row, fileRow),
    );
  },
};
