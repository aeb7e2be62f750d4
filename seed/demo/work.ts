import {
  correctInWeight,
  type InWeightInput,
  recordBinTransfer,
  recordInWeight,
  recordRecount,
  undoInWeight,
} from '../../server/ledger/acts.ts';
import { closeBin } from '../../server/setup/acts.ts';
import { type Day, daysBetween } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { NO_MASS, toMassUg } from '../../server/units/mass.ts';
import { type Agenda, type DemoBin, daysAfter, type Household, lb } from './household.ts';
import { BED_FRAME, itemTakenApart, type KindTakenApart } from './teardowns.ts';
import { benchAdjustedOn, demoBegins, demoToday } from './troubles.ts';

const PHONE = 'phone in the garage';

/** What one evening's work gives: bin, and the least and most of it in pounds. */
interface Work {
  kind: KindTakenApart;
  from: string;
  gives: readonly (readonly [bin: string, least: string, most: string])[];
}

const washingMachines: Work = {
  kind: 'Washing machine',
  from: 'from two washing machines',
  gives: [
    ['FE1', '104', '168'],
    ['SS1', '21', '28'],
    ['MOT', '19', '26'],
    ['ALC', '4.8', '9.2'],
    ['WLO', '1.6', '3.4'],
  ],
};
const airConditioners: Work = {
  kind: 'Window air conditioner',
  from: 'from two window air conditioners, emptied by a licensed technician',
  gives: [
    ['ARC', '14', '23'],
    ['SEA', '28', '44'],
    ['FE1', '22', '38'],
    ['SMO', '6', '10.4'],
    ['CU2', '1.8', '3.6'],
  ],
};
const ceilingFans: Work = {
  kind: 'Ceiling fan',
  from: 'from ceiling fans',
  gives: [
    ['SMO', '10', '17'],
    ['ALC', '2.2', '4.6'],
    ['FE1', '5', '10'],
  ],
};
const computers: Work = {
  kind: 'Desktop computer',
  from: 'from desktop computers',
  gives: [
    ['PCB', '3.2', '5.8'],
    ['FE1', '34', '50'],
    ['WLO', '2', '3.8'],
  ],
};
const taps: Work = {
  kind: 'Tap',
  from: 'taps and fittings',
  gives: [
    ['TAP', '8', '17'],
    ['YB1', '4.4', '11'],
    ['CU2', '3', '8.4'],
  ],
};
const lights: Work = {
  kind: 'Light string',
  from: 'light strings, bulbs taken out',
  gives: [
    ['XLT', '6.8', '14.4'],
    ['WLO', '1.2', '2.8'],
  ],
};
const rewiring: Work = {
  kind: 'Building cable offcuts',
  from: 'offcuts from rewiring',
  gives: [
    ['WHI', '7.6', '16.4'],
    ['CU1', '4.2', '10.4'],
    ['YB2', '2.8', '8.8'],
  ],
};

const kindsOfWork: readonly [Work, ...Work[]] = [
  washingMachines,
  taps,
  airConditioners,
  rewiring,
  ceilingFans,
  lights,
  computers,
];

/** Every Saturday something is taken apart, every second one two things, and in some weeks one on Wednesday too. */
export function planWork(house: Household, agenda: Agenda): void {
  const kind = (turn: number): Work => kindsOfWork[turn % kindsOfWork.length] ?? kindsOfWork[0];
  const weeks = daysBetween(demoBegins, demoToday) / 7;
  for (let week = 0; week <= weeks; week += 1) {
    const saturday = daysAfter(demoBegins, week * 7);
    agenda.on(saturday, (on) => takeApart(house, kind(week), on));
    if (week % 2 === 0) agenda.on(saturday, (on) => takeApart(house, kind(week / 2 + 2), on));
    if (week < weeks && house.chance.happens(25)) {
      agenda.on(daysAfter(saturday, 4), (on) => takeApart(house, house.chance.pick(kindsOfWork), on));
    }
  }
  // The last days fill the bins that the last runs emptied.
  agenda.on('2026-03-13', (on) => takeApart(house, washingMachines, on));
  agenda.on('2026-03-13', (on) => takeApart(house, airConditioners, on));
  agenda.on(demoToday, (on) => takeApart(house, taps, on));
  planSlips(house, agenda);
  planCounts(house, agenda);
}

/** Weighs in what an evening gave, from the item that it was when one was written down. */
function takeApart(house: Household, { kind, from, gives }: Work, on: Day): void {
  const itemId = itemTakenApart(kind, on);
  for (const [code, least, most] of gives) {
    weighIn(house, house.bin(code), house.chance.between(least, most), on, from, itemId);
  }
}

const inputFor = (house: Household, bin: DemoBin, trueLb: Decimal, on: Day, note: string): InWeightInput => {
  // A drum that weighs more than what goes into it stays where it is; the pieces are weighed bare.
  const isBare = bin.scale === 'floor';
  return {
    ...house.weigh(bin, trueLb, on, isBare ? '0' : bin.tare),
    binId: bin.id,
    scaleId: house.scales[bin.scale],
    containerId: isBare ? null : bin.containerId,
    occurredOn: on,
    isEstimate: false,
    note,
  };
};

function weighIn(
  house: Household,
  bin: DemoBin,
  trueLb: Decimal,
  on: Day,
  note: string,
  itemId: number | null = null,
): number {
  bin.trueLb = bin.trueLb.plus(trueLb);
  return recordInWeight(house.at(on, PHONE), { ...inputFor(house, bin, trueLb, on, note), itemId });
}

/** Slips of the thumb and how they were put right, an estimate, and weights typed in other units. */
function planSlips(house: Household, agenda: Agenda): void {
  const trueLb = (digits: string) => new Decimal(digits);
  agenda.on('2025-02-05', (on) => {
    // The digits of the reading stand the wrong way round, and are put right at once.
    const bin = house.bin('TAP');
    const right = inputFor(house, bin, trueLb('6.1'), on, taps.from);
    bin.trueLb = bin.trueLb.plus('6.1');
    const wrong = { ...right, grossTyped: '18.15', grossUg: lb('18.15') };
    const id = recordInWeight(house.at(on, PHONE), wrong);
    correctInWeight(house.at(on, PHONE), id, right, 'digits the wrong way round', false);
  });
  agenda.on('2025-06-18', (on) => {
    // Weighed into the wrong bin, and noticed two days later.
    const [wrongBin, bin] = [house.bin('YB1'), house.bin('TAP')];
    const input = inputFor(house, bin, trueLb('3.2'), on, taps.from);
    bin.trueLb = bin.trueLb.plus('3.2');
    const id = recordInWeight(house.at(on, PHONE), { ...input, binId: wrongBin.id });
    correctInWeight(house.at(daysAfter(on, 2)), id, input, 'was weighed into the wrong bin', false);
  });
  for (const [date, code, weight] of [
    ['2025-03-12', 'WLO', '1.3'],
    ['2025-10-22', 'SS1', '12.2'],
  ] as const) {
    agenda.on(date, (on) => {
      // Tapped twice on two telephones; one of the two is taken back.
      const bin = house.bin(code);
      weighIn(house, bin, trueLb(weight), on, 'from a washing machine');
      const again = recordInWeight(house.at(on), inputFor(house, bin, trueLb(weight), on, ''));
      undoInWeight(house.at(on), again, false);
    });
  }
  agenda.on('2025-05-14', (on) => estimate(house, on));
  agenda.on('2025-09-10', (on) => inOtherUnits(house, on));
}

/** Too long for the scale, so it was guessed: 60 lb, and it was less. */
function estimate(house: Household, on: Day): void {
  const bin = house.bin('FE1');
  bin.trueLb = bin.trueLb.plus('54.3');
  recordInWeight(house.at(on, PHONE), {
    binId: bin.id,
    scaleId: null,
    containerId: null,
    grossTyped: '60',
    tareTyped: '0',
    unit: 'lb',
    grossUg: lb('60'),
    tareUg: NO_MASS,
    occurredOn: on,
    isEstimate: true,
    note: 'bed frame, too long for the scale',
    itemId: BED_FRAME,
  });
}

/** A kitchen scale that shows grams, and a reading in pounds and ounces. */
function inOtherUnits(house: Household, on: Day): void {
  const input = {
    scaleId: null,
    containerId: null,
    tareTyped: '0',
    tareUg: NO_MASS,
    occurredOn: on,
    isEstimate: false,
  };
  const [bright, wire] = [house.bin('CU1'), house.bin('WHI')];
  const grams = toMassUg({ amount: new Decimal(412), unit: 'g' });
  const ounces = lb('3.4375');
  bright.trueLb = bright.trueLb.plus('0.9083');
  wire.trueLb = wire.trueLb.plus('3.4375');
  const note = 'weighed in the kitchen';
  recordInWeight(house.at(on), { ...input, binId: bright.id, grossTyped: '412', unit: 'g', grossUg: grams, note });
  recordInWeight(house.at(on), {
    ...input,
    binId: wire.id,
    grossTyped: '3 lb 7 oz',
    unit: 'lb',
    grossUg: ounces,
    note,
  });
}

/** Recounts, moves from bin to bin, and a bin that was given up. */
function planCounts(house: Household, agenda: Agenda): void {
  for (const date of ['2025-01-18', '2025-04-09']) {
    agenda.on(date, (on) => {
      weighIn(house, house.bin('CW2'), house.chance.between('2.5', '4.5'), on, 'windings of fan motors');
    });
  }
  agenda.on('2025-06-07', (on) => move(house, 'CU1', 'CU2', '1.4', 'soldered ends, not bright', on));
  agenda.on('2025-07-05', (on) => move(house, 'YB2', 'YB1', '2.5', 'to have one full bucket', on));
  agenda.on('2026-02-14', (on) => move(house, 'SMO', 'MOT', '9', 'two of them were not that small', on));
  agenda.on(benchAdjustedOn, (on) => {
    for (const code of ['CU1', 'SS1', 'ALC', 'ARC']) recount(house, code, on, 'after the bench scale was adjusted');
  });
  agenda.on('2025-05-21', (on) => recount(house, 'FE1', on, 'the bed frame was guessed'));
  agenda.on('2025-12-06', (on) => {
    const bin = house.bin('XLT');
    bin.trueLb = bin.trueLb.times('0.975');
    recount(house, bin.code, on, 'came in wet and had dried');
  });
  agenda.on('2025-09-06', (on) => {
    // Not worth a bucket of its own: what is in it is weighed over, the rest of the book is counted off.
    move(house, 'CW2', 'CU2', house.bin('CW2').trueLb, 'too little for a bin of its own', on);
    recount(house, 'CW2', on, 'empty now');
    closeBin(house.at(on), house.bin('CW2').id);
  });
}

/** The bench or floor scale's word on what a bin holds, without its container. */
function netOnScale(house: Household, bin: DemoBin, trueLb: Decimal, on: Day): string {
  return house.weigh({ ...bin, tare: '0' }, trueLb, on).grossTyped;
}

function recount(house: Household, code: string, on: Day, note: string): void {
  const bin = house.bin(code);
  const netTyped = netOnScale(house, bin, bin.trueLb, on);
  recordRecount(house.at(on), { binId: bin.id, netTyped, unit: 'lb', netUg: lb(netTyped), occurredOn: on, note });
}

function move(house: Household, from: string, to: string, trueLb: Decimal | string, note: string, on: Day): void {
  const [source, target] = [house.bin(from), house.bin(to)];
  source.trueLb = source.trueLb.minus(trueLb);
  target.trueLb = target.trueLb.plus(trueLb);
  const netTyped = netOnScale(house, source, new Decimal(trueLb), on);
  recordBinTransfer(house.at(on), {
    fromBinId: source.id,
    toBinId: target.id,
    netTyped,
    unit: 'lb',
    netUg: lb(netTyped),
    occurredOn: on,
    note,
    bookShortfall: true,
  });
}
