import type { Load } from '../../server/manifests/queries.ts';
import { type AmountMinor, NO_MONEY, sumMoney } from '../../server/money/money.ts';
import type { Effects, ReconciliationGroup } from '../../server/reconciliation/compute.ts';
import type { GroupFigures } from '../../server/reconciliation/figures.ts';
import type { ReconciledTicket } from '../../server/reconciliation/queries.ts';
import type { MassUg } from '../../server/units/mass.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

type ColumnName = keyof Effects | 'notOnTicket';
type Column = { name: ColumnName; label: string };

const COLUMNS: readonly Column[] = [
  { name: 'expectedMinor', label: 'Expected' },
  { name: 'notOnTicket', label: 'Not on the ticket' },
  { name: 'scaleMinor', label: 'Scales' },
  { name: 'deductionMinor', label: 'Deduction' },
  { name: 'gradeMinor', label: 'Grade' },
  { name: 'priceMinor', label: 'Price' },
  { name: 'roundingMinor', label: 'Rounding' },
  { name: 'arithmeticMinor', label: 'Arithmetic' },
  { name: 'paidMinor', label: 'Paid' },
];

/** Loads that are on no line, and a ticket's own slips of multiplication, are rare: they have a column only then. */
const columnsOf = ({ reconciliation: { groups } }: ReconciledTicket): Column[] =>
  COLUMNS.filter(({ name }) => {
    if (name === 'notOnTicket') return groups.some(({ isOnTicket }) => !isOnTicket);
    return name !== 'arithmeticMinor' || groups.some((group) => group.arithmeticMinor !== 0);
  });

/** An effect of a group, told apart as the picture does: a load that is on no line is no matter of the scales. */
function effectOf(group: ReconciliationGroup, name: ColumnName): AmountMinor {
  if (name === 'notOnTicket') return group.isOnTicket ? NO_MONEY : group.scaleMinor;
  return name === 'scaleMinor' && !group.isOnTicket ? NO_MONEY : group[name];
}

const isTotal = (name: ColumnName): boolean => name === 'expectedMinor' || name === 'paidMinor';

/** One row for each group of loads and lines that belong together. */
export function groupTable(show: Show, reconciled: ReconciledTicket, figures: readonly GroupFigures[]): SafeHtml {
  const columns = columnsOf(reconciled);
  const unit = figures[0]?.unit ?? show.settings.unit;
  const isOneUnit = figures.every((each) => each.unit === unit);
  const weighed = (label: string) => (isOneUnit ? `${label}, ${unit}` : label);
  const headings = [
    ...['Home', 'Yard', 'Paid'].map(weighed),
    ...columns.map(({ label }) => label),
    isOneUnit ? `Realised per ${unit}` : 'Realised',
    'Shrinkage',
  ];
  return html`<h2>Load by load</h2>
<div class="scroll"><table class="stack groups">
<thead><tr><th scope="col">Loads</th>${headings.map((heading) => html`<th scope="col" class="figure">${heading}</th>`)}</tr></thead>
<tbody>${figures.map((each) => groupRow(show, reconciled.loads, each, { columns, isOneUnit }))}</tbody>
<tfoot>${sumRow(show, reconciled, columns)}</tfoot>
</table></div>
<p class="hint">Realised: what was paid, less the load's share of the charges, for each ${isOneUnit ? unit : 'unit'} weighed at home.
  Shrinkage: the share of the home weight that was not paid for.</p>`;
}

interface Columns {
  columns: readonly Column[];
  isOneUnit: boolean;
}

const cell = (label: string, text: string) => html`<td class="figure" data-label="${label}">${text}</td>`;
/** An amount; on a phone, where each has a line of its own, effects that are nothing are left out. */
const moneyCell = (show: Show, { name, label }: Column, amount: AmountMinor): SafeHtml =>
  html`<td class="figure ${amount === 0 && !isTotal(name) ? 'nothing' : ''}" data-label="${label}">${amountIn(show, name, amount)}</td>`;

function groupRow(
  show: Show,
  loads: readonly Load[],
  figures: GroupFigures,
  { columns, isOneUnit }: Columns,
): SafeHtml {
  const { group, unit, realised, shrinkage } = figures;
  const own = group.loadIds.flatMap((id) => loads.find((load) => load.id === id) ?? []);
  const weight = (mass: MassUg) => (isOneUnit ? show.weightFigure(mass, unit) : show.weight(mass, unit));
  const atYard = (mass: MassUg) => (group.isOnTicket ? (group.comparedByWeight ? weight(mass) : 'by the piece') : '—');
  const grades = [...new Set(own.map((load) => load.grade_name))].join(', ');
  const bins = own.map((load) => load.bin_code).join(', ');
  return html`<tr>
  <th scope="row" data-label="Loads"><span>${own.map((load) => load.label).join(', ')}
    <small class="below">${grades} (${bins})</small>
    ${group.isOnTicket ? null : html`<small class="below stale">not on the ticket</small>`}</span></th>
  ${cell(`Home weight, ${unit}`, weight(group.homeUg))}
  ${cell(`Yard weight, ${unit}`, atYard(group.yardUg))}
  ${cell(`Paid weight, ${unit}`, atYard(group.paidUg))}
  ${columns.map((column) => moneyCell(show, column, effectOf(group, column.name)))}
  ${cell(`Realised per ${unit}`, realised === null ? '—' : show.figure(realised.price, 4))}
  ${cell('Shrinkage', shrinkage === null ? '—' : `${show.figure(shrinkage.times(100), 1)} %`)}
</tr>`;
}

const amountIn = (show: Show, name: ColumnName, amount: AmountMinor): string =>
  isTotal(name) ? show.money(amount) : show.signedMoney(amount);

const sumRow = (
  show: Show,
  { reconciliation }: ReconciledTicket,
  columns: readonly Column[],
): SafeHtml => html`<tr class="sum-row">
  <th scope="row" data-label="">All loads</th><td class="no-stack"></td><td class="no-stack"></td><td class="no-stack"></td>
  ${columns.map((column) => moneyCell(show, column, sumMoney(reconciliation.groups.map((group) => effectOf(group, column.name)))))}
  <td class="no-stack"></td><td class="no-stack"></td>
</tr>`;
