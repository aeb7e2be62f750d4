import { expect, test } from 'vitest';
import {
  correctInWeight,
  type InWeightInput,
  recordBinTransfer,
  recordInWeight,
  recordRecount,
  undoBinDocument,
  undoInWeight,
} from '../../server/ledger/acts.ts';
import { binLedgerRows } from '../../server/ledger/bin-ledger.ts';
import { binAccount, findBinByCode } from '../../server/ledger/queries.ts';
import { Refusal, type RefusalCode } from '../../server/refusal.ts';
import { closeBin, reopenBin } from '../../server/setup/acts.ts';
import { day } from '../../server/units/day.ts';
import { massUg, NO_MASS } from '../../server/units/mass.ts';
import { binId, lb, massIn, newLedger, setUpWorkedExample, weighIn } from '../helper.ts';

function ledgerWithBins() {
  const ledger = newLedger();
  setUpWorkedExample(ledger);
  return ledger;
}

/** The refusal that an act ends with. */
function refusalOf(act: () => unknown): RefusalCode | null {
  try {
    act();
    return null;
  } catch (error) {
    if (error instanceof Refusal) return error.code;
    throw error;
  }
}

const inWeight = (ledger: ReturnType<typeof newLedger>, code: string, gross: string, tare = '0'): InWeightInput => ({
  binId: binId(ledger, code),
  scaleId: null,
  containerId: null,
  grossTyped: gross,
  tareTyped: tare,
  unit: 'lb',
  grossUg: lb(gross),
  tareUg: lb(tare),
  occurredOn: day('2025-03-02'),
  isEstimate: false,
  note: '',
});

const count = (ledger: ReturnType<typeof newLedger>, table: string): number =>
  (ledger.db.sqlite.prepare(`select count(*) as n from ${table}`).get() as { n: number }).n;

test('a weighing puts gross less tare into its bin', () => {
  const ledger = ledgerWithBins();
  recordInWeight(ledger, inWeight(ledger, 'CU2', '33.45', '2.00'));
  expect(massIn(ledger, 'CU2')).toBe(lb('31.45'));
});

test('a tare that is not below the reading is refused and nothing of it stays', () => {
  const ledger = ledgerWithBins();
  const before = count(ledger, 'event');
  for (const tare of ['5', '5.01']) {
    expect(refusalOf(() => recordInWeight(ledger, inWeight(ledger, 'CU2', '5', tare)))).toBe('net_not_positive');
  }
  expect([count(ledger, 'in_weight'), count(ledger, 'transfer'), count(ledger, 'event')]).toEqual([0, 0, before]);
});

test('a day that has not come is refused', () => {
  const ledger = ledgerWithBins();
  const input = { ...inWeight(ledger, 'CU2', '5'), occurredOn: day('2025-03-21') };
  expect(refusalOf(() => recordInWeight(ledger, input))).toBe('day_in_future');
});

test('a bin that is not there, and a closed one, take nothing', () => {
  const ledger = ledgerWithBins();
  const input = inWeight(ledger, 'CU2', '5');
  expect(refusalOf(() => recordInWeight(ledger, { ...input, binId: 999 }))).toBe('not_found');
  closeBin(ledger, input.binId);
  expect(refusalOf(() => recordInWeight(ledger, input))).toBe('bin_closed');
});

test('an undone weighing leaves the bin as it was and both lines in its ledger', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '10');
  const id = weighIn(ledger, 'CU2', '4');
  undoInWeight(ledger, id, false);
  expect(massIn(ledger, 'CU2')).toBe(lb('10'));
  const lines = binLedgerRows(ledger.db, binAccount(ledger.db, binId(ledger, 'CU2')), null, 10);
  expect(lines.map((line) => [line.reason, line.is_reversed, line.signed_ug])).toEqual([
    ['undone', 0, -lb('4')],
    ['weighed in', 1, lb('4')],
    ['weighed in', 0, lb('10')],
  ]);
  expect(refusalOf(() => undoInWeight(ledger, id, false))).toBe('already_undone');
});

test('a correction moves the weight to the right bin, keeps both, and counts for the day of the weighing', () => {
  const ledger = ledgerWithBins();
  const id = weighIn(ledger, 'CU2', '10', '2025-02-01');
  const corrected = { ...inWeight(ledger, 'YB1', '9.5'), occurredOn: day('2025-02-01') };
  correctInWeight(ledger, id, corrected, 'wrong bin', false);
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'YB1')]).toEqual([0, lb('9.5')]);
  const days = ledger.db.sqlite.prepare('select distinct occurred_on from transfer').pluck().all();
  expect(days).toEqual(['2025-02-01']);
  expect(refusalOf(() => correctInWeight(ledger, id, corrected, 'again', false))).toBe('already_corrected');
});

test('taking back what has already left the bin asks first, then books the difference', () => {
  const ledger = ledgerWithBins();
  const id = weighIn(ledger, 'CU2', '10');
  recordBinTransfer(ledger, move(ledger, 'CU2', 'YB1', '7'));
  expect(refusalOf(() => undoInWeight(ledger, id, false))).toBe('bin_below_zero');
  expect(massIn(ledger, 'CU2')).toBe(lb('3'));
  undoInWeight(ledger, id, true);
  expect(massIn(ledger, 'CU2')).toBe(0);
});

const move = (ledger: ReturnType<typeof newLedger>, from: string, to: string, net: string) => ({
  fromBinId: binId(ledger, from),
  toBinId: binId(ledger, to),
  netTyped: net,
  unit: 'lb' as const,
  netUg: lb(net),
  occurredOn: day('2025-03-05'),
  note: '',
  bookShortfall: false,
});

test('material moved to a bin of another grade leaves the one grade and joins the other', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '10');
  const id = recordBinTransfer(ledger, move(ledger, 'CU2', 'YB1', '2.5'));
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'YB1')]).toEqual([lb('7.5'), lb('2.5')]);
  const sums = ledger.db.sqlite.prepare('select sum(mass_ug) from balance group by grade_id').pluck().all();
  expect(sums).toEqual([0, 0]);
  undoBinDocument(ledger, 'bin_transfer', id);
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'YB1')]).toEqual([lb('10'), 0]);
});

test('a move asks when more leaves the bin than the book has in it, and refuses the same bin', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '1');
  expect(refusalOf(() => recordBinTransfer(ledger, move(ledger, 'CU2', 'YB1', '2')))).toBe('bin_below_zero');
  expect(refusalOf(() => recordBinTransfer(ledger, move(ledger, 'CU2', 'CU2', '1')))).toBe('same_bin');
  recordBinTransfer(ledger, { ...move(ledger, 'CU2', 'YB1', '2'), bookShortfall: true });
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'YB1')]).toEqual([0, lb('2')]);
});

test('a recount sets the bin to what was weighed, up or down', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '10');
  const recount = { binId: binId(ledger, 'CU2'), unit: 'lb' as const, occurredOn: day('2025-03-10'), note: '' };
  recordRecount(ledger, { ...recount, netTyped: '9.2', netUg: lb('9.2') });
  expect(massIn(ledger, 'CU2')).toBe(lb('9.2'));
  const id = recordRecount(ledger, { ...recount, netTyped: '11', netUg: lb('11') });
  expect(massIn(ledger, 'CU2')).toBe(lb('11'));
  undoBinDocument(ledger, 'recount', id);
  expect(massIn(ledger, 'CU2')).toBe(lb('9.2'));
});

test('a recount entered late is compared with what the book had on its day', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '10', '2025-02-01');
  weighIn(ledger, 'CU2', '5', '2025-03-01');
  const netUg = lb('9');
  const recount = { binId: binId(ledger, 'CU2'), netTyped: '9', unit: 'lb' as const, netUg, note: '' };
  recordRecount(ledger, { ...recount, occurredOn: day('2025-02-10') });
  expect(massIn(ledger, 'CU2')).toBe(lb('14'));
});

test('an empty bin can be recounted to zero and closed; one with material cannot be closed', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '3');
  const id = binId(ledger, 'CU2');
  expect(refusalOf(() => closeBin(ledger, id))).toBe('bin_not_empty');
  const occurredOn = day('2025-03-10');
  recordRecount(ledger, { binId: id, netTyped: '0', unit: 'lb', netUg: NO_MASS, occurredOn, note: '' });
  closeBin(ledger, id);
  expect(findBinByCode(ledger.db, 'CU2')?.closed_on).toBe('2025-03-20');
});

test('the bin shows since when it holds material, counted anew after it was empty', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '3', '2025-01-10');
  weighIn(ledger, 'CU2', '3', '2025-01-05');
  expect(findBinByCode(ledger.db, 'CU2')?.since_on).toBe('2025-01-05');
  recordBinTransfer(ledger, move(ledger, 'CU2', 'YB1', '6'));
  weighIn(ledger, 'CU2', '1', '2025-03-11');
  expect(findBinByCode(ledger.db, 'CU2')?.since_on).toBe('2025-03-11');
});

test('what was put right does not count for since when the bin holds material, and what came back to it does', () => {
  const ledger = ledgerWithBins();
  const since = () => findBinByCode(ledger.db, 'CU2')?.since_on;
  const wrongYear = weighIn(ledger, 'CU2', '3', '2024-03-02');
  correctInWeight(ledger, wrongYear, inWeight(ledger, 'CU2', '3'), 'wrong year', false);
  expect([since(), massIn(ledger, 'CU2')]).toEqual(['2025-03-02', lb('3')]);
  undoBinDocument(ledger, 'bin_transfer', recordBinTransfer(ledger, move(ledger, 'CU2', 'YB1', '3')));
  weighIn(ledger, 'CU2', '1', '2025-03-08');
  undoInWeight(ledger, weighIn(ledger, 'CU2', '1', '2025-03-09'), false);
  expect(since()).toBe('2025-03-05');
});

test('nothing is put back into a closed bin, where nobody would see it', () => {
  const ledger = ledgerWithBins();
  weighIn(ledger, 'CU2', '10');
  weighIn(ledger, 'YB2', '4');
  const moved = recordBinTransfer(ledger, move(ledger, 'CU2', 'YB1', '10'));
  const occurredOn = day('2025-03-10');
  const recount = {
    binId: binId(ledger, 'YB2'),
    netTyped: '0',
    unit: 'lb' as const,
    netUg: NO_MASS,
    occurredOn,
    note: '',
  };
  const recounted = recordRecount(ledger, recount);
  for (const code of ['CU2', 'YB2']) closeBin(ledger, binId(ledger, code));
  expect(refusalOf(() => undoBinDocument(ledger, 'bin_transfer', moved))).toBe('bin_closed');
  expect(refusalOf(() => undoBinDocument(ledger, 'recount', recounted))).toBe('bin_closed');
  reopenBin(ledger, binId(ledger, 'CU2'));
  undoBinDocument(ledger, 'bin_transfer', moved);
  expect([massIn(ledger, 'CU2'), massIn(ledger, 'YB2')]).toEqual([lb('10'), 0]);
});

test('a weighing that was taken back no longer says since when the bin holds material', () => {
  const ledger = ledgerWithBins();
  const old = weighIn(ledger, 'CU2', '3', '1999-01-01');
  weighIn(ledger, 'CU2', '3', '2025-03-02');
  weighIn(ledger, 'CU2', '3', '2025-03-01');
  undoInWeight(ledger, old, false);
  expect(findBinByCode(ledger.db, 'CU2')?.since_on).toBe('2025-03-01');
});

test('the database itself refuses to change or delete what is append-only, and a bin below zero', () => {
  const { db } = ledgerWithBins();
  const ledger = ledgerWithBins();
  const id = weighIn(ledger, 'CU2', '3');
  const sqlite = ledger.db.sqlite;
  expect(() => sqlite.exec(`update transfer set mass_ug = 1 where id = ${id}`)).toThrow('append-only');
  expect(() => sqlite.exec('delete from transfer')).toThrow('append-only');
  expect(() => sqlite.exec('delete from in_weight')).toThrow('append-only');
  expect(() => sqlite.exec('update event set who = 1')).toThrow('append-only');
  const bin = binAccount(ledger.db, binId(ledger, 'CU2'));
  const takeOut = `insert into transfer (from_account_id, to_account_id, grade_id, mass_ug, occurred_on, recorded_at, reason,
    document_kind, document_id) values (${bin}, 1, 1, ${lb('3.01')}, '2025-03-01', '', '', 'recount', 1)`;
  expect(() => sqlite.exec(takeOut)).toThrow('below zero');
  expect(db.sqlite.pragma('synchronous', { simple: true })).toBe(2);
  expect(massUg(massIn(ledger, 'CU2'))).toBe(lb('3'));
});
