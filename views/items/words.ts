import { isGoneWhole } from '../../server/items/compute.ts';
import type { Item } from '../../server/items/queries.ts';
import type { Depth, Got, ItemStatus } from '../../server/items/table.ts';
import type { Show } from '../common/show.ts';

export const STATUS_WORDS: Readonly<Record<ItemStatus, string>> = {
  waiting: 'waiting',
  'taken apart': 'taken apart',
  'as is': 'sold as is',
  'sold whole': 'sold whole',
  discarded: 'thrown away',
};

export const GOT_WORDS: Readonly<Record<Got, string>> = { given: 'given', found: 'found', bought: 'bought' };

export const DEPTH_WORDS: Readonly<Record<Exclude<Depth, ''>, string>> = {
  coarse: 'down to the pieces that yards take as they are',
  fine: 'down to clean metal',
};

/** "25.40 lb", or as it was typed; null when it was not weighed. */
export const weightOf = (show: Show, { weight_ug, weight_unit }: Item): string | null =>
  weight_ug === null ? null : show.weight(weight_ug, weight_unit === '' ? show.settings.unit : weight_unit);

/** What is still to be said of an item; of what is gone a weight can no longer be taken. */
export function missingOf(item: Item, hasPhoto: boolean): string[] {
  return [
    item.weight_ug === null && !isGoneWhole(item.status) ? 'no weight' : '',
    item.proof === '' && !hasPhoto ? 'no proof' : '',
  ].filter((what) => what !== '');
}
