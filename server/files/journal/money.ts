import type { Currency } from '../../money/currencies.ts';
import {
  type AmountMinor,
  NO_MONEY,
  negateMoney,
  subtractMoney,
  sumMoney,
  writeMoneyForFile,
} from '../../money/money.ts';
import type { JournalTicket } from './queries.ts';
import { commentLines, plain } from './text.ts';

/** What the text of a ticket needs beside its sums. */
export interface TicketWords {
  /** As in the names of accounts. */
  yard: string;
  note: string;
  /** What was expected of the loads that it pays for, by the name of the grade. */
  expected: readonly (readonly [grade: string, amount: AmountMinor])[];
}

const RECEIVED = { cash: 'Cash', cheque: 'Cheque', card: 'Card', transfer: 'Transfer', other: 'Other' } as const;

/**
 * A ticket as one transaction: what was expected is where the money comes from (negative), every effect that cost some
 * of it stands beside what was received (positive), so that expected and effects add up to what was paid.
 */
export function ticketText(ticket: JournalTicket, currency: Currency, { yard, note, expected }: TicketWords): string {
  const received = ticket.paid_by === null ? 'Foot not entered' : RECEIVED[ticket.paid_by];
  const total = ticket.total ?? ticket.lines;
  const sources = [...expectedOf(ticket, expected), ...effectsOf(ticket, total)].filter(([, amount]) => amount !== 0);
  const lines = [
    ...sources.map(([account, amount]) => [account, negateMoney(amount)] as const),
    [`Received:${received}`, total] as const,
  ];
  const write = ([account, amount]: readonly [string, AmountMinor]) =>
    `    Money:${account}  ${writeMoneyForFile(amount, currency)} ${currency}\n`;
  const head = `${ticket.sold_on} * (M${ticket.id}) ${yard} | Ticket ${plain(ticket.number)}\n`;
  return `${head}${commentLines(note)}${lines.map(write).join('')}\n`;
}

type Part = readonly [account: string, amount: AmountMinor];

/** By grade of what it pays for; what was expected of loads that are on no ticket is lost again under Scale. */
function expectedOf(ticket: JournalTicket, byGrade: TicketWords['expected']): Part[] {
  const onTicket = sumMoney(byGrade.map(([, amount]) => amount));
  return [
    ...byGrade.map(([grade, amount]) => [`Expected:${grade}`, amount] as const),
    ['Expected of loads on no ticket', subtractMoney(ticket.expected, onTicket)],
  ];
}

function effectsOf(ticket: JournalTicket, total: AmountMinor): Part[] {
  const charges = negateMoney(ticket.charges ?? NO_MONEY);
  const tax = ticket.tax ?? NO_MONEY;
  const cashRounding = ticket.cash_rounding ?? NO_MONEY;
  // The printed total less what the ticket's own figures give.
  const slip = subtractMoney(total, sumMoney([ticket.lines, charges, tax, cashRounding]));
  return [
    ['Effects:Scale', ticket.scale],
    ['Effects:Deduction', ticket.deduction],
    ['Effects:Grade', ticket.grade],
    ['Effects:Price', ticket.price],
    ['Effects:Rounding', ticket.rounding],
    ['Effects:Arithmetic', sumMoney([ticket.arithmetic, slip])],
    ['Effects:Not on the manifest', subtractMoney(ticket.lines, ticket.paid)],
    ['Effects:Charges', charges],
    ['Effects:Tax', tax],
    ['Effects:Cash rounding', cashRounding],
  ];
}
