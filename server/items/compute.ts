import { Refusal } from '../refusal.ts';
import type { Depth, Got, ItemStatus } from './table.ts';

/** What an item is called everywhere: "Item 12". */
export const itemName = (id: number): string => `Item ${id}`;

/** Reads "12", "item 12" and "Item 12" as the number of an item; null for other words. */
export const numberOfItem = (text: string): number | null => {
  const [, digits] = /^(?:item\s+)?(\d{1,12})$/i.exec(text.trim()) ?? [];
  return digits === undefined ? null : Number.parseInt(digits, 10);
};

export const itemStatuses = [
  'waiting',
  'taken apart',
  'as is',
  'sold whole',
  'discarded',
] as const satisfies readonly ItemStatus[];
export const waysGot = ['given', 'found', 'bought'] as const satisfies readonly Got[];
export const depths = ['coarse', 'fine'] as const satisfies readonly Depth[];

/** Nothing can be done any more with what left the house whole. */
const GONE_WHOLE: Partial<Record<ItemStatus, string>> = {
  'sold whole': 'was sold whole',
  discarded: 'was thrown away',
};

export const isGoneWhole = (status: ItemStatus): boolean => GONE_WHOLE[status] !== undefined;

/** Refuses to go on with an item that was sold whole or thrown away, until it is put back to waiting. */
export function refuseGoneWhole({ id, status }: { id: number; status: ItemStatus }, field = ''): void {
  const how = GONE_WHOLE[status];
  if (how === undefined) return;
  const say = `${itemName(id)} ${how}. If that is not so, put it back to waiting on its page first.`;
  throw new Refusal('item_closed', field, say);
}
