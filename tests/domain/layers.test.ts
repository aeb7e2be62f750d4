import fc from 'fast-check';
import { sql } from 'kysely';
import { beforeEach, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import {
  addFound,
  type Layer,
  massOfLayers,
  type Part,
  takeFromFront,
  takeOfEach,
} from '../../server/layers/compute.ts';
import { holdingsOf, salesOfItem } from '../../server/layers/queries.ts';
import { storedQueue } from '../../server/layers/stored.ts';
import { itemSharesOff, layersOff } from '../../server/layers/verify.ts';
import { correctInWeight, recordBinTransfer, recordRecount, undoInWeight } from '../../server/ledger/acts.ts';
import { binAccount } from '../../server/ledger/queries.ts';
import { recordLoadedManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { returnLoad, undoLoading } from '../../server/tickets/acts.ts';
import { takeTicketBack } from '../../server/tickets/take-back.ts';
import { day } from '../../server/units/day.ts';
import { massUg, NO_MASS } from '../../server/units/mass.ts';
import { binId, lb, newBin, newItem, newLedger, setUpWorkedExample, weighIn } from '../helper.ts';
import { type Sale, sell } from '../sales.ts';

let ledger: Ledger;
let yardId: number;
const [FIRST, SECOND] = [1, 2] as const;

beforeEach(() => {
  ledger = newLedger();
  ({ yardId } = setUpWorkedExample(ledger));
  for (const kind of ['washing machine', 'ceiling fan', 'tap']) newItem(ledger, kind);
});

const from = (itemId: number) => ({ itemId });
const copper = (net: string, amount: string, more: Partial<Sale> = {}): Sale => ({
  yardId,
  number: 'T1',
  on: '2025-03-10',
  loads: [{ code: 'CU2', net, price: '3.60' }],
  lines: [{ loads: [0], paidAs: 'No. 2 copper', gross: net, deduction: '0', net, price: '3.60', amount }],
  ...more,
});
const sold = (itemId: number) =>
  salesOfItem(ledger.db, itemId).map(({ mass_ug, earned_minor }) => [mass_ug, earned_minor]);
const held = (itemId: number, gradeName = 'No. 2 copper') =>
  holdingsOf(ledger.db, sql<number>`select ${itemId}`).find(({ grade_name }) => grade_name === gradeName);
const load = (code: string, net: string, on: string, number = 'M1') =>
  recordLoadedManifest(ledger, {
    yardId,
    number,
    loadedOn: day(on),
    loads: [
      { label: 'A', binId: binId(ledger, code), netTyped: net, unit: 'lb', massUg: lb(net), price: '3.60', per: 'lb' },
    ],
  });
const isRight = () => expect([...layersOff(ledger.db), ...itemSharesOff(ledger.db)]).toEqual([]);

test('a load takes the oldest material first, and its money goes to the items by weight, to the cent', () => {
  weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  weighIn(ledger, 'CU2', '20', '2025-03-02', from(SECOND));
  weighIn(ledger, 'CU2', '5', '2025-03-03');
  sell(ledger, copper('15', '50.00', { charges: '1.00' }));
  // $50.00 less $1.00: 10/15 and 5/15 of $49.00 are 32.666… and 16.333…
  expect(sold(FIRST)).toEqual([[lb('10'), 3267]]);
  expect(sold(SECOND)).toEqual([[lb('5'), 1633]]);
  expect(held(SECOND)).toMatchObject({ weighed_ug: lb('20'), in_bins_ug: lb('15'), loaded_ug: 0, sold_ug: lb('5') });
  isRight();
});

test('material of no item bears its part of the money', () => {
  weighIn(ledger, 'CU2', '10', '2025-03-01');
  weighIn(ledger, 'CU2', '10', '2025-03-02', from(FIRST));
  sell(ledger, copper('20', '70.01'));
  expect(sold(FIRST)).toEqual([[lb('10'), 3501]]);
});

test('what is loaded and not yet paid is neither in the bin nor sold', () => {
  weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  load('CU2', '4', '2025-03-05');
  expect(held(FIRST)).toMatchObject({ in_bins_ug: lb('6'), loaded_ug: lb('4'), sold_ug: 0, earned_minor: 0 });
  isRight();
});

test('a move carries every item along in proportion, and the money follows it into the other bin', () => {
  newBin(ledger, 'CU9', 'Light copper');
  weighIn(ledger, 'CU2', '30', '2025-03-01', from(FIRST));
  weighIn(ledger, 'CU2', '10', '2025-03-02', from(SECOND));
  const typed = { netTyped: '8', unit: 'lb', note: '', bookShortfall: false } as const;
  const bins = { fromBinId: binId(ledger, 'CU2'), toBinId: binId(ledger, 'CU9') };
  recordBinTransfer(ledger, { ...bins, ...typed, netUg: lb('8'), occurredOn: day('2025-03-03') });
  sell(ledger, {
    ...copper('8', '24.00'),
    loads: [{ code: 'CU9', net: '8', price: '3.00' }],
    lines: [{ loads: [0], paidAs: 'Light copper', gross: '8', deduction: '0', net: '8', price: '3', amount: '24.00' }],
  });
  expect(sold(FIRST)).toEqual([[lb('6'), 1800]]);
  expect(sold(SECOND)).toEqual([[lb('2'), 600]]);
  expect(held(FIRST)).toMatchObject({ in_bins_ug: lb('24') });
  isRight();
});

test('a recount scales what is there', () => {
  weighIn(ledger, 'CU2', '30', '2025-03-01', from(FIRST));
  weighIn(ledger, 'CU2', '10', '2025-03-02', from(SECOND));
  const typed = { binId: binId(ledger, 'CU2'), netTyped: '', unit: 'lb', note: '' } as const;
  recordRecount(ledger, { ...typed, netUg: lb('38'), occurredOn: day('2025-03-03') });
  expect([held(FIRST)?.in_bins_ug, held(SECOND)?.in_bins_ug]).toEqual([lb('28.5'), lb('9.5')]);
  recordRecount(ledger, { ...typed, netUg: lb('42'), occurredOn: day('2025-03-04') });
  expect([held(FIRST)?.in_bins_ug, held(SECOND)?.in_bins_ug]).toEqual([lb('31.5'), lb('10.5')]);
  isRight();
});

test('far more than the book is material that nobody wrote down, and of no item', () => {
  weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  const typed = { binId: binId(ledger, 'CU2'), netTyped: '', unit: 'lb', note: '' } as const;
  recordRecount(ledger, { ...typed, netUg: lb('50'), occurredOn: day('2025-03-03') });
  expect(held(FIRST)?.in_bins_ug).toBe(lb('10'));
  sell(ledger, copper('50', '150.00'));
  expect(sold(FIRST)).toEqual([[lb('10'), 3000]]);
  isRight();
});

test('a weighing entered late takes its place by its day, and the money that was paid is shared anew', () => {
  weighIn(ledger, 'CU2', '20', '2025-03-02', from(SECOND));
  sell(ledger, copper('10', '36.00'));
  expect(sold(SECOND)).toEqual([[lb('10'), 3600]]);
  weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  expect(sold(FIRST)).toEqual([[lb('10'), 3600]]);
  expect(sold(SECOND)).toEqual([]);
  isRight();
});

test('an in-weight that gets another item after it was sold takes its money along', () => {
  const id = weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  sell(ledger, copper('10', '36.00'));
  const same = { binId: binId(ledger, 'CU2'), scaleId: null, containerId: null, grossTyped: '10', tareTyped: '0' };
  const weighed = { unit: 'lb', grossUg: lb('10'), tareUg: NO_MASS, isEstimate: false, note: '' } as const;
  const corrected = { ...same, ...weighed, occurredOn: day('2025-03-01'), itemId: SECOND };
  correctInWeight(ledger, id, corrected, 'it was the other one', true);
  expect(sold(FIRST)).toEqual([]);
  expect(sold(SECOND)).toEqual([[lb('10'), 3600]]);
  isRight();
});

test('a taken back in-weight that was sold leaves its money with nobody', () => {
  const id = weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  sell(ledger, copper('10', '36.00'));
  undoInWeight(ledger, id, true);
  expect(sold(FIRST)).toEqual([]);
  expect(held(FIRST)).toBeUndefined();
  isRight();
});

test('a load that comes back is the first to leave again', () => {
  weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  weighIn(ledger, 'CU2', '10', '2025-03-02', from(SECOND));
  const manifestId = load('CU2', '10', '2025-03-05');
  returnLoad(ledger, loadsOf(ledger.db, manifestId)[0]?.id ?? 0, day('2025-03-06'), '');
  expect(held(FIRST)).toMatchObject({ in_bins_ug: lb('10'), loaded_ug: 0 });
  sell(ledger, copper('10', '36.00'));
  expect(sold(FIRST)).toEqual([[lb('10'), 3600]]);
  isRight();
});

test('a loading taken back leaves the layers as if it had never been', () => {
  weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  weighIn(ledger, 'CU2', '10', '2025-03-02', from(SECOND));
  undoLoading(ledger, load('CU2', '15', '2025-03-05'));
  sell(ledger, copper('10', '36.00'));
  expect([sold(FIRST), sold(SECOND)]).toEqual([[[lb('10'), 3600]], []]);
  isRight();
});

test('a ticket that is taken back gives the money back too', () => {
  weighIn(ledger, 'CU2', '10', '2025-03-01', from(FIRST));
  const { ticketId } = sell(ledger, copper('10', '36.00'));
  takeTicketBack(ledger, ticketId, 'wrong yard');
  expect(sold(FIRST)).toEqual([]);
  expect(held(FIRST)).toMatchObject({ loaded_ug: lb('10'), sold_ug: 0, earned_minor: 0 });
  isRight();
});

test('a weigh-in writes nothing into the layers, and a load only into those of its own bin', () => {
  for (const code of ['CU2', 'WLO']) weighIn(ledger, code, '10', '2025-03-01', from(FIRST));
  load('WLO', '5', '2025-03-02', 'M0');
  const other = JSON.stringify(storedQueue(ledger.db, binAccount(ledger.db, binId(ledger, 'WLO'))));
  const rows = () =>
    ledger.db.one(sql<{ n: number }>`select (select count(*) from layer_queue) * 1000000
    + (select count(*) from layer_stop) * 1000 + (select count(*) from layer_part) as n`).n;
  const before = rows();
  weighIn(ledger, 'CU2', '5', '2025-03-03', from(SECOND));
  expect(rows()).toBe(before);
  load('CU2', '3', '2025-03-04');
  expect(JSON.stringify(storedQueue(ledger.db, binAccount(ledger.db, binId(ledger, 'WLO'))))).toBe(other);
  isRight();
});

const part: fc.Arbitrary<Part> = fc.tuple(fc.nat(5), fc.integer({ min: 1, max: 1_000_000_000_000_000 }));
const layer: fc.Arbitrary<Layer> = part.map((one): Layer => [day('2025-03-01'), [one]]);
const someLayers = fc.array(layer, { minLength: 1, maxLength: 8 });
const massOfParts = (parts: readonly Part[]) => parts.reduce((sum, [, mass]) => sum + mass, 0);

test('whatever is taken or found, taken and left make the whole, and nothing is below zero', () => {
  fc.assert(
    fc.property(someLayers, fc.double({ min: 0, max: 1, noNaN: true }), (layers, share) => {
      const whole = massOfLayers(layers);
      const mass = Math.floor(whole * share);
      for (const take of [takeFromFront, takeOfEach]) {
        const { taken, left } = take(layers, mass);
        expect(massOfParts(taken)).toBe(mass);
        expect(massOfLayers(left)).toBe(whole - mass);
        expect(left.every(([, parts]) => parts.length > 0 && parts.every(([, own]) => own > 0))).toBe(true);
      }
      const { added, left } = addFound(layers, mass, day('2025-03-02'));
      expect(massOfParts(added)).toBe(mass);
      expect(massOfLayers(left)).toBe(whole + mass);
    }),
    { seed: 20251125 },
  );
});

test('what is taken of each layer is its share to a microgram', () => {
  const layers: Layer[] = [
    [day('2025-03-01'), [[1, 3]]],
    [
      day('2025-03-02'),
      [
        [2, 4],
        [3, 4],
      ],
    ],
  ];
  expect(takeOfEach(layers, massUg(11))).toEqual({
    taken: [
      [1, 3],
      [2, 4],
      [3, 4],
    ],
    left: [],
  });
  expect(massOfParts(takeOfEach(layers, 5).taken)).toBe(5);
});
