import type { Db } from '../server/db/database.ts';
import { planBoards } from './demo/boards.ts';
import { planChecks } from './demo/checks.ts';
import { Agenda, Household } from './demo/household.ts';
import { planPickUps } from './demo/pick-ups.ts';
import { planReuse } from './demo/reuse.ts';
import { planRuns } from './demo/runs.ts';
import { setUp } from './demo/set-up.ts';
import { planTeardowns } from './demo/teardowns.ts';
import { demoBegins } from './demo/troubles.ts';
import { planWire } from './demo/wire.ts';
import { planWork } from './demo/work.ts';

export { demoBegins, demoToday } from './demo/troubles.ts';

/**
 * Fills an empty ledger with the demo: fourteen months of an invented household, entered act by act on the days they
 * happened, as a person would have typed them. The same at every start: no clock, no true chance.
 */
export function fillDemo(db: Db): void {
  db.transaction(() => {
    const house = new Household(db);
    const agenda = new Agenda();
    setUp(house, demoBegins);
    planBoards(house, agenda);
    planPickUps(house, agenda);
    planWork(house, agenda);
    planTeardowns(house, agenda);
    planReuse(house, agenda);
    planRuns(house, agenda);
    planChecks(house, agenda);
    planWire(house, agenda);
    agenda.run();
  });
}
