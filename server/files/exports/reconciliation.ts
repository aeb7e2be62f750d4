import type { Ledger } from '../../context.ts';
import { amountMinor, writeMoneyForFile } from '../../money/money.ts';
import type { ReconciliationGroup } from '../../reconciliation/compute.ts';
import { type ReconciledTicket, reconciledTicket } from '../../reconciliation/queries.ts';
import { comparisonsOf, readKnownScales } from '../../scales/comparisons.ts';
import { findYard, listGrades } from '../../setup/queries.ts';
import { reportFigure } from '../compute.ts';
import { exportFile, namedTickets } from './export.ts';

/** Weights in the ticket's unit; where it counts pieces, in the yard's. */
function weightsOf({ db, settings }: Ledger, { ticket }: ReconciledTicket, group: ReconciliationGroup) {
  const unit = group.unit === 'each' ? (findYard(db, ticket.yard_id)?.unit ?? settings.unit) : group.unit;
  return {
    unit,
    home: reportFigure(group.homeUg, unit),
    yard_weight: reportFigure(group.yardUg, unit),
    paid_weight: reportFigure(group.paidUg, unit),
  };
}

function moneyOf({ settings }: Ledger, group: ReconciliationGroup) {
  const write = (amount: number) => writeMoneyForFile(amountMinor(amount), settings.currency);
  return {
    expected: write(group.expectedMinor),
    scale: write(group.scaleMinor),
    deduction: write(group.deductionMinor),
    grade: write(group.gradeMinor),
    price: write(group.priceMinor),
    // Slips of arithmetic on the ticket are part of it here, so that the columns add up to what was paid.
    rounding: write(group.roundingMinor + group.arithmeticMinor),
    paid: write(group.paidMinor),
  };
}

export const reconciliation = exportFile({
  name: 'reconciliation',
  sentence: 'Where every cent went: one row for each group of loads and ticket lines that belong together.',
  columns: [
    'yard',
    'ticket',
    'sold_on',
    'loads',
    'grades',
    'unit',
    'home',
    'yard_weight',
    'paid_weight',
    'expected',
    'scale',
    'deduction',
    'grade',
    'price',
    'rounding',
    'paid',
    'verdict',
  ],
  texts: ['yard', 'ticket', 'loads', 'grades'],
  *rows(ledger) {
    const gradeNames = new Map(listGrades(ledger.db).map((grade) => [grade.id, grade.name]));
    const scales = readKnownScales(ledger.db);
    for (const { ticket, name } of namedTickets(ledger)) {
      const reconciled = reconciledTicket(ledger.db, ledger.settings, ticket.id) as ReconciledTicket;
      const labels = new Map(reconciled.loads.map((load) => [load.id, load.label]));
      const compared = comparisonsOf(ledger, scales, reconciled);
      yield* reconciled.reconciliation.groups.map((group, index) => ({
        yard: ticket.yard_name,
        ticket: name,
        sold_on: ticket.sold_on,
        loads: group.loadIds.map((id) => labels.get(id)).join(';'),
        grades: group.gradeIds.map((id) => gradeNames.get(id)).join(';'),
        ...weightsOf(ledger, reconciled, group),
        ...moneyOf(ledger, group),
        // explained, unexplained or unknown; nothing where there are no two weights to compare.
        verdict: compared[index]?.verdict.kind ?? '',
      }));
    }
  },
});
