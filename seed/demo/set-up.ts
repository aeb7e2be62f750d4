import { addStarterKinds } from '../../server/items/kind-acts.ts';
import { amountMinor } from '../../server/money/money.ts';
import {
  addBin,
  beginWithStarterList,
  changeSettings,
  nameGradesAtYard,
  saveContainer,
  saveScale,
  saveYard,
  saveYardScale,
} from '../../server/setup/acts.ts';
import { listGrades } from '../../server/setup/queries.ts';
import { defaultSettings } from '../../server/setup/settings.ts';
import type { Day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { starterGrades } from '../grades.ts';
import { starterKinds } from '../item-kinds.ts';
import { type Household, lb, type YardName } from './household.ts';
import { benchDivision, floorDivision, platformDivision, truckDivision } from './troubles.ts';

/** What an hour is to bring, and what the tip asks for a pound. */
const aims = { wage: '12', wasteCost: '0.03', wastePer: 'lb' } as const;

/** Name and tare in pounds. */
const containers = [
  ['White bucket 1', '2.00'],
  ['White bucket 2', '1.95'],
  ['White bucket 3', '2.05'],
  ['Grey tub', '3.50'],
  ['Green tub', '3.45'],
  ['Wire basket', '2.50'],
  ['Wooden crate', '5.50'],
  ['Steel drum', '21.0'],
] as const;

type ContainerName = (typeof containers)[number][0];

interface BinPlan {
  code: string;
  grade: string;
  place: string;
  container: ContainerName | null;
  scale: 'bench' | 'floor';
  /** Pounds at which it is full. */
  full: string;
}

const bin = (
  code: string,
  grade: string,
  place: string,
  container: ContainerName | null,
  scale: BinPlan['scale'],
  full: string,
): BinPlan => ({ code, grade, place, container, scale, full });

const bins: readonly BinPlan[] = [
  bin('CU1', 'Bare bright copper', 'Shelf, top', 'White bucket 1', 'bench', '40'),
  bin('CU2', 'No. 2 copper', 'Shelf, top', 'White bucket 1', 'bench', '40'),
  bin('CW2', 'No. 2 copper wire', 'Shelf, top', 'White bucket 3', 'bench', '40'),
  bin('WHI', 'Insulated wire, high recovery', 'Under the bench', 'White bucket 2', 'bench', '35'),
  bin('WLO', 'Insulated wire, low recovery', 'Under the bench', 'Grey tub', 'bench', '45'),
  bin('XLT', 'Light strings', 'By the door', 'Green tub', 'bench', '90'),
  bin('YB1', 'Yellow brass', 'Shelf, middle', 'White bucket 2', 'bench', '40'),
  bin('YB2', 'Yellow brass', 'Shelf, middle', 'White bucket 3', 'bench', '40'),
  bin('TAP', 'Brass taps', 'Shelf, middle', 'White bucket 3', 'bench', '45'),
  bin('ARC', 'Aluminium and copper radiators', 'Back wall', 'Wire basket', 'bench', '70'),
  bin('ALC', 'Cast aluminium', 'Back wall', 'Wire basket', 'bench', '60'),
  bin('SS1', 'Stainless 304', 'Back wall', null, 'bench', '90'),
  bin('FE1', 'Shreddable steel', 'Outside corner', null, 'floor', '700'),
  bin('MOT', 'Electric motors', 'Floor, left', 'Steel drum', 'floor', '150'),
  bin('SMO', 'Small motors', 'Floor, left', 'Wooden crate', 'bench', '60'),
  bin('SEA', 'Sealed units', 'Floor, right', 'Steel drum', 'floor', '150'),
  bin('PCB', 'Circuit boards, main', 'Dry shelf', 'Wooden crate', 'bench', '20'),
];

/** The yards' own names, invented: what their boards and tickets print. */
const yardNames: Record<YardName, Record<string, string>> = {
  North: {
    'Bare bright copper': 'Bright wire',
    'No. 2 copper': 'Copper, second',
    'Light copper': 'Copper, light',
    'Insulated wire, low recovery': 'Cords',
    'Yellow brass': 'Brass, yellow',
    'Brass taps': 'Taps',
    'Shreddable steel': 'Sheet iron',
    'Electric motors': 'Motors',
  },
  South: {
    'Bare bright copper': 'Cu bright',
    'No. 2 copper': 'Cu mixed',
    'Insulated wire, low recovery': 'Cable, thin',
    'Insulated wire, high recovery': 'Cable, thick',
    'Stainless 304': 'Stainless',
    'Cast aluminium': 'Alu cast',
    'Shreddable steel': 'Light iron',
    'Small motors': 'Motors, small',
  },
};

const yardNotes: Record<YardName, string> = {
  North: 'Pays cash. Steel goes over the truck scale, which weighs in steps of 20 lb.',
  South: 'Pays by cheque. Asks for photo ID. Steel goes over the truck scale, which weighs in steps of 20 lb.',
};

/** Enters what a person sets up first: grades, containers, scales, yards with their words, and bins. */
export function setUp(house: Household, on: Day): void {
  beginWithStarterList(
    house.at(on),
    starterGrades.map(({ quotedPer, spoiledBy, ...grade }) => ({
      ...grade,
      quoted_per: quotedPer,
      spoiled_by: spoiledBy,
    })),
    (part) => `${addStarterKinds(part, starterKinds)} kinds of items`,
  );
  for (const { id, name } of listGrades(house.db)) house.grades.set(name, id);
  changeSettings(house.at(on), { ...defaultSettings, ...aims });
  setUpScales(house, on);
  setUpYards(house, on);
  const containerIds = new Map(
    containers.map(([name, tare]) => [
      name,
      saveContainer(house.at(on), null, { name, tare_typed: tare, tare_ug: lb(tare) }),
    ]),
  );
  for (const plan of bins) {
    const gradeId = house.gradeId(plan.grade);
    const containerId = plan.container === null ? null : (containerIds.get(plan.container) ?? null);
    const id = addBin(house.at(on), {
      code: plan.code,
      grade_id: gradeId,
      place: plan.place,
      container_id: containerId,
      full_mark_typed: plan.full,
      full_mark_ug: lb(plan.full),
      opened_on: on,
      closed_on: null,
    });
    const tare = containers.find(([name]) => name === plan.container)?.[1] ?? '0';
    const { code, grade, scale } = plan;
    house.bins.set(code, { id, code, grade, gradeId, scale, containerId, tare, trueLb: new Decimal(0) });
  }
}

function setUpScales(house: Household, on: Day): void {
  const ledger = house.at(on);
  const scale = { unit: 'lb', class: '' } as const;
  house.scales.bench = saveScale(ledger, null, {
    ...scale,
    name: 'Bench scale',
    division: benchDivision.toString(),
    tolerance: '0.1',
    capacity: '110',
  });
  house.scales.floor = saveScale(ledger, null, {
    ...scale,
    name: 'Floor scale',
    division: floorDivision.toString(),
    tolerance: '1',
    capacity: '400',
  });
}

function setUpYards(house: Household, on: Day): void {
  const ledger = house.at(on);
  for (const yard of ['North', 'South'] as const) {
    house.yards[yard] = saveYard(ledger, null, {
      name: `Demo Yard ${yard}`,
      unit: 'lb',
      cash_step_minor: amountMinor(yard === 'North' ? 5 : 1),
      scale_division: platformDivision.toString(),
      scale_class: 'III',
      notes: yardNotes[yard],
    });
    const names = Object.entries(yardNames[yard]).map(([grade, name]) => [house.gradeId(grade), name] as const);
    nameGradesAtYard(ledger, house.yards[yard], new Map(names));
    saveYardScale(ledger, house.yards[yard], null, {
      name: 'Truck scale',
      division: truckDivision.toString(),
      class: 'III L',
      families: ['ferrous'],
    });
  }
}
