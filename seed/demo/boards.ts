import { recordPriceBoard, recordQuote } from '../../server/prices/acts.ts';
import type { PriceUnit } from '../../server/prices/compute.ts';
import type { Day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { writeForFile } from '../../server/units/write-weight.ts';
import { type Agenda, daysAfter, type Household, type YardName } from './household.ts';
import { Chance } from './random.ts';
import { demoBegins } from './troubles.ts';

/** Invented prices of the first week: grade, North, South; null where that yard does not quote the grade. */
const firstPrices: readonly (readonly [grade: string, north: string | null, south: string | null])[] = [
  ['Bare bright copper', '4.05', '4.00'],
  ['No. 2 copper', '3.55', '3.60'],
  ['Light copper', '3.30', '3.25'],
  ['Insulated wire, high recovery', '2.55', '2.60'],
  ['Insulated wire, medium recovery', '1.70', '1.65'],
  ['Insulated wire, low recovery', '1.05', '1.00'],
  ['Light strings', null, '0.36'],
  ['Yellow brass', '2.35', '2.28'],
  ['Brass taps', '2.05', '2.00'],
  ['Brass with iron', '0.45', '0.40'],
  ['Aluminium and copper radiators', '1.90', '1.98'],
  ['Cast aluminium', '0.58', '0.62'],
  ['Old sheet aluminium', '0.55', '0.55'],
  ['Aluminium with iron', '0.24', '0.28'],
  ['Stainless 304', '0.46', '0.50'],
  ['Stainless, magnetic', '0.16', '0.18'],
  ['Shreddable steel', '190', '180'],
  ['Electric motors', '0.40', '0.44'],
  ['Small motors', '0.32', '0.35'],
  ['Motors, aluminium wound', '0.18', '0.20'],
  ['Sealed units', '0.24', '0.27'],
  ['Circuit boards, main', '3.10', '2.90'],
];

const isByTheTon = (grade: string): boolean => grade === 'Shreddable steel';

/**
 * Weeks after the first in which a board was written down. Mostly every second week; the gaps are weeks in which
 * nobody looked, so that some quotes go stale, and South has not been asked since the middle of February.
 */
const boardWeeks: Record<YardName, readonly number[]> = {
  North: [
    0, 2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 26, 28, 30, 32, 34, 36, 38, 40, 42, 44, 46, 48, 52, 54, 56, 58, 61,
  ],
  South: [0, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23, 25, 27, 29, 33, 35, 37, 39, 41, 43, 45, 47, 49, 51, 53, 55, 57],
};

/**
 * Three markets: copper and brass go up over the year, steel goes down, the rest stays about where it is. Grades of one
 * market move together, so that light copper never brings more than No. 2; each wobbles a little besides.
 */
const markets = {
  red: ['0.985', '1.022'],
  steel: ['0.965', '1.025'],
  rest: ['0.978', '1.022'],
} as const;
type Market = keyof typeof markets;
const WOBBLE = ['0.994', '1.006'] as const;

const marketOf = (grade: string): Market => {
  if (isByTheTon(grade)) return 'steel';
  return /copper|wire|brass/i.test(grade) ? 'red' : 'rest';
};

/** As boards write prices: whole cents by the pound, steps of five dollars by the ton. */
function asWritten(price: Decimal, grade: string): string {
  if (!isByTheTon(grade)) return writeForFile(price.toDecimalPlaces(2, Decimal.ROUND_HALF_UP), 2);
  return writeForFile(price.div(5).toDecimalPlaces(0, Decimal.ROUND_HALF_UP).times(5), 0);
}

interface Board {
  /** The level of each grade, before it wobbles. */
  prices: Map<string, Decimal>;
  chance: Chance;
}

/** Puts the price boards of both yards on the agenda, and some prices asked by telephone. */
export function planBoards(house: Household, agenda: Agenda): void {
  for (const yard of ['North', 'South'] as const) {
    const prices = new Map(
      firstPrices.flatMap(([grade, north, south]) => {
        const price = yard === 'North' ? north : south;
        return price === null ? [] : [[grade, new Decimal(price)] as const];
      }),
    );
    // Apart from the household's own chance, so that a market that moves otherwise changes no weight.
    const board = { prices, chance: new Chance(yard === 'North' ? 11 : 12) };
    for (const week of boardWeeks[yard]) {
      agenda.on(daysAfter(demoBegins, week * 7), (on) => writeBoard(house, yard, board, on));
    }
  }
  agenda.on('2025-07-10', (on) => askPrice(house, 'North', 'Bare bright copper', '4.30', on));
  agenda.on('2026-03-11', (on) => askPrice(house, 'South', 'Aluminium and copper radiators', '2.25', on));
}

function writeBoard(house: Household, yard: YardName, { prices, chance }: Board, on: Day): void {
  const isFirst = on === demoBegins;
  const moves = new Map(Object.entries(markets).map(([market, [low, high]]) => [market, chance.between(low, high)]));
  const quotes = [...prices].map(([grade, before]) => {
    const level = isFirst ? before : before.times(moves.get(marketOf(grade)) ?? 1);
    const price = isFirst ? before : level.times(house.chance.between(...WOBBLE));
    prices.set(grade, level);
    return {
      yardId: house.yards[yard],
      gradeId: house.gradeId(grade),
      price: asWritten(price, grade),
      per: (isByTheTon(grade) ? 'net ton' : 'lb') as PriceUnit,
      seenOn: on,
      seenWhere: 'price board',
    };
  });
  recordPriceBoard(house.at(on), quotes);
}

function askPrice(house: Household, yard: YardName, grade: string, price: string, on: Day): void {
  recordQuote(house.at(on), {
    yardId: house.yards[yard],
    gradeId: house.gradeId(grade),
    price,
    per: 'lb',
    seenOn: on,
    seenWhere: 'by telephone',
  });
}
