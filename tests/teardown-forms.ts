import type { Ledger } from '../server/context.ts';
import { recordPartSale } from '../server/items/part-sale-acts.ts';
import { recordOutputs } from '../server/items/teardown-acts.ts';
import { recordWork, startWork } from '../server/items/work-acts.ts';
import { amountMinor, NO_MONEY } from '../server/money/money.ts';
import { day } from '../server/units/day.ts';
import { Decimal } from '../server/units/decimal.ts';
import { lb, newItem, weighIn } from './helper.ts';

/** Items in the midst of being taken apart, with everything that their forms work on. */
export interface TeardownIds {
  /** Whose time is running. */
  running: number;
  /** Whose time stands still, with one time, one waste, one part kept, one part sold. */
  resting: number;
  /** Of `resting`: a time, the part kept, the sale. */
  work: number;
  part: number;
  sale: number;
}

const ON = day('2025-03-10');

/** Two items: one whose time is running, one that gave something of every sort. */
export function fillTeardown(ledger: Ledger): TeardownIds {
  const [running, resting] = [1, 2].map(() =>
    newItem(ledger, 'Ceiling fan', {
      weight: { typed: '20', weight: { amount: new Decimal(20), unit: 'lb' }, massUg: lb('20') },
    }),
  ) as [number, number];
  startWork(ledger, running);
  const work = recordWork(ledger, resting, { typed: '45', seconds: 2700, workedOn: ON, note: 'the first evening' });
  weighIn(ledger, 'CU2', '2', ON, { itemId: resting });
  const part = (name: string) => ({ kind: 'part', name, netTyped: '', netUg: null }) as const;
  const waste = { kind: 'waste', name: 'foam', netTyped: '1', netUg: lb('1') } as const;
  const others = [waste, part('remote control'), part('glass shade')];
  recordOutputs(ledger, resting, { occurredOn: ON, unit: 'lb', weighings: [], others });
  const sold = ledger.db.sqlite.prepare('select max(id) from item_output').pluck().get() as number;
  const sale = recordPartSale(ledger, {
    itemId: resting,
    outputId: sold,
    listedOn: null,
    soldOn: ON,
    priceMinor: amountMinor(1200),
    feesMinor: NO_MONEY,
    postageMinor: NO_MONEY,
    note: 'to a neighbour',
  });
  return { running, resting, work, part: sold - 1, sale };
}

/** The sheet of outputs with one filled row of each sort. */
const SHEET = {
  binsCount: '4',
  'bin-1': 'CU2',
  'gross-1': '5',
  'container-1': '1',
  'tare-1': '',
  partsCount: '2',
  'part-1': 'canopy',
  'partNet-1': '0.5',
  wasteCount: '1',
  'waste-1': 'plastic',
  'wasteNet-1': '2',
  unit: 'lb',
  scale: '1',
  occurredOn: '2025-03-19',
};

/** Enough of it for what writes nothing. */
const FEW = { 'bin-1': 'CU2', 'gross-1': '5', 'wasteNet-1': '2', unit: 'lb' };

/** Every form of the teardown and of sales for reuse, as tests/routes/bad-input.test.ts tries them. */
export function teardownForms({ running, resting, work, part, sale }: TeardownIds) {
  const minutes = { good: { minutes: '1:15' }, figures: ['minutes'] };
  return [
    { route: '/items/:id/teardown/clock', url: `/items/${resting}/teardown/clock`, good: {} },
    { route: '/items/:id/teardown/clock/pause', url: `/items/${running}/teardown/clock/pause`, ...minutes },
    { route: '/items/:id/teardown/clock/stop', url: `/items/${running}/teardown/clock/stop`, ...minutes },
    {
      route: '/items/:id/teardown/minutes',
      url: `/items/${resting}/teardown/minutes`,
      good: { minutes: '45', workedOn: '2025-03-19', note: 'the second evening' },
      figures: ['minutes'],
      days: ['workedOn'],
    },
    { route: '/minutes/:id/undo', url: `/minutes/${work}/undo`, good: {} },
    {
      route: '/items/:id/teardown/outputs',
      url: `/items/${resting}/teardown/outputs`,
      good: SHEET,
      figures: ['gross-1', 'tare-1', 'partNet-1', 'wasteNet-1'],
      days: ['occurredOn'],
      units: ['unit'],
      chosen: ['bin-1', 'container-1', 'scale'],
      unseen: ['binsCount', 'partsCount', 'wasteCount'],
    },
    {
      route: '/items/:id/teardown/outputs/rows',
      url: `/items/${resting}/teardown/outputs/rows`,
      good: { ...FEW, change: 'bins' },
      status: 200,
    },
    {
      route: '/items/:id/teardown/outputs/understood',
      url: `/items/${resting}/teardown/outputs/understood`,
      good: SHEET,
      status: 200,
    },
    { route: '/item-outputs/:id/undo', url: `/item-outputs/${part}/undo`, good: {} },
    {
      route: '/items/:id/teardown/finish',
      url: `/items/${resting}/teardown/finish`,
      good: { depth: 'coarse', closedOn: '2025-03-19', disposal: '2.50' },
      figures: ['disposal'],
      days: ['closedOn'],
      chosen: ['depth'],
    },
    {
      route: '/items/:id/sales',
      url: `/items/${resting}/sales`,
      good: {
        what: String(part),
        price: '12',
        fees: '1',
        postage: '3.50',
        listedOn: '2025-03-12',
        soldOn: '2025-03-19',
        note: 'collected',
      },
      figures: ['price', 'fees', 'postage'],
      days: ['soldOn'],
      chosen: ['what'],
    },
    { route: '/part-sales/:id/undo', url: `/part-sales/${sale}/undo`, good: {} },
  ];
}

/** Addresses of these pages that end in something that was typed. */
export const teardownAddresses = ({ resting }: TeardownIds): string[] => [
  ...['again', 'output', 'work', 'done'].map((name) => `/items/${resting}/teardown?${name}=`),
  ...['again', 'part', 'done'].map((name) => `/items/${resting}/sales?${name}=`),
  '/items/parts?page=',
];
