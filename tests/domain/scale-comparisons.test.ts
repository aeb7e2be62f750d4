import { beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { type InWeightInput, recordBinTransfer, recordRecount, undoInWeight } from '../../server/ledger/acts.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { reconciledTicket } from '../../server/reconciliation/queries.ts';
import { comparisonsAtYard, comparisonsOf, readKnownScales, weighingsOfLoad } from '../../server/scales/comparisons.ts';
import { uncertaintyOf } from '../../server/scales/compute.ts';
import { queryWeightOf } from '../../server/scales/query-weight.ts';
import { returnLoad } from '../../server/tickets/acts.ts';
import { day } from '../../server/units/day.ts';
import {
  binId,
  lb,
  newBenchScale,
  newBin,
  newLedger,
  setUpWorkedExample,
  TODAY,
  weighIn as weighInto,
} from '../helper.ts';
import { sell, weighOut } from '../sales.ts';

// All figures invented and worked out by hand, in pounds: a bench scale with steps of 0.05 and ± 0.1 stated.
const POUND = 453_592_370;
const READING = (2 * 0.05 ** 2) / 12;
const TOLERANCE = 0.1 ** 2 / 3;

let ledger: Ledger;
let yardId: number;
let bench: number;

beforeEach(() => {
  ledger = newLedger();
  ({ yardId } = setUpWorkedExample(ledger));
  bench = newBenchScale(ledger);
});

const weighIn = (gross: string, more: Partial<InWeightInput> = {}): number =>
  weighInto(ledger, 'CU2', gross, undefined, { scaleId: bench, ...more });

const draft = (code = 'CU2') => {
  const manifestId = draftManifest(ledger, { yardId, binIds: [binId(ledger, code)], note: '' });
  const [load] = loadsOf(ledger.db, manifestId);
  if (load === undefined) throw new Error('no load');
  return { manifestId, load };
};

/** Standard uncertainty in pounds of the first load of a manifest, or what is missing. */
function uncertainty(manifestId: number): number | string[] {
  const [load] = loadsOf(ledger.db, manifestId);
  if (load === undefined) throw new Error('no load');
  const found = uncertaintyOf(weighingsOfLoad(ledger, readKnownScales(ledger.db), load, TODAY));
  return found.isKnown ? found.standardUg / POUND : found.missing.map(({ kind }) => kind);
}

describe('the weighings behind a book weight', () => {
  test('are all of those since the bin was last empty', () => {
    weighIn('10');
    const first = draft();
    loadManifest(ledger, first.manifestId, TODAY, false);
    weighIn('12', { occurredOn: TODAY });
    weighIn('8', { occurredOn: TODAY });
    expect(uncertainty(draft().manifestId)).toBeCloseTo(Math.sqrt(2 * READING + 4 * TOLERANCE), 6);
    expect(uncertainty(first.manifestId)).toBeCloseTo(Math.sqrt(READING + TOLERANCE), 6);
  });

  test('stay what they were once it is loaded, whatever is weighed in later', () => {
    weighIn('10');
    weighIn('12');
    const { manifestId } = draft();
    const asDraft = uncertainty(manifestId);
    loadManifest(ledger, manifestId, TODAY, false);
    weighIn('8', { occurredOn: TODAY });
    expect(uncertainty(manifestId)).toBe(asDraft);
  });

  test('of a load from before they were kept with it are found in the history of its bin', () => {
    weighIn('10');
    weighIn('12');
    const { manifestId } = draft();
    loadManifest(ledger, manifestId, TODAY, false);
    weighIn('8', { occurredOn: TODAY });
    const kept = uncertainty(manifestId);
    const { sqlite } = ledger.db;
    expect(sqlite.prepare('select count(*) from load_weighing').pluck().get()).toBe(2);
    expect(() => sqlite.exec('delete from load_weighing')).toThrow('never changes');
    sqlite.exec('drop trigger load_weighing_no_delete; delete from load_weighing');
    expect(uncertainty(manifestId)).toBe(kept);
  });

  test('of a load that was brought back and loaded again are the same', () => {
    weighIn('10');
    weighIn('12');
    const first = draft();
    loadManifest(ledger, first.manifestId, TODAY, false);
    returnLoad(ledger, first.load.id, TODAY, 'the gate was shut');
    const second = draft();
    loadManifest(ledger, second.manifestId, TODAY, false);
    expect(uncertainty(second.manifestId)).toBe(uncertainty(first.manifestId));
  });

  test('begin anew with a recount, which is taken to be on the usual scale of the bin', () => {
    weighIn('10');
    weighIn('12');
    recordRecount(ledger, {
      binId: binId(ledger, 'CU2'),
      netTyped: '21.5',
      unit: 'lb',
      netUg: lb('21.5'),
      occurredOn: TODAY,
      note: '',
    });
    expect(uncertainty(draft().manifestId)).toBeCloseTo(Math.sqrt(READING + TOLERANCE), 6);
  });

  test('do not count what was taken back', () => {
    weighIn('10');
    undoInWeight(ledger, weighIn('12'), false);
    expect(uncertainty(draft().manifestId)).toBeCloseTo(Math.sqrt(READING + TOLERANCE), 6);
  });

  test('count a part that was weighed out before, and its return', () => {
    weighIn('20');
    const part = draft();
    weighOut(ledger, part.manifestId, { gross: '5', scaleId: bench, emptiesBin: false });
    loadManifest(ledger, part.manifestId, TODAY, false);
    // In once and out once on one scale: the readings stay, its own error cancels.
    expect(uncertainty(draft().manifestId)).toBeCloseTo(Math.sqrt(2 * READING), 6);
    returnLoad(ledger, part.load.id, TODAY, '');
    expect(uncertainty(draft().manifestId)).toBeCloseTo(Math.sqrt(3 * READING + TOLERANCE), 6);
  });

  test('count what was moved in from another bin', () => {
    newBin(ledger, 'CU3', 'No. 2 copper');
    weighIn('10');
    weighIn('6', { binId: binId(ledger, 'CU3') });
    recordBinTransfer(ledger, {
      fromBinId: binId(ledger, 'CU3'),
      toBinId: binId(ledger, 'CU2'),
      netTyped: '6',
      unit: 'lb',
      netUg: lb('6'),
      occurredOn: TODAY,
      note: '',
      bookShortfall: false,
    });
    expect(uncertainty(draft().manifestId)).toBeCloseTo(Math.sqrt(2 * READING + 4 * TOLERANCE), 6);
  });

  test('with an estimate or a weighing on no named scale leave it open, and say so', () => {
    weighIn('10', { isEstimate: true });
    expect(uncertainty(draft().manifestId)).toEqual(['estimate']);
    weighIn('12', { scaleId: null });
    expect(uncertainty(draft().manifestId)).toEqual(['scale', 'estimate']);
  });
});

describe('the query weight of a load', () => {
  const queryOf = (manifestId: number) => {
    const [load] = loadsOf(ledger.db, manifestId);
    if (load === undefined) throw new Error('no load');
    const given = { load, massUg: load.mass_ug ?? lb('30'), yardId, yardUnit: 'lb', on: TODAY } as const;
    return queryWeightOf(ledger, readKnownScales(ledger.db), given);
  };

  test('takes both scales: 30 lb less 0.72 is 29.28, and the yard shows halves', () => {
    weighIn('30');
    const { manifestId } = draft();
    weighOut(ledger, manifestId, { gross: '30', scaleId: bench });
    const query = queryOf(manifestId);
    expect(query.kind === 'weight' ? query.weight.amount.toFixed() : query).toBe('29');
  });

  test('over a further scale of the yard goes by that scale', () => {
    const { sqlite } = ledger.db;
    sqlite.exec(
      `insert into yard_scale (id, yard_id, name, division, class) values (7, ${yardId}, 'Truck scale', '20', 'III L')`,
    );
    sqlite.exec(`insert into yard_scale_family (yard_id, family, yard_scale_id) values (${yardId}, 'copper', 7)`);
    weighIn('30');
    const { manifestId } = draft();
    weighOut(ledger, manifestId, { gross: '30', scaleId: bench });
    // 30 lb less twice √(2 · 20²/12 + 20²/3 + …) = 28.3 leaves less than one step of 20.
    expect(queryOf(manifestId)).toEqual({ kind: 'too light' });
    const [comparison] = sellCopperOver('7');
    expect(comparison?.yardScale?.name).toBe('Demo Yard North, Truck scale');
  });

  /** A sale of a netted load of copper, compared. */
  function sellCopperOver(number: string) {
    const { ticketId } = sell(ledger, {
      yardId,
      number,
      on: '2025-03-10',
      loads: [{ code: 'CU2', net: '30', price: '3.60' }],
      lines: [
        { loads: [0], paidAs: 'No. 2 copper', gross: '20', deduction: '0', net: '20', price: '3.60', amount: '72.00' },
      ],
    });
    const reconciled = reconciledTicket(ledger.db, ledger.settings, ticketId);
    return reconciled === undefined ? [] : comparisonsOf(ledger, readKnownScales(ledger.db), reconciled);
  }

  test('of a load that came from a file, without its scale, is left open', () => {
    const [comparison] = sellCopperOver('8');
    expect(comparison?.verdict).toMatchObject({ kind: 'unknown', missing: [{ kind: 'scale', side: 'home' }] });
    expect(comparison).toMatchObject({ homeUg: lb('30'), yardUg: lb('20'), labels: ['A'], homeScale: null });
  });
});

test('the comparisons at a yard are those of its standing tickets in the period, oldest first', () => {
  const copper = { loads: [0], paidAs: 'No. 2 copper', deduction: '0', price: '3.60' };
  for (const [number, on, weight] of [
    ['3', '2025-03-03', '10'],
    ['1', '2025-01-02', '20'],
    ['2', '2025-02-28', '30'],
  ] as const) {
    sell(ledger, {
      yardId,
      number,
      on,
      loads: [{ code: 'CU2', net: weight, price: '3.60' }],
      lines: [{ ...copper, gross: weight, net: weight, amount: (Number(weight) * 3.6).toFixed(2) }],
    });
  }
  const found = (from: string, until: string) =>
    comparisonsAtYard(ledger, readKnownScales(ledger.db), { yardId, from: day(from), until: day(until) });
  expect(found('2025-01-01', '2025-04-01').map(({ ticketNumber }) => ticketNumber)).toEqual(['1', '2', '3']);
  expect(found('2025-02-01', '2025-03-01').map(({ ticketNumber }) => ticketNumber)).toEqual(['2']);
});
