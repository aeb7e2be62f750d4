import { sumMoney } from '../../server/money/money.ts';
import type { Typed } from '../../server/reading.ts';
import type { Finding } from '../../server/tickets/audit.ts';
import type { TicketEntry } from '../../server/tickets/entry.ts';
import type { ReadTicket } from '../../server/tickets/forms.ts';
import { hiddenField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { findingsList } from './findings.ts';
import { draftName } from './form.ts';
import { printedFoot, printedLines, type ShownLine } from './printed.ts';

export interface CheckParts {
  entry: TicketEntry;
  read: ReadTicket;
  findings: readonly Finding[];
  /** Every field of the form, carried along. */
  typed: Typed;
}

/** The whole ticket as it will be stored, with everything worth asking about, before it is saved. */
export function checkPage(show: Show, { entry, read, findings, typed }: CheckParts): SafeHtml {
  const { input } = read;
  const title = `Check ticket ${input.number}`;
  return page({
    title,
    show,
    body: html`<h1>${title}</h1>
<p>${entry.yard?.name}, sold ${show.day(input.soldOn)}, manifest ${entry.manifest?.number}.
  ${entry.replaced === null ? null : html`It takes the place of ticket ${entry.replaced.number}: ${read.reason}.`}</p>
${findings.length === 0 ? html`<p class="saved" role="status">No slip found: the ticket’s own sums are right, and its weights and prices are near the manifest’s.</p>` : questions(findings)}
${printedLines(show, shownLines(entry, read))}
${input.totals === null ? null : printedFoot(show, { ...input.totals, linesMinor: sumMoney(input.lines.map((line) => line.amountMinor)) })}
${input.note === '' ? null : html`<p>Note: ${input.note}</p>`}
${saveForm(entry, typed, findings.length > 0)}`,
  });
}

/** Back to the form, at the line in question: here nothing can be changed. */
const changeLine = (lineNo: number): SafeHtml =>
  html`<button class="quiet" form="save-ticket" name="change" value="back" formaction="/tickets/lines#line-${lineNo}">Change line ${lineNo}</button>`;

const questions = (findings: readonly Finding[]): SafeHtml => html`<section class="next" aria-labelledby="questions">
<h2 id="questions">${findings.length === 1 ? 'One thing to look at' : `${findings.length} things to look at`}</h2>
<p>A slip of typing, or does the paper say so? What is printed is saved as printed.</p>
${findingsList(findings, changeLine)}
</section>`;

function shownLines(entry: TicketEntry, { lines }: ReadTicket): ShownLine[] {
  return lines.map(({ line, workedOut }) => ({
    ...line,
    workedOut,
    gradeName: entry.grades.find(({ id }) => id === line.gradeId)?.name ?? '',
    loadLabels: entry.loads.filter(({ id }) => line.loadIds.includes(id)).map(({ label }) => label),
  }));
}

function saveForm(entry: TicketEntry, typed: Typed, hasFindings: boolean): SafeHtml {
  const { replaced } = entry;
  const address = replaced === null ? '/tickets' : `/tickets/${replaced.id}/replacements`;
  const fields = Object.entries(typed).filter(([name]) => name !== 'change');
  return html`<form method="post" action="${address}" class="acts" id="save-ticket" data-draft-saved="${draftName(entry)}">
  ${fields.map(([name, value]) => hiddenField(name, value))}
  <button class="primary">${hasFindings ? 'Save as it is' : 'Save the ticket'}</button>
  <button name="change" value="back" formaction="/tickets/lines">Back to change</button>
</form>`;
}
