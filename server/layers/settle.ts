import { sql } from 'kysely';
import { type Db, writtenOnce } from '../db/database.ts';
import type { Part } from './compute.ts';
import { arrivalOf } from './lines.ts';
import { type Followed, follow, type QueueState } from './replay.ts';
import { shareTicket } from './shares.ts';
import { type Key, queueBefore, replaceParts, storedParts, storeQueue } from './stored.ts';

const anythingDue = writtenOnce(
  () => sql<{ is_due: number }>`select exists (select 1 from layer_queue where stale_on is not null)
    or exists (select 1 from share_due) as is_due`,
);
const stalestQueue = writtenOnce(
  () => sql<{ account_id: number; stale_on: string }>`select account_id, stale_on from layer_queue
    where stale_on is not null order by stale_on, account_id limit 1`,
);

/**
 * Brings the layers and the items' shares of money up to what the transfers and tickets say by now, before a transaction
 * ends. Only what was touched is followed: a bin from the last day before the earliest thing that is new or gone.
 */
export function settleLayers(db: Db): void {
  if (db.one(anythingDue()).is_due === 0) return;
  for (let stale = db.maybe(stalestQueue()); stale !== undefined; stale = db.maybe(stalestQueue())) {
    settleBin(db, stale.account_id, stale.stale_on);
  }
  for (const { ticket_id: ticketId } of db.many(sql<{ ticket_id: number }>`select ticket_id from share_due`)) {
    shareTicket(db, ticketId);
  }
  db.run(sql`delete from share_due`);
}

/** Follows what an upgrade or another program left to be followed, so that the first person to write need not wait for it. */
export function settleIfDue(db: Db): void {
  if (db.one(anythingDue()).is_due === 1) db.transaction(() => settleLayers(db));
}

function settleBin(db: Db, accountId: number, staleOn: string): void {
  const from = queueBefore(db, accountId, staleOn);
  const followed = follow(db, accountId, from);
  storeQueue(db, accountId, from, followed);
  for (const key of storeParts(db, accountId, from, followed)) passOn(db, key, followed);
}

/** Stores what the steps did to items' material, where it is not stored so already. @returns what is another now */
function storeParts(db: Db, accountId: number, from: QueueState, { parts }: Followed): Key[] {
  const before = storedParts(db, accountId, from.settledOn);
  const after = new Map(parts.map(({ step, parts: own }) => [step.id, { step, own }]));
  const gone = [...before.values()].filter(({ transferId }) => !after.has(transferId));
  for (const key of gone) replaceParts(db, accountId, key, 0, []);
  const changed = parts.flatMap(({ step, parts: own }) => {
    if (JSON.stringify(before.get(step.id)?.parts) === JSON.stringify(own)) return [];
    const key = { occurredOn: step.occurred_on, transferId: step.id };
    replaceParts(db, accountId, key, step.grade_id, own);
    return [key];
  });
  return [...gone, ...changed];
}

const markTicketsOfLoad = writtenOnce(
  () => sql`insert or ignore into share_due (ticket_id)
    select distinct reconciliation_share.ticket_id from transfer
      cross join ticket_line_load on ticket_line_load.manifest_line_id = transfer.document_id
      cross join ticket_line on ticket_line.id = ticket_line_load.ticket_line_id
      cross join reconciliation_share on reconciliation_share.ticket_id = ticket_line.ticket_id
      where transfer.id = ${0} and transfer.document_kind = 'manifest_line'`,
);
const markStale = writtenOnce(
  () => sql`update layer_queue set stale_on = min(coalesce(stale_on, ${''}), ${''}) where account_id = ${0}
    and (drawn_on > ${''} or (drawn_on = ${''} and drawn_id >= ${0}) or settled_on >= ${''})`,
);

/** Says on what a step did another way than before: to the tickets that paid for a load, to the bin that it went to. */
function passOn(db: Db, { occurredOn, transferId }: Key, { parts }: Followed): void {
  db.run(markTicketsOfLoad(transferId));
  const arrival = arrivalOf(db, transferId);
  if (arrival === undefined) return;
  const due = parts.find(({ step }) => step.id === transferId)?.parts ?? [];
  const key = { occurredOn: arrival.occurred_on, transferId: arrival.id };
  const arriving = due.map(([itemId, mass]): Part => [itemId, -mass]);
  replaceParts(db, arrival.to_account_id, key, arrival.grade_id, arriving);
  const on = occurredOn;
  db.run(markStale(on, on, arrival.to_account_id, on, on, arrival.id, on));
}
