import { sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import { IN_WEIGHT_WORDS, matching } from '../find/words.ts';
import type { Day } from '../units/day.ts';
import { binAccount, inWeightsWithBin, type RecentInWeight } from './queries.ts';

export interface InWeightFilter {
  /** One in-weight, as the trail and the search lead to it. */
  id: number | null;
  binId: number | null;
  from: Day | null;
  to: Day | null;
  /** The device it was written down on; '' for any. */
  who: string;
  /** Words of its note or of why it was corrected; '' for any. */
  text: string;
}

/**
 * A page of weighings by day, newest first, those taken back too. For one bin the days are read from the index of its
 * account, so that the cost is the rows shown and not the weighings of all bins.
 */
export function listInWeights(db: Db, filter: InWeightFilter, offset: number, count: number): RecentInWeight[] {
  const { id, binId, from, to, who, text } = filter;
  let query = inWeightsWithBin().limit(count).offset(offset);
  if (binId === null) query = query.orderBy('in_weight.occurred_on', 'desc').orderBy('in_weight.id', 'desc');
  else {
    query = query
      .innerJoin('transfer', (join) =>
        join.onRef('transfer.document_id', '=', 'in_weight.id').on('transfer.document_kind', '=', sql.lit('in_weight')),
      )
      .where('transfer.to_account_id', '=', binAccount(db, binId))
      .where(sql<number | null>`+transfer.reverses_id`, 'is', null)
      .orderBy('transfer.occurred_on', 'desc')
      .orderBy('transfer.id', 'desc');
  }
  const day = binId === null ? 'in_weight.occurred_on' : 'transfer.occurred_on';
  if (id !== null) query = query.where('in_weight.id', '=', id);
  if (from !== null) query = query.where(sql<Day>`${sql.ref(day)}`, '>=', from);
  if (to !== null) query = query.where(sql<Day>`${sql.ref(day)}`, '<=', to);
  if (who !== '') {
    const written = build.selectFrom('event').select('document_id').where('document_kind', '=', 'in_weight');
    query = query.where('in_weight.id', 'in', written.where('who', '=', who));
  }
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
