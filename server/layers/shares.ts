import { sql } from 'kysely';
import { type Db, writtenOnce } from '../db/database.ts';
import { type AmountMinor, amountMinor } from '../money/money.ts';
import { splitWhole } from '../money/split.ts';
import { reconciledTicket } from '../reconciliation/queries.ts';
import { readSettings } from '../setup/queries.ts';
import { Decimal } from '../units/decimal.ts';
import { massUg } from '../units/mass.ts';
import type { ItemShareTable } from './table.ts';

/** What an item has in the loads of one grade in one group of a ticket, and what of the money it earned. */
export type ItemShare = {
  [Column in keyof ItemShareTable]: ItemShareTable[Column]['__select__'];
};

const itemsOfTicket = writtenOnce(
  () => sql<{ load_id: number; grade_id: number; item_id: number; mass_ug: number }>`
    select transfer.document_id as load_id, layer_part.grade_id, layer_part.item_id, -layer_part.mass_ug as mass_ug
      from ticket
      join manifest_line on manifest_line.manifest_id = ticket.manifest_id
      join transfer on transfer.document_kind = 'manifest_line' and transfer.document_id = manifest_line.id
      join account as target on target.id = transfer.to_account_id and target.kind = 'load'
      join layer_part on layer_part.account_id = transfer.from_account_id
        and layer_part.occurred_on = transfer.occurred_on and layer_part.transfer_id = transfer.id
      where ticket.id = ${0}
      order by layer_part.item_id`,
);
const paidByGrade = writtenOnce(
  () => sql<{ group_no: number; grade_id: number; home_ug: number; earned_minor: AmountMinor }>`
    select group_no, grade_id, home_ug, paid_minor - charges_minor as earned_minor from reconciliation_share
      where ticket_id = ${0} order by group_no, grade_id`,
);

/**
 * The items' shares of what a ticket paid after its charges: within each group and grade by the mass of their layers in
 * the loads, to the cent (largest remainder). What is of no item bears its part and is left out.
 */
export function sharesOfTicket(db: Db, ticketId: number): ItemShare[] {
  const items = db.many(itemsOfTicket(ticketId));
  if (items.length === 0) return [];
  const groups = reconciledTicket(db, readSettings(db), ticketId)?.reconciliation.groups ?? [];
  return db.many(paidByGrade(ticketId)).flatMap((paid) => {
    const loadIds = groups[paid.group_no - 1]?.loadIds ?? [];
    const masses = new Map<number, number>();
    for (const { load_id, grade_id, item_id, mass_ug } of items) {
      if (grade_id !== paid.grade_id || !loadIds.includes(load_id)) continue;
      masses.set(item_id, (masses.get(item_id) ?? 0) + mass_ug);
    }
    const known = [...masses.values()].reduce((sum, mass) => sum + mass, 0);
    const weights = [...masses.values(), paid.home_ug - known].map((mass) => new Decimal(mass));
    const money = splitWhole(paid.earned_minor, weights);
    return [...masses].map(([itemId, mass], index) => ({
      ticket_id: ticketId,
      group_no: paid.group_no,
      grade_id: paid.grade_id,
      item_id: itemId,
      mass_ug: massUg(mass),
      earned_minor: amountMinor(money[index] ?? 0),
    }));
  });
}

const forgetShares = writtenOnce(() => sql`delete from item_share where ticket_id = ${0}`);

/** Shares a ticket's money over its items anew. A ticket that no longer counts has no share left to divide. */
export function shareTicket(db: Db, ticketId: number): void {
  db.run(forgetShares(ticketId));
  for (const share of sharesOfTicket(db, ticketId)) db.insert('item_share', share);
}
