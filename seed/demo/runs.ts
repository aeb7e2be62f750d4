import { setDraftAside } from '../../server/manifests/acts.ts';
import { returnLoad, returnManifest } from '../../server/tickets/acts.ts';
import { day } from '../../server/units/day.ts';
import type { Agenda, Household } from './household.ts';
import { draftFor, loadFor } from './loading.ts';
import { type RunPlan, runPlans } from './run-plans.ts';
import { enterTickets } from './tickets.ts';

/** Puts the runs on the agenda, and the manifests that came to nothing or are still under way. */
export function planRuns(house: Household, agenda: Agenda): void {
  for (const plan of runPlans) agenda.on(plan.on, () => goTo(house, plan));
  agenda.on('2025-05-24', (on) => {
    const id = draftFor(house, 'North', ['WHI', 'CU1'], 'Too little for the way there.', on);
    setDraftAside(house.at(on), id);
  });
  agenda.on('2025-07-26', (on) => {
    const { manifestId, loads } = loadFor(house, { on, yard: 'South', bins: ['SS1', 'ALC'] });
    returnManifest(house.at(on), manifestId, on, 'the gate was shut');
    for (const { bin, trueLb } of loads) bin.trueLb = bin.trueLb.plus(trueLb);
  });
  agenda.on('2026-03-12', (on) => {
    loadFor(house, { on, yard: 'South', bins: ['MOT', 'ARC', 'YB1'] });
  });
  agenda.on('2026-03-13', (on) => {
    draftFor(house, 'North', ['CU2', 'WHI', 'FE1'], 'When the copper bucket is full.', on);
  });
}

function goTo(house: Household, plan: RunPlan): void {
  const loading = loadFor(house, plan);
  enterTickets(house, plan, loading);
  const back = plan.forgotten?.broughtBackOn ?? null;
  const forgotten = loading.loads.find(({ bin }) => bin.code === plan.forgotten?.bin);
  if (back === null || forgotten === undefined) return;
  // Written down two days later, before anything else goes into that bin.
  returnLoad(house.at(day(back)), forgotten.loadId, day(back), 'was still in the car');
  forgotten.bin.trueLb = forgotten.bin.trueLb.plus(forgotten.trueLb);
}
