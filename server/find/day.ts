import type { Ledger } from '../context.ts';
import { type Day, readWrittenDay, writeDay } from '../units/day.ts';
import type { Asked, Hit } from './hit.ts';
import { binsCountedOn, countDay } from './queries.ts';

const counted = (count: number, one: string, several: string): string =>
  count === 1 ? `1 ${one}` : `${count} ${several}`;

/** What happened on the day that the text is, each with the list that shows it. */
export function onDay({ db }: Ledger, { text }: Asked): Hit[] {
  const on = readWrittenDay(text);
  if (on === null) return [];
  const { inWeights, quotes, drafted, loaded, sold, checks: checked, recounts, moves, items } = countDay(db, on);
  const { from, to } = { from: on, to: on };
  const at = (path: string, more: Record<string, string> = {}) =>
    `${path}?${new URLSearchParams({ from, to, ...more })}`;
  const lists: [number, string, string][] = [
    [items, counted(items, 'item picked up', 'items picked up'), at('/items')],
    [inWeights, counted(inWeights, 'weighing', 'weighings'), at('/in-weights')],
    [loaded, counted(loaded, 'manifest loaded', 'manifests loaded'), at('/manifests')],
    [drafted, counted(drafted, 'manifest drafted', 'manifests drafted'), at('/manifests')],
    [sold, counted(sold, 'ticket', 'tickets'), at('/tickets', { status: 'all' })],
    [quotes, counted(quotes, 'price seen', 'prices seen'), at('/trail', { kind: 'prices' })],
    [checked, counted(checked, 'check of a scale', 'checks of scales'), at('/trail', { kind: 'scales' })],
  ];
  const touched = recounts + moves === 0 ? [] : binsCountedOn(db, on);
  return [
    ...lists.filter(([count]) => count > 0).map(([, name, href]) => hitOfDay(on, name, href)),
    ...touched.map(({ code }) => hitOfDay(on, `${code} recounted or moved`, `/bins/${encodeURIComponent(code)}`)),
    hitOfDay(on, 'What was written down that day', at('/trail')),
  ];
}

const hitOfDay = (on: Day, name: string, href: string): Hit => ({ href, name, facts: writeDay(on), text: '' });
