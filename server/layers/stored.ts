import { sql } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import { massUg } from '../units/mass.ts';
import type { Layer, Part } from './compute.ts';
import { emptyQueue, type Followed, type QueueState } from './replay.ts';
import type { LayerStopTable } from './table.ts';

/** A queue as it is stored. */
export type Stored = Pick<LayerStopTable, 'settled_on' | 'settled_id' | 'drawn_on' | 'drawn_id' | 'rest' | 'ahead'>;

export const toStored = (state: QueueState): Stored => ({
  settled_on: state.settledOn,
  settled_id: state.settledId,
  drawn_on: state.drawnOn,
  drawn_id: state.drawnId,
  rest: JSON.stringify(state.layers),
  ahead: JSON.stringify(state.ahead),
});

const fromStored = (row: Stored): QueueState => ({
  settledOn: row.settled_on,
  settledId: row.settled_id,
  drawnOn: row.drawn_on,
  drawnId: row.drawn_id,
  layers: JSON.parse(row.rest) as Layer[],
  ahead: JSON.parse(row.ahead) as Part[],
});

const queueOf = writtenOnce(
  () => sql<Stored>`select settled_on, settled_id, drawn_on, drawn_id, rest, ahead from layer_queue
    where account_id = ${0}`,
);
const stopBefore = writtenOnce(
  () => sql<Stored>`select settled_on, settled_id, drawn_on, drawn_id, rest, ahead from layer_stop
    where account_id = ${0} and settled_on < ${''} and drawn_on < ${''} and ahead = '[]' order by settled_on desc limit 1`,
);

/** The queue of a bin's account just as it is written down. */
export const storedText = (db: Db, accountId: number): Stored => db.maybe(queueOf(accountId)) ?? toStored(emptyQueue);

/** The queue of a bin's account as it is stored, empty when nothing ever left it. */
export const storedQueue = (db: Db, accountId: number): QueueState => fromStored(storedText(db, accountId));

/** The latest known queue that nothing of a day or after it had a part in, nor could have. */
export function queueBefore(db: Db, accountId: number, day: string): QueueState {
  const queue = storedQueue(db, accountId);
  if (queue.settledOn < day && queue.drawnOn < day && queue.ahead.length === 0) return queue;
  const stop = db.maybe(stopBefore(accountId, day, day));
  return stop === undefined ? emptyQueue : fromStored(stop);
}

/** A queue with more layers than this is not kept for each day: it would be written again and again. */
const LONGEST_KEPT = 64;

/** What is kept of queues at the end of days. */
export const stopsWorthKeeping = (days: readonly QueueState[]): QueueState[] =>
  days.filter(({ layers }) => layers.length <= LONGEST_KEPT);

/** The queues of a bin's account as they are stored for the ends of days. */
export const storedStops = (db: Db, accountId: number): Stored[] =>
  db.many(sql<Stored>`select settled_on, settled_id, drawn_on, drawn_id, rest, ahead from layer_stop
    where account_id = ${accountId} order by settled_on, settled_id`);

const forgetStops = writtenOnce(() =>
  build
    .deleteFrom('layer_stop')
    .where('account_id', '=', 0)
    .where('settled_on', '>', '' as Day),
);

/** Stores a queue after it was followed on from another, and what it was at the end of each day. */
export function storeQueue(db: Db, accountId: number, from: QueueState, { state, days }: Followed): void {
  db.run(forgetStops(accountId, from.settledOn));
  for (const day of stopsWorthKeeping(days)) db.insert('layer_stop', { account_id: accountId, ...toStored(day) });
  db.run(
    build
      .updateTable('layer_queue')
      .set({ ...toStored(state), stale_on: null })
      .where('account_id', '=', accountId),
  );
}

/** Where parts belong: a day and a transfer of it. */
export interface Key {
  occurredOn: Day;
  transferId: number;
}

const ownParts = writtenOnce(
  () => sql<{ occurred_on: Day; transfer_id: number; item_id: number; mass_ug: number }>`
    select layer_part.occurred_on, layer_part.transfer_id, layer_part.item_id, layer_part.mass_ug
      from layer_part cross join transfer on transfer.id = transfer_id
      cross join account as source on source.id = transfer.from_account_id
      where layer_part.account_id = ${0} and layer_part.occurred_on > ${''}
        and (source.id = layer_part.account_id or source.kind in ('load', 'count_difference'))
      order by layer_part.item_id`,
);
const forgetParts = writtenOnce(() =>
  build
    .deleteFrom('layer_part')
    .where('account_id', '=', 0)
    .where('occurred_on', '=', '' as Day)
    .where('transfer_id', '=', 0),
);

/** Items' material of one transfer, by the transfer. */
export interface OwnParts extends Key {
  parts: Part[];
}

/** What is stored of the steps of a bin's account on the days after a day. Moves into it are not among them. */
export function storedParts(db: Db, accountId: number, after: string): Map<number, OwnParts> {
  const found = new Map<number, OwnParts>();
  for (const { occurred_on: occurredOn, transfer_id: transferId, item_id, mass_ug } of db.many(
    ownParts(accountId, after),
  )) {
    const known = found.get(transferId) ?? { occurredOn, transferId, parts: [] };
    known.parts.push([item_id, mass_ug]);
    found.set(transferId, known);
  }
  return found;
}

/** Puts parts in the place of those that are stored for a transfer. */
export function replaceParts(db: Db, accountId: number, key: Key, gradeId: number, parts: readonly Part[]): void {
  db.run(forgetParts(accountId, key.occurredOn, key.transferId));
  for (const [itemId, mass] of parts) {
    db.insert('layer_part', {
      account_id: accountId,
      occurred_on: key.occurredOn,
      transfer_id: key.transferId,
      item_id: itemId,
      grade_id: gradeId,
      mass_ug: massUg(mass),
    });
  }
}
