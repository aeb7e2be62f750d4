import { loadsOf } from '../../manifests/queries.ts';
import { sumMoney, writeMoneyForFile } from '../../money/money.ts';
import { type ReconciledTicket, reconciledTicket } from '../../reconciliation/queries.ts';
import { ticketLines as linesOf, ticketTotal } from '../../tickets/queries.ts';
import { exportFile, namedTickets } from './export.ts';

export const ticketLines = exportFile({
  name: 'ticket-lines',
  sentence: "The lines of every standing ticket as printed, in the ticket's own unit. Replaced tickets are left out.",
  columns: [
    'yard',
    'ticket',
    'manifest',
    'sold_on',
    'line',
    'loads',
    'paid_as',
    'gross',
    'tare',
    'deduction',
    'net',
    'unit',
    'price',
    'per',
    'amount',
  ],
  texts: ['yard', 'ticket', 'manifest', 'loads', 'paid_as'],
  *rows(ledger) {
    const { db, settings } = ledger;
    for (const { ticket, name } of namedTickets(ledger)) {
      const labels = new Map(loadsOf(db, ticket.manifest_id).map((load) => [load.id, load.label]));
      yield* linesOf(db, ticket.id).map((line) => ({
        yard: ticket.yard_name,
        ticket: name,
        manifest: ticket.manifest_number,
        sold_on: ticket.sold_on,
        line: String(line.line_no),
        loads: line.loadIds.map((id) => labels.get(id) ?? '').join(';'),
        paid_as: line.grade_name,
        gross: line.gross,
        tare: line.tare,
        deduction: line.deduction,
        net: line.net,
        unit: line.unit,
        price: line.price,
        per: line.per,
        amount: writeMoneyForFile(line.amount_minor, settings.currency),
      }));
    }
  },
});

export const ticketTotals = exportFile({
  name: 'ticket-totals',
  sentence: 'The foot of every standing ticket: charges, tax, cash rounding, total, how it was paid.',
  columns: ['yard', 'ticket', 'charges', 'tax', 'cash_rounding', 'total', 'paid_by'],
  texts: ['yard', 'ticket'],
  *rows(ledger) {
    const { db, settings } = ledger;
    for (const { ticket, name } of namedTickets(ledger)) {
      const total = ticketTotal(db, ticket.id);
      // A foot belongs to lines; without any it could not be imported again.
      if (total === undefined || linesOf(db, ticket.id).length === 0) continue;
      yield {
        yard: ticket.yard_name,
        ticket: name,
        charges: writeMoneyForFile(total.charges_minor, settings.currency),
        tax: writeMoneyForFile(total.tax_minor, settings.currency),
        cash_rounding: writeMoneyForFile(total.cash_rounding_minor, settings.currency),
        total: writeMoneyForFile(total.total_minor, settings.currency),
        paid_by: total.paid_by,
      };
    }
  },
});

export const tickets = exportFile({
  name: 'tickets',
  sentence: 'One row for each ticket: what was expected of its loads, and what its foot says.',
  columns: ['yard', 'ticket', 'sold_on', 'expected', 'lines_paid', 'charges', 'tax', 'cash_rounding', 'total'],
  texts: ['yard', 'ticket'],
  *rows(ledger) {
    const { db, settings } = ledger;
    const write = (amount: Parameters<typeof writeMoneyForFile>[0]) => writeMoneyForFile(amount, settings.currency);
    for (const { ticket, name } of namedTickets(ledger)) {
      const { lines, total, reconciliation } = reconciledTicket(db, settings, ticket.id) as ReconciledTicket;
      yield {
        yard: ticket.yard_name,
        ticket: name,
        sold_on: ticket.sold_on,
        expected: write(reconciliation.sums.expectedMinor),
        lines_paid: write(sumMoney(lines.map((line) => line.amount_minor))),
        // Empty while the foot of the ticket is not in the ledger: nothing is made up.
        charges: total === null ? '' : write(total.charges_minor),
        tax: total === null ? '' : write(total.tax_minor),
        cash_rounding: total === null ? '' : write(total.cash_rounding_minor),
        total: total === null ? '' : write(total.total_minor),
      };
    }
  },
});
