import { subtractMoney } from '../../server/money/money.ts';
import type { Grade, Yard } from '../../server/setup/queries.ts';
import type { TicketSummary } from '../../server/tickets/queries.ts';
import type { ListAddresses } from '../../server/web.ts';
import { choiceField, dayField, type FormState, textField } from '../common/form.ts';
import { newerAndOlder } from '../common/pages.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

export interface TicketListParts extends ListAddresses {
  tickets: readonly TicketSummary[];
  yards: readonly Yard[];
  grades: readonly Grade[];
  state: FormState;
}

/** The tickets, newest sale first: expected, paid, total. */
export function ticketListPage(show: Show, parts: TicketListParts): SafeHtml {
  return page({
    title: 'Tickets',
    show,
    body: html`<h1>Tickets</h1>
<p class="acts"><a class="button primary" href="/tickets/new">Enter a ticket</a></p>
${filters(parts)}
${parts.tickets.length === 0 ? html`<p>${parts.isFiltered ? 'No ticket fits this search.' : 'No ticket was entered yet.'}</p>` : ticketTable(show, parts.tickets)}
${newerAndOlder(parts, 'tickets')}`,
  });
}

/** The empty choice is the usual one: tickets that count. */
const STATUS_CHOICES = [
  { value: 'not-counting', label: 'Taken back or replaced' },
  { value: 'all', label: 'All of them' },
];

/** Why a ticket does not count; null when it does. */
const notCounting = ({ replaced_by_id, take_back_id }: TicketSummary): string | null =>
  replaced_by_id !== null ? 'replaced' : take_back_id !== null ? 'taken back' : null;

function filters({ yards, grades, state }: TicketListParts): SafeHtml {
  const choices = (rows: readonly { id: number; name: string }[]) =>
    rows.map(({ id, name }) => ({ value: String(id), label: name }));
  return html`<form method="get" action="/tickets" class="filters" role="search" aria-label="Tickets">
  ${textField({ name: 'number', label: 'Ticket number' }, state)}
  ${choiceField({ name: 'yard', label: 'Yard', choices: choices(yards), none: 'Every yard' }, state)}
  ${choiceField({ name: 'grade', label: 'Paid as', choices: choices(grades), none: 'Every grade' }, state)}
  ${dayField({ name: 'from', label: 'From' }, state)}
  ${dayField({ name: 'to', label: 'To' }, state)}
  ${choiceField({ name: 'status', label: 'Which', choices: STATUS_CHOICES, none: 'Those that count' }, state)}
  <button>Show</button>
</form>`;
}

function ticketTable(show: Show, tickets: readonly TicketSummary[]): SafeHtml {
  return html`<div class="scroll"><table class="stack">
<thead><tr><th scope="col">Ticket</th><th scope="col">Sold</th><th scope="col">Yard</th><th scope="col">Manifest</th>
  ${['Expected', 'Paid for loads', 'Total', 'Difference'].map((name) => html`<th scope="col" class="figure">${name}</th>`)}</tr></thead>
<tbody>${tickets.map((ticket) => ticketRow(show, ticket))}</tbody>
</table></div>
<p class="hint">Difference: the total less what was expected of the loads on it; a load that was brought back is no longer expected.</p>`;
}

function ticketRow(show: Show, ticket: TicketSummary): SafeHtml {
  const { total_minor: total, expected_minor: expected, paid_minor: paid } = ticket;
  const figure = (label: string, text: string) => html`<td class="figure" data-label="${label}">${text}</td>`;
  const gone = notCounting(ticket);
  return html`<tr class="${gone === null ? '' : 'undone'}">
  <th scope="row" data-label="Ticket"><a href="/tickets/${ticket.id}">${ticket.number}</a>${gone === null ? null : html` <small>${gone}</small>`}</th>
  <td class="day" data-label="Sold">${show.day(ticket.sold_on)}</td>
  <td data-label="Yard">${ticket.yard_name}</td>
  <td data-label="Manifest"><a href="/manifests/${ticket.manifest_id}">${ticket.manifest_number}</a></td>
  ${figure('Expected', gone === null ? show.money(expected) : '–')}
  ${figure('Paid for loads', gone === null ? show.money(paid) : '–')}
  ${figure('Total', total === null ? 'not entered' : show.money(total))}
  ${figure('Difference', gone === null ? show.signedMoney(subtractMoney(total ?? paid, expected)) : '–')}
</tr>`;
}
