import { sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import { IN_WEIGHT_WORDS, matching } from '../find/words.ts';
import type { Day } from '../units/day.ts';
import { binAccount, inWeightsWithBin, type RecentInWeight } from './queries.ts';

export interface InWeightFilter {
  /** One in-weight, as the trail and the search lead to it. */
  id: number | null;
  binId: number | null;
  /** The item that it came from; null for any and none. */
  itemId: number | null;
  from: Day | null;
  to: Day | null;
  /** The device it was written down on; '' for any. */
  who: string;
  /** Words of its note or of why it was corrected; '' for any. */
  text: string;
}

/**
 * The weighings in the order that is quickest for what is asked: of a device as they were written down, by way of the
 * trail; of a bin by day, from the index of its account; else by day. So the cost is the rows shown and not all there are.
 */
function inOrder(db: Db, { who, binId }: InWeightFilter) {
  const all = inWeightsWithBin();
  if (who !== '') {
    const own = all
      .innerJoin('event', (join) =>
        join
          .onRef('event.document_id', '=', 'in_weight.id')
          .on('event.document_kind', '=', sql.lit('in_weight'))
          .on('event.act', 'in', sql<string>`('weighed in', 'corrected an in-weight')`),
      )
      .where('event.who', '=', who)
      .orderBy('event.id', 'desc');
    return binId === null ? own : own.where('in_weight.bin_id', '=', binId);
  }
  if (binId === null) return all.orderBy('in_weight.occurred_on', 'desc').orderBy('in_weight.id', 'desc');
  return all
    .innerJoin('transfer', (join) =>
      join.onRef('transfer.document_id', '=', 'in_weight.id').on('transfer.document_kind', '=', sql.lit('in_weight')),
    )
    .where('transfer.to_account_id', '=', binAccount(db, binId))
    .where(sql<number | null>`+transfer.reverses_id`, 'is', null)
    .orderBy('transfer.occurred_on', 'desc')
    .orderBy('transfer.id', 'desc');
}

/** A page of weighings, newest first, those taken back too. */
export function listInWeights(db: Db, filter: InWeightFilter, offset: number, count: number): RecentInWeight[] {
  const { id, binId, itemId, from, to, who, text } = filter;
  let query = inOrder(db, filter).limit(count).offset(offset);
  // The same day by either name; it is the account's index that has it where a bin is asked for.
  const day = sql<Day>`${sql.ref(binId !== null && who === '' ? 'transfer.occurred_on' : 'in_weight.occurred_on')}`;
  if (id !== null) query = query.where('in_weight.id', '=', id);
  if (itemId !== null) query = query.where('in_weight.item_id', '=', itemId);
  if (from !== null) query = query.where(day, '>=', from);
  if (to !== null) query = query.where(day, '<=', to);
  const asked = matching(text);
  if (text !== '') {
    const { first, last } = IN_WEIGHT_WORDS;
    const found = build
      .selectFrom('found')
      .select(sql<number>`rowid - ${sql.lit(first)}`.as('id'))
      .where('found', sql`match`, asked)
      .where('rowid', '>=', first)
      .where('rowid', '<=', last);
    query = query.where('in_weight.id', 'in', found);
  }
  return db.many(query);
}
