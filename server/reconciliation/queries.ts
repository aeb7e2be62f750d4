import type { Selectable } from 'kysely';
import type { Ledger } from '../context.ts';
import { flag } from '../db/columns.ts';
import { build, type Db, writtenOnce } from '../db/database.ts';
import { loadAccount, soleAccount } from '../ledger/queries.ts';
import { type Posting, postSigned, postTransfer } from '../ledger/transfers.ts';
import { type Load, loadsOf } from '../manifests/queries.ts';
import { NO_MONEY, sumMoney } from '../money/money.ts';
import { splitWhole } from '../money/split.ts';
import { findYard } from '../setup/queries.ts';
import type { Settings } from '../setup/settings.ts';
import { toPrintedLine } from '../tickets/compute.ts';
import {
  findTicket,
  standingTicketsOf,
  type Ticket,
  type TicketLine,
  type TicketTotal,
  ticketLines,
  ticketTotal,
} from '../tickets/queries.ts';
import { Decimal } from '../units/decimal.ts';
import { type MassUg, massUg, NO_MASS } from '../units/mass.ts';
import {
  type ReconciledLine,
  type ReconciledLoad,
  type ReconciliationGroup,
  reconcileTicket,
  type TicketReconciliation,
} from './compute.ts';
import { chargesOfGroups, shareCharges, shareGroup } from './shares.ts';
import type { ReconciliationGroupTable, ReconciliationShareTable } from './table.ts';

/** A ticket with everything its page shows: the paper, the loads it answers for, and where every cent went. */
export interface ReconciledTicket {
  ticket: Ticket;
  lines: TicketLine[];
  /** Null while only the lines are known. */
  total: TicketTotal | null;
  loads: Load[];
  reconciliation: TicketReconciliation;
}

const toReconciledLoad = (load: Load): ReconciledLoad => ({
  id: load.id,
  label: load.label,
  gradeId: load.grade_id,
  massUg: load.mass_ug as MassUg,
  price: load.price,
  per: load.per,
  expectedMinor: load.expected_minor ?? NO_MONEY,
});

const toReconciledLine = (line: TicketLine): ReconciledLine => ({
  ...toPrintedLine(line),
  quoteForPaidGrade:
    line.quoted_price === null || line.quoted_per === null
      ? null
      : { price: new Decimal(line.quoted_price), per: line.quoted_per },
});

/**
 * The loads a ticket answers for: those its lines pay for, and, on the first standing ticket of the manifest, those
 * that are on no ticket and not back in their bin.
 */
function loadsAnsweredFor(db: Db, ticket: Ticket, lines: readonly TicketLine[]): Load[] {
  const standing = standingTicketsOf(db, ticket.manifest_id);
  const own = new Set(lines.flatMap((line) => line.loadIds));
  const isFirst = standing[0]?.id === ticket.id;
  const elsewhere = new Set(
    standing
      .filter((other) => isFirst && other.id !== ticket.id)
      .flatMap((other) => ticketLines(db, other.id).flatMap((line) => line.loadIds)),
  );
  const isLeftOver = (load: Load) => isFirst && !elsewhere.has(load.id) && load.load_return_id === null;
  return loadsOf(db, ticket.manifest_id).filter((load) => own.has(load.id) || isLeftOver(load));
}

/** Reads a ticket and works its reconciliation out anew. Undefined when there is no such ticket. */
export function reconciledTicket(db: Db, settings: Settings, ticketId: number): ReconciledTicket | undefined {
  const ticket = findTicket(db, ticketId);
  if (ticket === undefined) return undefined;
  const lines = ticketLines(db, ticketId);
  const total = ticketTotal(db, ticketId) ?? null;
  const loads = loadsAnsweredFor(db, ticket, lines);
  const reconciliation = reconcileTicket({
    currency: settings.currency,
    unit: findYard(db, ticket.yard_id)?.unit ?? settings.unit,
    loads: loads.map(toReconciledLoad),
    lines: lines.map(toReconciledLine),
    chargesMinor: total?.charges_minor ?? NO_MONEY,
    taxMinor: total?.tax_minor ?? NO_MONEY,
    cashRoundingMinor: total?.cash_rounding_minor ?? NO_MONEY,
    totalMinor: total?.total_minor ?? sumMoney(lines.map((line) => line.amount_minor)),
  });
  return { ticket, lines, total, loads, reconciliation };
}

const mustReconcile = ({ db, settings }: Ledger, ticketId: number): ReconciledTicket => {
  const reconciled = reconciledTicket(db, settings, ticketId);
  if (reconciled === undefined) throw new Error(`no ticket ${ticketId}`);
  return reconciled;
};

/**
 * Moves the mass that a ticket pays for out of its loads: what the scales disagree about, what was deducted, and what
 * was sold. A group of several loads is shared by their home weights, so that every load ends at exactly zero.
 * @returns how it was reconciled, which nothing of this changes
 */
export function settleTicket(ledger: Ledger, ticketId: number): ReconciledTicket {
  const reconciled = mustReconcile(ledger, ticketId);
  const { ticket, loads, reconciliation } = reconciled;
  for (const group of reconciliation.groups.filter(({ isOnTicket }) => isOnTicket)) {
    const own = loads.filter((load) => group.loadIds.includes(load.id));
    const weights = own.map((load) => new Decimal(load.mass_ug as MassUg));
    const yardShares = splitWhole(group.yardUg, weights);
    const paidShares = splitWhole(group.paidUg, weights);
    own.forEach((load, index) => {
      const yardUg = massUg(yardShares[index] ?? 0);
      settleLoad(ledger, ticket, load, { yardUg, paidUg: massUg(paidShares[index] ?? 0) });
    });
  }
  return reconciled;
}

function settleLoad(
  ledger: Ledger,
  ticket: Ticket,
  load: Load,
  { yardUg, paidUg }: { yardUg: MassUg; paidUg: MassUg },
) {
  const { db } = ledger;
  const account = loadAccount(db, load.id);
  const posting = {
    gradeId: load.grade_id,
    occurredOn: ticket.sold_on,
    document: { kind: 'ticket', id: ticket.id } as const,
  };
  const postings: Posting[] = [
    {
      ...posting,
      from: account,
      to: soleAccount(db, 'scale_difference'),
      massUg: massUg((load.mass_ug as MassUg) - yardUg),
      reason: 'scale difference',
    },
    { ...posting, from: account, to: soleAccount(db, 'deducted'), massUg: massUg(yardUg - paidUg), reason: 'deducted' },
  ];
  // What comes in goes first, so that the load never dips below zero on the way.
  for (const each of postings.sort((a, b) => a.massUg - b.massUg)) postSigned(ledger, each);
  postTransfer(ledger, { ...posting, from: account, to: soleAccount(db, 'sold'), massUg: paidUg, reason: 'sold' });
}

export type StoredGroup = Selectable<ReconciliationGroupTable>;

/** The groups of a ticket as stored. */
export const storedGroups = (db: Db, ticketId: number): StoredGroup[] =>
  db.many(
    build
      .selectFrom('reconciliation_group')
      .select(['ticket_id', 'group_no', 'unit', 'is_on_ticket', 'home_ug', 'yard_ug', 'paid_ug', 'expected_minor'])
      .select(['scale_minor', 'deduction_minor', 'grade_minor', 'price_minor', 'rounding_minor', 'arithmetic_minor'])
      .select('paid_minor')
      .where('ticket_id', '=', ticketId)
      .orderBy('group_no'),
  );

/** A group as it is stored, from the group as it was worked out. */
export const toStoredGroup = (ticketId: number, groupNo: number, group: ReconciliationGroup): StoredGroup => ({
  ticket_id: ticketId,
  group_no: groupNo,
  unit: group.unit,
  is_on_ticket: flag(group.isOnTicket),
  home_ug: group.homeUg,
  yard_ug: group.yardUg,
  paid_ug: group.paidUg,
  expected_minor: group.expectedMinor,
  scale_minor: group.scaleMinor,
  deduction_minor: group.deductionMinor,
  grade_minor: group.gradeMinor,
  price_minor: group.priceMinor,
  rounding_minor: group.roundingMinor,
  arithmetic_minor: group.arithmeticMinor,
  paid_minor: group.paidMinor,
});

const ofManifest = () => build.selectFrom('ticket').select('ticket.id').where('ticket.manifest_id', '=', 0);
const forgetShares = writtenOnce(() => build.deleteFrom('reconciliation_share').where('ticket_id', 'in', ofManifest()));
const forgetGroups = writtenOnce(() => build.deleteFrom('reconciliation_group').where('ticket_id', 'in', ofManifest()));

/**
 * Reconciles every standing ticket of a manifest anew and stores the groups and their shares; the monthly sums that
 * the reports read follow by trigger. Replaced tickets keep none.
 * @param settled the one that was reconciled a moment ago, if any
 */
export function rebuildGroups(ledger: Ledger, manifestId: number, settled?: ReconciledTicket): void {
  const { db } = ledger;
  db.run(forgetShares(manifestId));
  db.run(forgetGroups(manifestId));
  for (const { id } of standingTicketsOf(db, manifestId)) {
    storeGroups(ledger, settled?.ticket.id === id ? settled : mustReconcile(ledger, id));
  }
}

function storeGroups({ db, settings }: Ledger, reconciled: ReconciledTicket): void {
  reconciled.reconciliation.groups.forEach((group, index) => {
    db.insert('reconciliation_group', toStoredGroup(reconciled.ticket.id, index + 1, group));
  });
  for (const share of toStoredShares(reconciled, settings)) {
    db.insert('reconciliation_share', share);
  }
}

export type StoredShare = Selectable<ReconciliationShareTable>;

/** The shares of a ticket as stored. */
export const storedShares = (db: Db, ticketId: number): StoredShare[] =>
  db.many(
    build
      .selectFrom('reconciliation_share')
      .select(['ticket_id', 'group_no', 'grade_id', 'yard_id', 'sold_on', 'home_ug', 'yard_ug', 'paid_ug', 'quoted_ug'])
      .select(['weighed_ug', 'quoted_micro', 'paid_minor', 'charges_minor'])
      .where('ticket_id', '=', ticketId)
      .orderBy('group_no')
      .orderBy('grade_id'),
  );

/** The shares of a ticket's groups by grade, as they are stored. */
export function toStoredShares(
  { ticket, loads, reconciliation }: ReconciledTicket,
  { currency }: Settings,
): StoredShare[] {
  const charges = chargesOfGroups(reconciliation);
  return reconciliation.groups.flatMap((group, index) => {
    // A load that is on no ticket was not sold yet: it has no part in prices and shrinkage.
    if (!group.isOnTicket) return [];
    const shares = shareGroup(group, loads.map(toReconciledLoad), currency);
    const ofShares = shareCharges(
      charges[index] ?? NO_MONEY,
      shares.map((share) => share.paidMinor),
    );
    return shares.map((share, place) => ({
      ticket_id: ticket.id,
      group_no: index + 1,
      grade_id: share.gradeId,
      yard_id: ticket.yard_id,
      sold_on: ticket.sold_on,
      home_ug: share.homeUg,
      yard_ug: share.yardUg,
      paid_ug: share.paidUg,
      weighed_ug: group.comparedByWeight ? share.homeUg : NO_MASS,
      quoted_ug: share.quotedUg,
      quoted_micro: share.quotedMicro,
      paid_minor: share.paidMinor,
      charges_minor: ofShares[place] ?? NO_MONEY,
    }));
  });
}
