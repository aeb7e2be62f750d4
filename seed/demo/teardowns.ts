import { closeItem } from '../../server/items/acts.ts';
import { readMinutes } from '../../server/items/minutes.ts';
import type { Depth } from '../../server/items/table.ts';
import { finishTeardown, type OutputInput, recordOutputs } from '../../server/items/teardown-acts.ts';
import { recordWork } from '../../server/items/work-acts.ts';
import { amountMinor, NO_MONEY } from '../../server/money/money.ts';
import type { Day } from '../../server/units/day.ts';
import { type Agenda, type Household, lb } from './household.ts';

const PHONE = 'phone in the garage';

/** What is the same for all of a kind: how far it goes, what is thrown away, and what the tip asks for that, in cents. */
interface Habit {
  depth: Exclude<Depth, ''>;
  waste: string;
  tip: number;
}

const habits = {
  'Washing machine': { depth: 'coarse', waste: 'concrete, tubs, hoses', tip: 300 },
  'Window air conditioner': { depth: 'coarse', waste: 'foam and plastic', tip: 0 },
  'Ceiling fan': { depth: 'coarse', waste: 'blades and glass', tip: 0 },
  'Desktop computer': { depth: 'coarse', waste: 'plastic fronts', tip: 0 },
  'Building cable offcuts': { depth: 'coarse', waste: 'jackets', tip: 0 },
  'Light string': { depth: 'fine', waste: 'bulbs and paper', tip: 0 },
  Tap: { depth: 'fine', waste: 'rubber, ceramic, handles', tip: 0 },
} as const satisfies Readonly<Record<string, Habit>>;

export type KindTakenApart = keyof typeof habits;

/** An evening's item, the minutes as they were typed, each time by itself, and the waste in pounds. */
type Teardown = readonly [item: number, on: string, minutes: readonly string[], waste: string];

const teardowns: Readonly<Record<KindTakenApart, readonly Teardown[]>> = {
  'Washing machine': [
    [1, '2025-01-04', ['1:45', '50'], '81.5'],
    [11, '2025-05-31', ['140'], '79'],
    [18, '2025-09-27', ['2 h 10'], '84.5'],
    [24, '2025-12-13', ['125'], '79.5'],
    [27, '2026-01-31', ['1:55'], '76.5'],
    [31, '2026-03-13', ['70', '60'], '78'],
  ],
  'Window air conditioner': [
    [5, '2025-03-08', ['165'], '11.0'],
    [12, '2025-06-14', ['2:30'], '9.5'],
    [21, '2025-11-08', ['145'], '10.0'],
    [29, '2026-02-14', ['140'], '10.0'],
  ],
  'Ceiling fan': [
    [6, '2025-03-22', ['55'], '10.5'],
    [13, '2025-06-28', ['65'], '11.5'],
    [19, '2025-10-04', ['70'], '11.0'],
    [25, '2026-01-10', ['60'], '10.5'],
  ],
  'Desktop computer': [
    [4, '2025-02-15', ['75'], '6.5'],
    [10, '2025-05-24', ['70'], '8.0'],
    [16, '2025-08-30', ['65'], '6.5'],
    [23, '2025-12-06', ['40', '30'], '4.5'],
  ],
  'Building cable offcuts': [
    [8, '2025-05-03', ['60'], '6.5'],
    [15, '2025-08-09', ['75'], '7.0'],
    [30, '2026-02-21', ['50'], '5.5'],
  ],
  'Light string': [
    [3, '2025-02-08', ['50'], '2.0'],
    [22, '2025-11-29', ['55'], '2.5'],
    [26, '2026-01-17', ['45'], '2.5'],
  ],
  Tap: [
    [2, '2025-01-11', ['45'], '3.0'],
    [7, '2025-03-29', ['50'], '3.0'],
    [17, '2025-09-13', ['45'], '3.0'],
    [28, '2026-02-07', ['40'], '2.5'],
  ],
};

/** Parts that were kept, by the item's number, in pounds; one was too light for the scale. */
const partsKept: Readonly<Record<number, readonly (readonly [name: string, weight: string])[]>> = {
  1: [
    ['drain pump', '2.10'],
    ['door lock', '0.65'],
  ],
  4: [
    ['memory, six pieces', ''],
    ['two drives, wiped', '2.60'],
  ],
  23: [['power supply, shut', '2.60']],
};

/** The item that was taken apart on an evening; null where nobody wrote one down. */
export const itemTakenApart = (kind: KindTakenApart, on: Day): number | null =>
  teardowns[kind].find(([, day]) => day === on)?.[0] ?? null;

/** Time, waste and parts of what was taken apart, and the bed frame and the television that never were. */
export function planTeardowns(house: Household, agenda: Agenda): void {
  for (const [kind, ofKind] of Object.entries(teardowns)) {
    for (const teardown of ofKind) {
      agenda.on(teardown[1], (on) => finish(house, habits[kind as KindTakenApart], teardown, on));
    }
  }
  agenda.on('2025-05-14', (closedOn) => {
    const end = { status: 'as is', depth: '', closedOn, disposalMinor: NO_MONEY } as const;
    closeItem(house.at(closedOn, PHONE), BED_FRAME, end);
  });
  agenda.on('2025-11-12', (closedOn) => {
    const end = { status: 'discarded', depth: '', closedOn, disposalMinor: amountMinor(2000) } as const;
    closeItem(house.at(closedOn), TELEVISION, end);
  });
}

/** Weighed by guess and sold as it was. */
export const BED_FRAME = 9;
const TELEVISION = 20;

/** What was done after the bins had theirs: minutes, the rest on one sheet, and that it is finished. */
function finish(house: Household, habit: Habit, [item, , minutes, waste]: Teardown, on: Day): void {
  for (const typed of minutes) {
    const read = readMinutes(typed, { decimalMark: '.' });
    if (!read.ok) throw new Error(`the demo's minutes of item ${item}: ${read.refusal}`);
    recordWork(house.at(on, PHONE), item, { typed, seconds: read.value, workedOn: on, note: '' });
  }
  const output = (kind: OutputInput['kind'], name: string, netTyped: string): OutputInput => ({
    kind,
    name,
    netTyped,
    netUg: netTyped === '' ? null : lb(netTyped),
  });
  const parts = (partsKept[item] ?? []).map(([name, weight]) => output('part', name, weight));
  recordOutputs(house.at(on, PHONE), item, {
    occurredOn: on,
    unit: 'lb',
    weighings: [],
    others: [output('waste', habit.waste, waste), ...parts],
  });
  const disposalMinor = amountMinor(habit.tip);
  finishTeardown(house.at(on, PHONE), item, { depth: habit.depth, closedOn: on, disposalMinor });
}
