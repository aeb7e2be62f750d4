import { type ItemInput, kindNamed, pickUp } from '../../server/items/acts.ts';
import type { Got } from '../../server/items/table.ts';
import { amountMinor } from '../../server/money/money.ts';
import { readWeight } from '../../server/units/read-weight.ts';
import type { Agenda, Household } from './household.ts';

const PHONE = 'phone in the garage';

/** An item with its number: when, what, how and whose it was, proof, its whole weight in pounds, cents paid, a note. */
type PickUp = readonly [
  number: number,
  on: string,
  kind: string,
  name: string,
  got: Got,
  source: string,
  proof: string,
  weight: string,
  more?: { cents?: number; note?: string },
];

const NEIGHBOUR = 'neighbour, two doors down';
const GREEN_DOOR = 'the house with the green door';
const REPAIR = 'repair shop in the yard behind ours';
const OFFICE = 'office that moved out';
const BATHROOM = 'bathroom torn out up the hill';
const COUSIN = 'cousin, when the house was rewired';
const KERB = 'kerb, bulky waste day';
const SLIP = 'their slip with name and day, in the drawer';
const EMPTIED = 'the technician’s paper: emptied, with day and number';
const MESSAGE = 'their message, kept on the phone';
const NOTICE = 'the notice that it may be taken';

const pickUps: readonly PickUp[] = [
  [1, '2025-01-04', 'Washing machine', 'two, both white', 'given', NEIGHBOUR, SLIP, '296.5'],
  [2, '2025-01-08', 'Tap', 'a crate of them', 'given', BATHROOM, MESSAGE, '27.5'],
  [3, '2025-02-07', 'Light string', 'a bag full', 'found', KERB, '', '17.0'],
  [4, '2025-02-12', 'Desktop computer', 'three towers', 'given', OFFICE, SLIP, '61.5'],
  [5, '2025-03-06', 'Window air conditioner', 'two', 'given', REPAIR, EMPTIED, '109.5'],
  [6, '2025-03-20', 'Ceiling fan', 'four', 'given', GREEN_DOOR, SLIP, '32.5'],
  [7, '2025-03-26', 'Tap', 'a bucket of them', 'bought', 'flea market', 'receipt', '28.5', { cents: 400 }],
  [8, '2025-05-01', 'Building cable offcuts', '', 'given', COUSIN, MESSAGE, '35.0'],
  [9, '2025-05-12', 'Bed frame or shelf', 'steel, too long for the scale', 'given', NEIGHBOUR, MESSAGE, ''],
  [10, '2025-05-22', 'Desktop computer', 'three towers, one without its side', 'given', OFFICE, SLIP, '55.0'],
  [11, '2025-05-28', 'Washing machine', 'two front loaders', 'given', REPAIR, SLIP, '292.0'],
  [12, '2025-06-11', 'Window air conditioner', 'two small ones', 'given', REPAIR, EMPTIED, '93.5'],
  [13, '2025-06-26', 'Ceiling fan', 'four, brass look', 'found', KERB, NOTICE, '38.5'],
  [14, '2025-07-21', 'Stereo or amplifier', 'silver, with its remote', 'found', KERB, '', '19.5', { note: 'plays' }],
  [15, '2025-08-07', 'Building cable offcuts', '', 'given', COUSIN, MESSAGE, '39.0'],
  [16, '2025-08-27', 'Desktop computer', 'three', 'given', OFFICE, SLIP, '51.5'],
  [17, '2025-09-11', 'Tap', 'a crate of them', 'given', BATHROOM, MESSAGE, '28.0'],
  [18, '2025-09-25', 'Washing machine', 'two, one rusty', 'given', NEIGHBOUR, SLIP, '306.0'],
  [19, '2025-10-02', 'Ceiling fan', 'four of five blades', 'given', GREEN_DOOR, SLIP, '38.0'],
  [20, '2025-11-03', 'Television with picture tube', 'came with the computers', 'given', OFFICE, SLIP, '68.0'],
  [21, '2025-11-05', 'Window air conditioner', 'two', 'given', REPAIR, EMPTIED, '102.0'],
  [22, '2025-11-26', 'Light string', 'two bags', 'given', 'the shop with the striped awning', MESSAGE, '17.5'],
  [23, '2025-12-03', 'Desktop computer', 'three small ones', 'given', OFFICE, SLIP, '56.0'],
  [24, '2025-12-10', 'Washing machine', 'two, both grey', 'given', REPAIR, SLIP, '301.5'],
  [25, '2026-01-07', 'Ceiling fan', 'four, white', 'given', GREEN_DOOR, SLIP, '33.5'],
  [26, '2026-01-14', 'Light string', 'after the holidays', 'given', NEIGHBOUR, MESSAGE, '17.0'],
  [27, '2026-01-28', 'Washing machine', 'two, one with a dryer in it', 'given', REPAIR, SLIP, '269.5'],
  [28, '2026-02-04', 'Tap', 'a bucket of them', 'given', BATHROOM, MESSAGE, '27.0'],
  [29, '2026-02-11', 'Window air conditioner', 'two', 'given', REPAIR, EMPTIED, '108.5'],
  [30, '2026-02-19', 'Building cable offcuts', '', 'given', COUSIN, MESSAGE, '29.0'],
  [31, '2026-03-06', 'Washing machine', 'two of them, one white, one grey', 'given', GREEN_DOOR, SLIP, '280.5'],
  [32, '2026-03-10', 'Microwave oven', '', 'found', KERB, NOTICE, '31.5'],
  [
    33,
    '2026-03-12',
    'Desktop computer',
    'tower, no drive in it',
    'bought',
    'flea market',
    'receipt',
    '17.5',
    { cents: 500 },
  ],
  [34, '2026-03-13', 'Ceiling fan', 'five blades', 'given', NEIGHBOUR, MESSAGE, '9.0'],
  [35, '2026-03-14', 'Washing machine', 'top loader, leaks', 'given', GREEN_DOOR, SLIP, '148.5'],
];

const weightOf = (digits: string): ItemInput['weight'] => {
  const read = digits === '' ? null : readWeight(digits, { unit: 'lb', decimalMark: '.' });
  return read?.ok ? read.value : null;
};

/** Writes down what was picked up, each item on its day and weighed whole. */
export function planPickUps(house: Household, agenda: Agenda): void {
  for (const [number, on, kind, name, got, source, proof, weight, { cents = 0, note = '' } = {}] of pickUps) {
    agenda.on(on, (pickedUpOn) => {
      const ledger = house.at(pickedUpOn, PHONE);
      const said = { name, pickedUpOn, got, source, proof, note, costMinor: amountMinor(cents) };
      const id = pickUp(ledger, { ...said, weight: weightOf(weight), kindId: kindNamed(ledger, kind) });
      if (id !== number) throw new Error(`the demo calls item ${id} item ${number}`);
    });
  }
}
