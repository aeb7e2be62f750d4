import { fixedClock } from '../server/clock.ts';
import { openLedger } from '../server/context.ts';
import type { Db } from '../server/db/database.ts';
import { recordInWeight } from '../server/ledger/acts.ts';
import { recordLoadedManifest } from '../server/manifests/loading.ts';
import { loadsOf } from '../server/manifests/queries.ts';
import { recordTicket, totalsOfLines } from '../server/tickets/acts.ts';
import { day } from '../server/units/day.ts';
import { Decimal } from '../server/units/decimal.ts';
import { toMassUg } from '../server/units/mass.ts';
import { benchToday, type Filling, nextWeighing, printLine } from './fill.ts';
import { median } from './pages.ts';

/** Milliseconds of an act that moves layers, on the usual ledger and on the large one. */
export interface LayerTimes {
  name: string;
  small: number;
  big: number;
}

const TURNS = 40;
const LOADS = 8;
/** Long before the last load of its bin, so that what left since is followed anew. */
const LATE_DAY = day('2025-12-01');

type Act = (filling: Filling, turn: number) => void;

/** A manifest of eight bins, twenty pounds of each, and its ticket: the same weights on both ledgers. */
function loadAndSell({ db, binIds, yardIds, chance, turn: turns, ...rest }: Filling, turn: number): void {
  const ledger = openLedger(db, fixedClock(benchToday));
  const yardId = yardIds[turn % yardIds.length] ?? 0;
  const number = `L${turn}`;
  const massUg = toMassUg({ amount: new Decimal(20), unit: 'lb' });
  const loads = Array.from({ length: LOADS }, (_, place) => ({
    ...{ label: String(place + 1), binId: binIds[(turn * LOADS + place) % binIds.length] ?? 0, netTyped: '20' },
    ...{ unit: 'lb' as const, massUg, price: null, per: null },
  }));
  const manifestId = recordLoadedManifest(ledger, { yardId, number, loadedOn: benchToday, loads });
  const filling = { db, binIds, yardIds, chance, turn: turns, ...rest };
  const lines = loadsOf(db, manifestId).map((load, index) => printLine(filling, load, index));
  const ticket = { yardId, manifestId, number, soldOn: benchToday, note: '', lines };
  recordTicket(ledger, { ...ticket, totals: totalsOfLines(lines) });
}

/** A weighing of last month that was forgotten. */
function weighInLate(filling: Filling): void {
  recordInWeight(openLedger(filling.db, fixedClock(benchToday)), nextWeighing(filling, LATE_DAY).input);
}

function timesOf(act: Act, filling: Filling, turn: number): number {
  const begun = performance.now();
  act(filling, turn);
  return performance.now() - begun;
}

/** Acts that move layers, on both ledgers in turn. What they enter stays there. */
export function timeLayers(small: Filling, big: Db): LayerTimes[] {
  const large: Filling = { ...small, db: big, turn: { ...small.turn } };
  const acts: [string, Act][] = [
    ['eight loads and their ticket', loadAndSell],
    ['a weighing of last month', weighInLate],
  ];
  return acts.map(([name, act]) => {
    const times: [number[], number[]] = [[], []];
    for (let turn = 0; turn < TURNS; turn += 1) {
      times[0].push(timesOf(act, small, turn));
      times[1].push(timesOf(act, large, turn));
    }
    return { name, small: median(times[0]), big: median(times[1]) };
  });
}
