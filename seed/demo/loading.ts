import { draftManifest, weighLoads } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { type Day, day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { subtractMass } from '../../server/units/mass.ts';
import { writeForFile } from '../../server/units/write-weight.ts';
import type { DemoBin, Household, YardName } from './household.ts';
import type { RunPlan } from './run-plans.ts';

/** A load under way, with what it truly weighs. */
export interface DemoLoad {
  loadId: number;
  label: string;
  bin: DemoBin;
  trueLb: Decimal;
}

export interface Loading {
  manifestId: number;
  loadedOn: Day;
  loads: DemoLoad[];
}

/** More than that does not go on the bench scale. */
const BENCH_CAPACITY = 110;

/** Steel lies outside and is never weighed a second time: it goes at its book weight. */
const goesByTheBook = (bin: DemoBin): boolean => bin.code === 'FE1';

export function draftFor(house: Household, yard: YardName, codes: readonly string[], note: string, on: Day): number {
  const binIds = codes.map((code) => house.bin(code).id);
  return draftManifest(house.at(on), { yardId: house.yards[yard], binIds, note });
}

/** Drafts a manifest, takes the load-out weights and loads it. The bins are then truly empty, but for what stays. */
export function loadFor(house: Household, plan: Pick<RunPlan, 'on' | 'yard' | 'bins' | 'part'>): Loading {
  const on = day(plan.on);
  const manifestId = draftFor(house, plan.yard, plan.bins, '', on);
  const loads = loadsOf(house.db, manifestId).map((line): DemoLoad => {
    const bin = house.bin(line.bin_code);
    const trueLb = plan.part?.bin === bin.code ? new Decimal(plan.part.lb) : bin.trueLb;
    if (trueLb.isZero() || trueLb.gt(bin.trueLb))
      throw new Error(`the demo loads ${bin.code} on ${on}, and it does not hold that`);
    return { loadId: line.id, label: line.label, bin, trueLb };
  });
  const loadOuts = loads
    .filter(({ bin }) => !goesByTheBook(bin) || plan.part?.bin === bin.code)
    .map((load) => loadOutOf(house, load, on, plan.part?.bin !== load.bin.code));
  weighLoads(house.at(on), manifestId, loadOuts);
  loadManifest(house.at(on), manifestId, on, true);
  for (const { bin, trueLb } of loads) bin.trueLb = bin.trueLb.minus(trueLb);
  return { manifestId, loadedOn: on, loads };
}

function loadOutOf(house: Household, { loadId, bin, trueLb }: DemoLoad, on: Day, emptiesBin: boolean) {
  const fitsBench = bin.scale === 'bench' && trueLb.plus(bin.tare).lt(BENCH_CAPACITY);
  const scale = fitsBench ? 'bench' : 'floor';
  const weighing = house.weigh({ ...bin, scale }, trueLb, on);
  return {
    lineId: loadId,
    containerId: bin.containerId,
    scaleId: house.scales[scale],
    grossTyped: weighing.grossTyped,
    tareTyped: weighing.tareTyped,
    netTyped: writeForFile(new Decimal(weighing.grossTyped).minus(weighing.tareTyped), 1),
    unit: weighing.unit,
    massUg: subtractMass(weighing.grossUg, weighing.tareUg),
    emptiesBin,
  };
}
