import { closeItem, correctItem, type ItemInput, kindNamed, pickUp } from '../../server/items/acts.ts';
import { amountMinor, NO_MONEY } from '../../server/money/money.ts';
import { type Day, day } from '../../server/units/day.ts';
import type { Decimal } from '../../server/units/decimal.ts';
import { readWeight } from '../../server/units/read-weight.ts';
import { type Agenda, type Household, showOnScale } from './household.ts';
import { floorDivision } from './troubles.ts';

const PHONE = 'phone in the garage';

/** What was picked up, by its number, in the order of the days. */
interface PickUp extends Omit<ItemInput, 'kindId' | 'pickedUpOn' | 'weight'> {
  on: string;
  kind: string;
  weight: string;
}

const plain = { name: '', source: '', proof: '', costMinor: NO_MONEY, note: '', weight: '' } as const;

const pickUps: readonly PickUp[] = [
  {
    ...plain,
    on: '2026-03-06',
    kind: 'Washing machine',
    name: 'two of them, one white, one grey',
    got: 'given',
    source: 'the house with the green door',
    proof: 'a note of theirs with name and day, kept in the drawer',
  },
  { ...plain, on: '2026-03-10', kind: 'Microwave oven', weight: '31.5', got: 'found', source: 'kerb, bulky waste day' },
  {
    ...plain,
    on: '2026-03-12',
    kind: 'Desktop computer',
    name: 'tower, no drive in it',
    weight: '17.5',
    got: 'bought',
    costMinor: amountMinor(500),
    source: 'flea market',
    proof: 'receipt',
  },
  { ...plain, on: '2026-03-13', kind: 'Ceiling fan', name: 'four blades', got: 'given', source: 'a neighbour' },
];

/** The washing machines that are taken apart at the end of the demo. */
export const WASHING_MACHINES = 1;
const MICROWAVE = 2;

const weightOf = (digits: string): ItemInput['weight'] => {
  const read = digits === '' ? null : readWeight(digits, { unit: 'lb', decimalMark: '.' });
  return read?.ok ? read.value : null;
};

/** The last days' pick-ups: some wait, one is thrown away. */
export function planPickUps(house: Household, agenda: Agenda): void {
  for (const { on, kind, weight, ...input } of pickUps) {
    agenda.on(on, (pickedUpOn) => {
      const ledger = house.at(pickedUpOn, PHONE);
      pickUp(ledger, { ...input, pickedUpOn, weight: weightOf(weight), kindId: kindNamed(ledger, kind) });
    });
  }
  agenda.on('2026-03-13', (closedOn) => {
    closeItem(house.at(closedOn), MICROWAVE, {
      status: 'discarded',
      depth: '',
      closedOn,
      disposalMinor: amountMinor(300),
    });
  });
}

/** What a pair of washing machines weighed whole: what came out of them, and what was left over. */
const LEFT_OVER_LB = '11';

/** Says of the washing machines what they weighed, and that they were taken apart. */
export function finishWashingMachines(house: Household, givenLb: Decimal, on: Day): void {
  const [said] = pickUps;
  if (said === undefined) return;
  const { on: date, kind, weight: _, ...input } = said;
  const ledger = house.at(on, PHONE);
  const weight = weightOf(showOnScale(givenLb.plus(LEFT_OVER_LB), floorDivision));
  correctItem(ledger, WASHING_MACHINES, { ...input, pickedUpOn: day(date), weight, kindId: kindNamed(ledger, kind) });
  const disposalMinor = NO_MONEY;
  closeItem(house.at(on, PHONE), WASHING_MACHINES, {
    status: 'taken apart',
    depth: 'coarse',
    closedOn: on,
    disposalMinor,
  });
}
