import type { AmountMinor } from '../../server/money/money.ts';
import type { PrintedLine } from '../../server/tickets/compute.ts';
import { yardWeightOf } from '../../server/tickets/compute.ts';
import type { PaidBy } from '../../server/tickets/table.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { writeForFile } from '../../server/units/write-weight.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

/** A line as the ticket prints it, with the names a person reads. */
export interface ShownLine extends Omit<PrintedLine, 'gradeId' | 'loadIds'> {
  gradeName: string;
  /** Labels of the loads it pays for. */
  loadLabels: readonly string[];
  /** Figures that the ticket did not print. */
  workedOut: readonly string[];
}

/** The lines as printed, as a table; on a phone one card for each. */
export function printedLines(show: Show, lines: readonly ShownLine[]): SafeHtml {
  return html`<div class="scroll"><table class="stack printed">
<thead><tr><th scope="col">Line</th><th scope="col">Paid as</th><th scope="col">Loads</th>
  ${['Gross', 'Tare', 'Deduction', 'Net', 'Price', 'Amount'].map((name) => html`<th scope="col" class="figure">${name}</th>`)}</tr></thead>
<tbody>${lines.map((line) => printedLine(show, line))}</tbody>
</table></div>`;
}

const unitWord = (unit: string): string => (unit === 'each' ? 'pieces' : unit);
const workedOutNote = html`<small class="worked-out">worked out, not printed</small>`;

function printedLine(show: Show, line: ShownLine): SafeHtml {
  const cell = (label: string, name: string, text: string) =>
    html`<td class="figure" data-label="${label}"><span>${text}${line.workedOut.includes(name) ? workedOutNote : null}</span></td>`;
  const weight = (digits: string) => `${show.digits(digits)} ${unitWord(line.unit)}`;
  const none = (digits: string) => /^[0.]*%?$/.test(digits);
  const deduction = line.deduction.endsWith('%')
    ? `${show.digits(line.deduction)}, ${weight(writeForFile(yardWeightOf(line).minus(line.net), 0))}`
    : weight(line.deduction);
  return html`<tr id="line-${line.lineNo}">
  <th scope="row" data-label="Line">${line.lineNo}</th>
  <td class="named" data-label="Paid as"><span>${line.gradeName}${line.description === '' ? null : html`<small class="below">“${line.description}”</small>`}</span></td>
  <td data-label="Loads">${line.loadLabels.length === 0 ? 'none' : line.loadLabels.join(', ')}</td>
  ${cell('Gross', 'gross', weight(line.gross))}
  ${cell('Tare', 'tare', none(line.tare) ? '0' : weight(line.tare))}
  ${cell('Deduction', 'deduction', none(line.deduction) ? '0' : deduction)}
  ${cell('Net', 'net', weight(line.net))}
  ${cell('Price', 'price', show.price(line.price, line.per))}
  ${cell('Amount', 'amount', show.money(line.amountMinor))}
</tr>`;
}

/** "in cash", "by cheque" */
export const howPaid = (paidBy: PaidBy): string =>
  paidBy === 'cash' ? 'in cash' : paidBy === 'other' ? 'in another way' : `by ${paidBy}`;

export interface ShownFoot {
  linesMinor: AmountMinor;
  chargesMinor: AmountMinor;
  taxMinor: AmountMinor;
  cashRoundingMinor: AmountMinor;
  totalMinor: AmountMinor;
  paidBy: PaidBy;
  roundingWorkedOut?: boolean;
}

/** The foot of a ticket: from the sum of its lines to what was paid. What is nothing is left out. */
export function printedFoot(show: Show, foot: ShownFoot): SafeHtml {
  const row = (name: string, amount: string, note: SafeHtml | null = null) =>
    html`<div><dt>${name}</dt><dd class="figure">${amount}${note}</dd></div>`;
  const minus = (amount: AmountMinor) => show.signedMoney(new Decimal(amount).neg().toNumber() as AmountMinor);
  return html`<dl class="foot">
  ${row('Lines', show.money(foot.linesMinor))}
  ${foot.chargesMinor === 0 ? null : row('Charges', minus(foot.chargesMinor))}
  ${foot.taxMinor === 0 ? null : row('Tax', show.signedMoney(foot.taxMinor))}
  ${foot.cashRoundingMinor === 0 ? null : row('Cash rounding', show.signedMoney(foot.cashRoundingMinor), foot.roundingWorkedOut ? workedOutNote : null)}
  <div class="sum-row"><dt>Total, paid ${howPaid(foot.paidBy)}</dt><dd class="figure"><b>${show.money(foot.totalMinor)}</b></dd></div>
</dl>`;
}
