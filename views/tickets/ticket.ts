import type { Attachment } from '../../server/attachments/queries.ts';
import type { Load } from '../../server/manifests/queries.ts';
import { sumMoney } from '../../server/money/money.ts';
import type { GroupFigures } from '../../server/reconciliation/figures.ts';
import type { ReconciledTicket } from '../../server/reconciliation/queries.ts';
import type { Comparison } from '../../server/scales/compute.ts';
import type { Finding } from '../../server/tickets/audit.ts';
import { toPrintedLine, workedOutOf } from '../../server/tickets/compute.ts';
import type { Ticket, TicketLine } from '../../server/tickets/queries.ts';
import type { MassUnit } from '../../server/units/mass.ts';
import { type PhotosParts, photosElsewhere, photosSection } from '../attachments/section.ts';
import { type FormState, problemSummary, requestKeyField, textField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { trailLink } from '../common/trail-link.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { findingsList } from './findings.ts';
import { groupTable } from './groups.ts';

import { ticketPicture } from './picture.ts';
import { howPaid, printedFoot, printedLines, type ShownLine } from './printed.ts';
import { scalesSection } from './scales.ts';

export interface TicketPageParts {
  reconciled: ReconciledTicket;
  /** Every load of the manifest, also what came back or is on another ticket. */
  manifestLoads: readonly Load[];
  figures: readonly GroupFigures[];
  /** For each group, in order, what its two scales say; null where there are no two weights. */
  comparisons: readonly (Comparison | null)[];
  findings: readonly Finding[];
  /** Unit for sums of weights. */
  unit: MassUnit;
  /** The ticket that took this one's place, and the one whose place this one took. */
  replacedBy: Ticket | null;
  replaces: Ticket | null;
  photos: PhotosParts;
  /** What is kept with its manifest, such as the ticket photographed at the yard. */
  manifestPhotos: readonly Attachment[];
}

/** A ticket after it was entered: where every cent went, load by load, and the paper itself. */
export function ticketPage(show: Show, parts: TicketPageParts, state: FormState): SafeHtml {
  const { ticket } = parts.reconciled;
  const isStanding = parts.replacedBy === null && ticket.take_back_id === null;
  return page({
    title: `Ticket ${ticket.number}`,
    show,
    body: html`${head(show, parts)}
${problemSummary(state)}
${isStanding ? standing(show, parts) : null}
${asPrinted(show, parts)}
${photosSection(show, parts.photos)}
${photosElsewhere(show, parts.manifestPhotos, { name: `manifest ${ticket.manifest_number}`, href: `/manifests/${ticket.manifest_id}` })}
${isStanding ? acts(ticket) : null}
${isStanding ? takeBackForm(ticket, state) : null}
${trailLink('ticket', ticket.id, 'What was done with this ticket, and when')}`,
  });
}

function head(show: Show, { reconciled, replacedBy, replaces }: TicketPageParts): SafeHtml {
  const { ticket, total, lines } = reconciled;
  const paid = total?.total_minor ?? sumMoney(lines.map((line) => line.amount_minor));
  return html`<div class="head">
  <h1>Ticket ${ticket.number}</h1>
  <p class="total"><b>${show.money(paid)}</b> ${total === null ? 'on its lines' : `paid ${howPaid(total.paid_by)}`}</p>
  <p>${ticket.yard_name}, sold ${show.day(ticket.sold_on)}, for
    <a href="/manifests/${ticket.manifest_id}">manifest ${ticket.manifest_number}</a>.</p>
  ${
    replaces === null
      ? null
      : html`<p>It takes the place of <a href="/tickets/${replaces.id}">ticket ${replaces.number} as first entered</a>: ${ticket.replace_reason}.
    ${replacedBy === null && ticket.take_back_id === null ? html`<a href="/tickets/${ticket.id}/replacement?like=first">Put the first figures back</a>` : null}</p>`
  }
  ${
    replacedBy === null
      ? null
      : html`<p class="saved" role="status">Replaced: <a href="/tickets/${replacedBy.id}">ticket ${replacedBy.number}</a> took its place
    (${replacedBy.replace_reason}). This one is kept to be read and counts for nothing any more.</p>`
  }
  ${ticket.take_back_id === null || replacedBy !== null ? null : takenBackNote(ticket)}
  ${total === null ? html`<p>The foot of this ticket, with charges and total, was not entered yet.</p>` : null}
</div>`;
}

function standing(show: Show, parts: TicketPageParts): SafeHtml {
  return html`${leftOver(show, parts)}
${ticketPicture(show, parts)}
${notes(parts)}
${parts.figures.length === 0 ? null : groupTable(show, parts.reconciled, parts.figures)}
${scalesSection(show, parts.comparisons, parts.unit)}`;
}

/** Loads that no line pays for, and what can be done about them. */
function leftOver(show: Show, { reconciled }: TicketPageParts): SafeHtml | null {
  const { ticket, loads, reconciliation } = reconciled;
  const ids = reconciliation.groups.filter(({ isOnTicket }) => !isOnTicket).flatMap(({ loadIds }) => loadIds);
  const missing = loads.filter(({ id }) => ids.includes(id));
  if (missing.length === 0) return null;
  const named = missing.map((load) => `${load.label} (${load.bin_code}, ${show.weight(load.mass_ug ?? (0 as never))})`);
  return html`<section class="next" aria-labelledby="left-over"><h2 id="left-over">Not on the ticket</h2>
<p>${missing.length === 1 ? 'Load' : 'Loads'} ${named.join(', ')}: loaded, and on no line of this ticket.</p>
<ul>
  <li>It came home again: <a href="/manifests/${ticket.manifest_id}#not-sold">bring it back to its bin</a>.</li>
  <li>It is on another paper: <a href="/tickets/new?manifest=${ticket.manifest_id}">enter that ticket</a>.</li>
  <li>It is on this one after all: <a href="/tickets/${ticket.id}/replacement">replace the ticket</a>.</li>
</ul></section>`;
}

/** What limits the comparison, in words. */
function notes({ reconciled }: TicketPageParts): SafeHtml | null {
  const { loads, reconciliation } = reconciled;
  const unquoted = loads.filter((load) => load.price === null).map((load) => load.label);
  const pieces = reconciliation.groups.filter(({ isOnTicket, comparedByWeight }) => isOnTicket && !comparedByWeight);
  const byPiece = loads
    .filter(({ id }) => pieces.some(({ loadIds }) => loadIds.includes(id)))
    .map((load) => load.label);
  const sentences = [
    ...(unquoted.length === 0
      ? []
      : [
          `No price was quoted for ${unquoted.join(', ')} when it was loaded, so nothing was expected of it and all that was paid for it counts as price.`,
        ]),
    ...(byPiece.length === 0
      ? []
      : [
          `${byPiece.join(', ')}: counted by the piece, so the weights are not compared and the whole difference counts as price.`,
        ]),
  ];
  return sentences.length === 0
    ? null
    : html`<ul class="notes">${sentences.map((sentence) => html`<li>${sentence}</li>`)}</ul>`;
}

function asPrinted(show: Show, { reconciled, findings }: TicketPageParts): SafeHtml {
  const { lines, total, loads, ticket } = reconciled;
  const foot =
    total === null
      ? null
      : {
          linesMinor: sumMoney(lines.map((line) => line.amount_minor)),
          chargesMinor: total.charges_minor,
          taxMinor: total.tax_minor,
          cashRoundingMinor: total.cash_rounding_minor,
          totalMinor: total.total_minor,
          paidBy: total.paid_by,
          roundingWorkedOut: total.worked_out !== '',
        };
  return html`<h2>The ticket as printed</h2>
${printedLines(
  show,
  lines.map((line) => shownLine(line, (id) => loads.find((load) => load.id === id)?.label ?? '')),
)}
${foot === null ? null : printedFoot(show, foot)}
${findings.length === 0 ? null : html`<h3>What its figures say</h3>${findingsList(findings)}`}
${ticket.note === '' ? null : html`<p>Note: ${ticket.note}</p>`}`;
}

const shownLine = (line: TicketLine, labelOf: (loadId: number) => string): ShownLine => ({
  ...toPrintedLine(line),
  gradeName: line.grade_name,
  loadLabels: line.loadIds.map(labelOf),
  workedOut: workedOutOf(line),
});

/** Said at the top of a ticket that was taken back, with the way to let it count again. */
const takenBackNote = ({
  id,
  manifest_id,
  take_back_reason: reason,
}: Ticket): SafeHtml => html`<div class="saved" role="status">
<p>Taken back${reason ? html`: ${reason}` : null}. This ticket is kept to be read and counts for nothing; its loads wait for a ticket
  on <a href="/manifests/${manifest_id}">their manifest</a>.</p>
<form method="post" action="/tickets/${id}/take-backs/undo">
  ${requestKeyField({ typed: {}, problems: {} })}
  <p class="acts"><button class="quiet">Let it count again</button>
  <a class="button" href="/tickets/new?manifest=${manifest_id}">Enter another ticket</a></p>
</form></div>`;

const takeBackForm = (
  { id }: Ticket,
  state: FormState,
): SafeHtml => html`<section class="way take-back"><h2>Entered by mistake?</h2>
<p>Takes the whole ticket back: its loads wait for a ticket again, and nothing of it counts any more. It stays here to be read,
  and can be let count again.</p>
<form method="post" action="/tickets/${id}/take-backs">
  ${requestKeyField(state)}
  ${textField({ name: 'reason', label: 'Why', hint: 'May stay empty. For example: it belongs to another manifest.' }, state)}
  <button class="quiet">Take the ticket back</button>
</form></section>`;

const acts = (ticket: Ticket): SafeHtml => html`<p class="acts">
  <a class="button" href="/tickets/${ticket.id}/replacement">Put something right</a>
  <a class="button" href="/tickets">All tickets</a>
</p>`;
