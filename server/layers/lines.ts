import { type RawBuilder, sql } from 'kysely';
import type { Db } from '../db/database.ts';
import { writtenOnce } from '../db/database.ts';
import type { AccountKind, DocumentKind } from '../ledger/table.ts';
import type { Day } from '../units/day.ts';
import { filledUp, type Part } from './compute.ts';

// What went in and out of a bin, in the order in which it is followed: by day, and within a day as it was written down.
// What was taken back, and a loading that was a mistake, never were.

const standing = (name: string): RawBuilder<boolean> => {
  const transfer = sql.raw(name);
  return sql<boolean>`+${transfer}.reverses_id is null
    and not exists (select 1 from transfer as reversal where reversal.reverses_id = ${transfer}.id)
    and not (${transfer}.document_kind = 'manifest_line' and exists (select 1 from load_return
      where load_return.manifest_line_id = ${transfer}.document_id and load_return.undoes_loading = 1))
    and not (${transfer}.document_kind = 'load_return' and (select undoes_loading from load_return
      where load_return.id = ${transfer}.document_id) = 1)`;
};

/** What changes the queue otherwise than at its back: all that leaves, what a count found, and what came back. */
export interface Step {
  id: number;
  occurred_on: Day;
  mass_ug: number;
  grade_id: number;
  document_kind: DocumentKind;
  document_id: number;
  from_account_id: number;
  to_account_id: number;
  from_kind: AccountKind;
  to_kind: AccountKind;
}

const stepColumns = sql`transfer.id, transfer.occurred_on, transfer.mass_ug, transfer.grade_id, transfer.document_kind,
  transfer.document_id, transfer.from_account_id, transfer.to_account_id, source.kind as from_kind, target.kind as to_kind`;
const withKinds = sql`transfer cross join account as source on source.id = transfer.from_account_id
  cross join account as target on target.id = transfer.to_account_id`;

const stepsAfter = writtenOnce(
  () => sql<Step>`
    select ${stepColumns} from ${withKinds}
      where transfer.from_account_id = ${0} and transfer.from_account_id <> 1 and transfer.occurred_on > ${''}
        and ${standing('transfer')}
    union all
    select ${stepColumns} from ${withKinds}
      where transfer.to_account_id = ${0} and transfer.occurred_on > ${''}
        and source.kind in ('load', 'count_difference') and ${standing('transfer')}
    order by 2, 1`,
);
/** The steps of a bin's account on the days after a day. */
export const listSteps = (db: Db, accountId: number, after: string): Step[] =>
  db.many(stepsAfter(accountId, after, accountId, after));

/** What was weighed in or moved in: it joins the queue at its back. */
export interface Inflow {
  id: number;
  occurred_on: Day;
  mass_ug: number;
  document_kind: DocumentKind;
  item_id: number | null;
}

const nextInflows = writtenOnce(
  () => sql<Inflow>`
    select transfer.id, transfer.occurred_on, transfer.mass_ug, transfer.document_kind, in_weight.item_id
      from transfer cross join account as source on source.id = transfer.from_account_id
      left join in_weight on transfer.document_kind = 'in_weight' and in_weight.id = transfer.document_id
      where transfer.to_account_id = ${0} and (transfer.occurred_on, transfer.id) > (${''}, ${0})
        and source.kind not in ('load', 'count_difference') and ${standing('transfer')}
      order by transfer.occurred_on, transfer.id limit ${0}`,
);
/** So many inflows of a bin's account behind a place in its line. */
export const listInflows = (db: Db, accountId: number, onDay: string, id: number, count: number): Inflow[] =>
  db.many(nextInflows(accountId, onDay, id, count));

const storedPart = writtenOnce(
  () => sql<{ item_id: number; mass_ug: number }>`select item_id, mass_ug from layer_part
    where account_id = ${0} and occurred_on = ${''} and transfer_id = ${0} order by item_id`,
);
/** The items' material in a move that came into a bin, as it was worked out where it came from. */
export const partsOfMove = (db: Db, accountId: number, move: Pick<Inflow, 'id' | 'occurred_on'>): Part[] =>
  db.many(storedPart(accountId, move.occurred_on, move.id)).map(({ item_id, mass_ug }) => [item_id, mass_ug]);

/** What an inflow is of: its item, or the items of the material that was moved. */
export const partsOfInflow = (db: Db, accountId: number, inflow: Inflow): Part[] =>
  inflow.document_kind === 'in_weight'
    ? [[inflow.item_id ?? 0, inflow.mass_ug]]
    : filledUp(partsOfMove(db, accountId, inflow), inflow.mass_ug);

const intoLoad = writtenOnce(
  () => sql<{ item_id: number; mass_ug: number }>`
    select layer_part.item_id, -layer_part.mass_ug as mass_ug
      from transfer cross join layer_part on layer_part.account_id = transfer.from_account_id
        and layer_part.occurred_on = transfer.occurred_on and layer_part.transfer_id = transfer.id
      where transfer.to_account_id = ${0} and +transfer.document_kind = 'manifest_line' order by layer_part.item_id`,
);
/** The items' material in a load, by the account of the load. */
export const partsOfLoad = (db: Db, loadAccountId: number): Part[] =>
  db.many(intoLoad(loadAccountId)).map(({ item_id, mass_ug }) => [item_id, mass_ug]);

const pairedInflow = writtenOnce(
  () => sql<{ id: number; to_account_id: number; grade_id: number; occurred_on: Day }>`
    select arriving.id, arriving.to_account_id, arriving.grade_id, arriving.occurred_on
      from transfer as leaving cross join transfer as arriving
        on arriving.document_kind = leaving.document_kind and arriving.document_id = leaving.document_id
          and (arriving.id = leaving.id or arriving.from_account_id = leaving.to_account_id)
      cross join account as source on source.id = leaving.from_account_id and source.kind = 'bin'
      cross join account as target on target.id = arriving.to_account_id and target.kind = 'bin'
      where leaving.id = ${0} and leaving.document_kind in ('bin_transfer', 'stripping') and +arriving.reverses_id is null
        and arriving.to_account_id <> leaving.from_account_id
      limit 1`,
);
/** Where what left a bin by a transfer came in again, when it was moved or stripped into another bin. */
export const arrivalOf = (
  db: Db,
  transferId: number,
): { id: number; to_account_id: number; grade_id: number; occurred_on: Day } | undefined =>
  db.maybe(pairedInflow(transferId));
