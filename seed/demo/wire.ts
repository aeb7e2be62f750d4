import { recordSample, saveWireKind, undoSample } from '../../server/bench/acts.ts';
import { recordStripping } from '../../server/bench/stripping.ts';
import { type Day, day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { toMassUg } from '../../server/units/mass.ts';
import { type Agenda, type Household, lb } from './household.ts';

const KINDS = {
  cord: ['Flat appliance cord', 'Insulated wire, low recovery', 'No. 2 copper', 'Plugs cut off first.'],
  single: ['Single building wire', 'Insulated wire, high recovery', 'Bare bright copper', ''],
} as const;

/** Pieces that were stripped and weighed on a kitchen scale, in grams; minutes where somebody looked at the clock. */
const SAMPLES: readonly [
  on: string,
  kind: keyof typeof KINDS,
  before: string,
  after: string,
  minutes: number | null,
][] = [
  ['2025-11-08', 'cord', '142', '55', 4],
  ['2025-11-08', 'cord', '118', '49', 4],
  ['2025-11-15', 'cord', '205', '79', 6],
  ['2025-11-15', 'cord', '96', '40', null],
  ['2025-11-22', 'single', '310', '214', 5],
  ['2025-11-22', 'single', '188', '127', 3],
];

/** What was worth it was stripped: a small lot of building wire. */
function strip(house: Household, on: Day, sampleOf: number): void {
  const [wire, copper] = [house.bin('WHI'), house.bin('CU1')];
  const [beforeTyped, afterTyped] = ['3.10', '2.10'];
  wire.trueLb = wire.trueLb.minus(beforeTyped);
  copper.trueLb = copper.trueLb.plus(afterTyped);
  recordStripping(house.at(on), {
    fromBinId: wire.id,
    toBinId: copper.id,
    beforeTyped,
    afterTyped,
    unit: 'lb',
    beforeUg: lb(beforeTyped),
    afterUg: lb(afterTyped),
    seconds: 25 * 60,
    occurredOn: on,
    note: 'offcuts of a rewired shed',
    bookShortfall: true,
    sampleOf,
  });
}

/** One winter evening the household wanted to know whether cords are worth the knife. */
export function planWire(house: Household, agenda: Agenda): void {
  const ids = new Map<string, number>();
  agenda.on('2025-11-08', (on) => {
    for (const [key, [name, grade, bare, note]] of Object.entries(KINDS)) {
      const grades = { grade_id: house.gradeId(grade), bare_grade_id: house.gradeId(bare) };
      ids.set(key, saveWireKind(house.at(on), null, { name, ...grades, note }));
    }
  });
  const sample = (on: string, kind: string, before: string, after: string, minutes: number | null): number => {
    const grams = (text: string) => toMassUg({ amount: new Decimal(text), unit: 'g' });
    return recordSample(house.at(day(on)), {
      wireKindId: ids.get(kind) ?? 0,
      beforeTyped: before,
      afterTyped: after,
      unit: 'g',
      beforeUg: grams(before),
      afterUg: grams(after),
      seconds: minutes === null ? null : minutes * 60,
      sampledOn: day(on),
      note: '',
      strippingId: null,
    });
  };
  for (const [on, ...rest] of SAMPLES) agenda.on(on, () => void sample(on, ...rest));
  agenda.on('2025-11-29', (on) => strip(house, on, ids.get('single') ?? 0));
  // The metal was typed with a digit too few, and the sample taken back.
  agenda.on('2025-11-22', (on) => {
    const slip = sample(on, 'cord', '150', '6', null);
    undoSample(house.at(on), slip);
  });
}
