import { sql } from 'kysely';
import type { Db } from '../db/database.ts';
import { massOfLayers } from './compute.ts';
import { arrivalOf, listInflows, partsOfMove } from './lines.ts';
import { emptyQueue, type Followed, follow, type QueueState } from './replay.ts';
import { sharesOfTicket } from './shares.ts';
import { stopsWorthKeeping, storedParts, storedStops, storedText, toStored } from './stored.ts';

interface BinAccount {
  id: number;
  code: string;
  held_ug: number;
  is_stale: number;
}

const binAccounts = (db: Db): BinAccount[] =>
  db.many(sql<BinAccount>`
    select account.id, bin.code, coalesce(balance.mass_ug, 0) as held_ug, layer_queue.stale_on is not null as is_stale
      from account join bin on bin.id = account.bin_id
      left join balance on balance.account_id = account.id and balance.grade_id = bin.grade_id
      left join layer_queue on layer_queue.account_id = account.id order by bin.id`);

const isSame = (due: object, stored: object): boolean => JSON.stringify(due) === JSON.stringify(stored);

/**
 * Bins whose layers are not what their transfers give when they are followed from the first one on, or do not weigh what
 * the bin holds. A bin that is still to be followed, as after an upgrade, is left aside.
 */
export const layersOff = (db: Db): string[] =>
  binAccounts(db).flatMap(({ id, code, held_ug: heldUg, is_stale: isStale }) => {
    if (isStale === 1) return [];
    const followed = follow(db, id, emptyQueue);
    const { state, days } = followed;
    const off = heldUg - massOfLayers(state.layers) - inflowsBehind(db, id, state);
    // Compared as they are written: what is stored may be anything by now.
    const stops = stopsWorthKeeping(days).map(toStored);
    return [
      ...(isSame(toStored(state), storedText(db, id)) ? [] : [`layers of ${code}`]),
      ...(isSame(stops, storedStops(db, id)) ? [] : [`layers of ${code} at the end of days`]),
      ...(off === 0 ? [] : [`the layers of ${code} are off by ${off} µg`]),
      ...partsOff(db, id, followed).map((transferId) => `items in ${code} by transfer ${transferId}`),
    ];
  });

/** Mass of what came in behind the layers that are written down, less what was taken ahead of them. */
function inflowsBehind(db: Db, accountId: number, { drawnOn, drawnId }: QueueState): number {
  let sum = 0;
  for (let on: string = drawnOn, id = drawnId; ; ) {
    const inflows = listInflows(db, accountId, on, id, 1_000);
    sum += inflows.reduce((mass, inflow) => mass + inflow.mass_ug, 0);
    const last = inflows.at(-1);
    if (last === undefined) return sum;
    [on, id] = [last.occurred_on, last.id];
  }
}

/** Transfers whose items are stored otherwise than they were followed, in the bin or where they went. */
function partsOff(db: Db, accountId: number, { parts }: Followed): number[] {
  const stored = storedParts(db, accountId, '');
  const ids = new Set([...stored.keys(), ...parts.map(({ step }) => step.id)]);
  const due = new Map(parts.map(({ step, parts: own }) => [step.id, own]));
  return [...ids].filter((id) => {
    const own = due.get(id) ?? [];
    if (JSON.stringify(own) !== JSON.stringify(stored.get(id)?.parts ?? [])) return true;
    const arrival = arrivalOf(db, id);
    if (arrival === undefined) return false;
    const arrived = partsOfMove(db, arrival.to_account_id, arrival);
    return JSON.stringify(arrived) !== JSON.stringify(own.map(([itemId, mass]) => [itemId, -mass]));
  });
}

/** Tickets whose money is shared over items otherwise than their loads and layers give. */
export function itemSharesOff(db: Db): string[] {
  const tickets = db.many(sql<{ id: number; number: string }>`select id, number from ticket order by id`);
  return tickets.filter(({ id }) => !isSharedRight(db, id)).map(({ number }) => `ticket ${number}`);
}

function isSharedRight(db: Db, ticketId: number): boolean {
  const stored =
    db.many(sql<object>`select ticket_id, group_no, grade_id, item_id, mass_ug, earned_minor from item_share
    where ticket_id = ${ticketId} order by group_no, grade_id, item_id`);
  const isDue = db.maybe(sql`select 1 from share_due where ticket_id = ${ticketId}`) !== undefined;
  return isDue || JSON.stringify(stored) === JSON.stringify(sharesOfTicket(db, ticketId));
}
