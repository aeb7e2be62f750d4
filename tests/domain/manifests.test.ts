import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { cautions } from '../../seed/cautions.ts';
import { starterGrades } from '../../seed/grades.ts';
import type { Ledger } from '../../server/context.ts';
import { listBinsOnHand } from '../../server/ledger/queries.ts';
import {
  addBinToDraft,
  copyToDraft,
  draftManifest,
  type LoadOut,
  removeFromDraft,
  setDraftAside,
  weighLoads,
} from '../../server/manifests/acts.ts';
import { cautionsFor, compareWithBook, loadLabel, nextNumber, readingOf } from '../../server/manifests/compute.ts';
import { loadManifest, recordLoadedManifest } from '../../server/manifests/loading.ts';
import { findManifest, type Load, loadsOf } from '../../server/manifests/queries.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import type { Refusal } from '../../server/refusal.ts';
import { closeBin, reopenBin } from '../../server/setup/acts.ts';
import { returnLoad, returnManifest, undoLoading, undoLoadReturn } from '../../server/tickets/acts.ts';
import { day } from '../../server/units/day.ts';
import { massUg } from '../../server/units/mass.ts';
import { binId, gradeId, lb, massIn, newLedger, newYard, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';

let ledger: Ledger;
let yardId: number;

beforeEach(() => {
  ledger = newLedger();
  ({ yardId } = setUpWorkedExample(ledger));
});
afterEach(() => ledger.db.close());

const quote = (grade: string, price: string, seenOn: string, yard = yardId) =>
  recordQuote(ledger, {
    yardId: yard,
    gradeId: gradeId(ledger, grade),
    price,
    per: 'lb',
    seenOn: day(seenOn),
    seenWhere: '',
  });

const draft = (...codes: string[]) =>
  draftManifest(ledger, { yardId, binIds: codes.map((code) => binId(ledger, code)), note: '' });
const lines = (id: number): Load[] => loadsOf(ledger.db, id);
const only = (id: number): Load => lines(id)[0] as Load;
const pluck = (query: string) => ledger.db.sqlite.prepare(query).pluck().get();
const counted = () =>
  pluck(
    "select coalesce(sum(mass_ug), 0) from balance where account_id = (select id from account where kind = 'count_difference')",
  );

function weigh(id: number, net: string, more: Partial<LoadOut> = {}): void {
  const weighing = {
    containerId: null,
    scaleId: null,
    grossTyped: net,
    tareTyped: '0',
    netTyped: '',
    unit: 'lb',
  } as const;
  weighLoads(ledger, id, [{ lineId: only(id).id, ...weighing, massUg: lb(net), emptiesBin: true, ...more }]);
}

/** The code and field of a refusal; throws what is none, and when nothing was refused. */
function refusalOf(act: () => unknown): [code: string, field: string] {
  try {
    act();
  } catch (error) {
    const { code, field } = error as Refusal;
    if (field === undefined) throw error;
    return [code, field];
  }
  throw new Error('nothing was refused');
}

describe('loading', () => {
  beforeEach(() => {
    weighIn(ledger, 'CU2', '61.4');
    quote('No. 2 copper', '3.40', '2025-03-01');
    quote('No. 2 copper', '3.60', '2025-03-10');
  });

  test('moves the book weight out of the bin when nothing was weighed, and freezes the value at the newest quote', () => {
    const id = draft('CU2');
    loadManifest(ledger, id, TODAY, false);
    expect(massIn(ledger, 'CU2')).toBe(0);
    expect(only(id)).toMatchObject({ weighed: 'book', mass_ug: lb('61.4'), price: '3.60', seen_on: '2025-03-10' });
    // 61.40 lb at 3.60 is 221.04.
    expect(only(id).expected_minor).toBe(22104);
    expect(findManifest(ledger.db, id)).toMatchObject({ status: 'loaded', loaded_on: TODAY });
  });

  test('on an earlier day takes the book and the quote as they stood on that day', () => {
    weighIn(ledger, 'CU2', '10', '2025-03-12');
    const id = draft('CU2');
    loadManifest(ledger, id, day('2025-03-05'), false);
    expect(only(id)).toMatchObject({ mass_ug: lb('61.4'), price: '3.40', seen_on: '2025-03-01' });
    expect(massIn(ledger, 'CU2')).toBe(lb('10'));
    expect(counted()).toBe(0);
  });

  test('takes no quote of another yard and none that was seen later', () => {
    quote('No. 2 copper', '9', '2025-03-02', newYard(ledger, 'Demo Yard South'));
    const id = draft('CU2');
    // On that day nothing was in the bin yet by the book.
    expect(refusalOf(() => loadManifest(ledger, id, day('2025-02-28'), true))[0]).toBe('weight_missing');
    weighIn(ledger, 'CU2', '5', '2025-02-20');
    loadManifest(ledger, id, day('2025-02-28'), true);
    expect(only(id)).toMatchObject({ price: null, seen_on: null, expected_minor: 0 });
  });

  test('freezes the lines: the database refuses every change afterwards', () => {
    const id = draft('CU2');
    loadManifest(ledger, id, TODAY, false);
    const run = (statement: string) => () => ledger.db.sqlite.prepare(statement).run();
    expect(run('update manifest_line set mass_ug = 1')).toThrow(/never changes/);
    expect(run("update manifest_line set price = '9'")).toThrow(/never changes/);
    expect(run('delete from manifest_line')).toThrow(/never changes/);
    expect(run("update manifest set status = 'draft'")).toThrow(/never changes/);
    expect(run("update manifest set loaded_on = '2025-01-01'")).toThrow(/never changes/);
    expect(refusalOf(() => addBinToDraft(ledger, id, binId(ledger, 'WLO')))).toEqual(['manifest_not_draft', '']);
    expect(refusalOf(() => removeFromDraft(ledger, id, only(id).id))).toEqual(['manifest_not_draft', '']);
    expect(refusalOf(() => weigh(id, '1'))).toEqual(['manifest_not_draft', '']);
    expect(refusalOf(() => setDraftAside(ledger, id))).toEqual(['manifest_not_draft', '']);
    expect(refusalOf(() => loadManifest(ledger, id, TODAY, false))).toEqual(['manifest_not_draft', '']);
  });

  test('a later quote changes nothing of what was loaded', () => {
    const id = draft('CU2');
    loadManifest(ledger, id, TODAY, false);
    quote('No. 2 copper', '1', '2025-03-20');
    expect(only(id)).toMatchObject({ price: '3.60', expected_minor: 22104 });
  });

  test.each([
    ['above', '63', '1.6'],
    ['below', '60', '-1.4'],
  ])('a load-out weight %s the book empties the bin exactly and books a count difference', (_, net, difference) => {
    const id = draft('CU2');
    weigh(id, net);
    loadManifest(ledger, id, TODAY, false);
    expect(massIn(ledger, 'CU2')).toBe(0);
    expect(only(id)).toMatchObject({ weighed: 'load-out', mass_ug: lb(net) });
    const found = lb(difference.replace('-', ''));
    expect(counted()).toBe(difference.startsWith('-') ? found : -found);
  });

  test('a part of a bin leaves the rest in it, without a count difference', () => {
    const id = draft('CU2');
    weigh(id, '40', { emptiesBin: false });
    loadManifest(ledger, id, TODAY, false);
    expect(massIn(ledger, 'CU2')).toBe(lb('21.4'));
    expect(counted()).toBe(0);
  });

  test('a load above a bin that is not emptied asks first, and confirmed is booked', () => {
    const id = draft('CU2');
    weigh(id, '70', { emptiesBin: false });
    expect(refusalOf(() => loadManifest(ledger, id, TODAY, false))).toEqual(['bin_below_zero', `gross-${only(id).id}`]);
    expect([massIn(ledger, 'CU2'), only(id).price, pluck('select count(*) from transfer')]).toEqual([
      lb('61.4'),
      null,
      1,
    ]);
    loadManifest(ledger, id, TODAY, true);
    expect([massIn(ledger, 'CU2'), counted()]).toEqual([0, -lb('8.6')]);
  });

  test('an earlier day asks when material has left the bin since', () => {
    const first = draft('CU2');
    loadManifest(ledger, first, day('2025-03-15'), false);
    const second = draft('CU2');
    expect(refusalOf(() => loadManifest(ledger, second, day('2025-03-14'), false))[0]).toBe('bin_below_zero');
    loadManifest(ledger, second, day('2025-03-14'), true);
    expect(massIn(ledger, 'CU2')).toBe(0);
  });

  test('refuses an empty manifest, an empty bin, a closed bin, and a day that has not come', () => {
    expect(refusalOf(() => loadManifest(ledger, draft(), TODAY, false))[0]).toBe('manifest_empty');
    const empty = draft('WLO');
    expect(refusalOf(() => loadManifest(ledger, empty, TODAY, false))).toEqual([
      'weight_missing',
      `gross-${only(empty).id}`,
    ]);
    closeBin(ledger, binId(ledger, 'WLO'));
    expect(refusalOf(() => loadManifest(ledger, empty, TODAY, false))).toEqual([
      'bin_closed',
      `gross-${only(empty).id}`,
    ]);
    expect(refusalOf(() => draft('WLO'))).toEqual(['bin_closed', 'bins']);
    expect(refusalOf(() => loadManifest(ledger, draft('CU2'), day('2025-03-21'), false))).toEqual([
      'day_in_future',
      'loadedOn',
    ]);
  });

  test('of several bins is whole or not at all', () => {
    const id = draft('CU2', 'WLO');
    expect(refusalOf(() => loadManifest(ledger, id, TODAY, false))[0]).toBe('weight_missing');
    expect([massIn(ledger, 'CU2'), pluck("select count(*) from account where kind = 'load'")]).toEqual([lb('61.4'), 0]);
  });

  test('a price by the piece is frozen, and nothing is expected of the weight', () => {
    const grade = gradeId(ledger, 'No. 2 copper');
    recordQuote(ledger, { yardId, gradeId: grade, price: '5', per: 'each', seenOn: TODAY, seenWhere: '' });
    const id = draft('CU2');
    loadManifest(ledger, id, TODAY, false);
    expect(only(id)).toMatchObject({ price: '5', per: 'each', expected_minor: 0 });
  });
});

describe('a draft', () => {
  test('gets the next number, counted on across the yards', () => {
    const south = newYard(ledger, 'Demo Yard South');
    const numbers = [yardId, yardId, south].map(
      (yard) => findManifest(ledger.db, draftManifest(ledger, { yardId: yard, binIds: [], note: '' }))?.number,
    );
    expect(numbers).toEqual(['1', '2', '3']);
    expect(nextNumber(['1', 'A-7', '12'])).toBe('13');
    expect(refusalOf(() => draftManifest(ledger, { yardId, binIds: [], note: '', number: '2' }))[0]).toBe('name_taken');
    expect(refusalOf(() => draftManifest(ledger, { yardId: 99, binIds: [], note: '' }))).toEqual(['not_found', 'yard']);
  });

  test('labels its loads A, B, C, gives a free label again, and takes a bin once', () => {
    const id = draft('CU2', 'WLO', 'YB1');
    removeFromDraft(ledger, id, lines(id)[1]?.id ?? 0);
    addBinToDraft(ledger, id, binId(ledger, 'FE1'));
    addBinToDraft(ledger, id, binId(ledger, 'FE1'));
    expect(lines(id).map((line) => [line.label, line.bin_code])).toEqual([
      ['A', 'CU2'],
      ['C', 'YB1'],
      ['B', 'FE1'],
    ]);
    expect([loadLabel(25), loadLabel(26), loadLabel(701), loadLabel(702)]).toEqual(['Z', 'AA', 'ZZ', 'AAA']);
  });

  test('of another manifest keeps its loads', () => {
    const [one, other] = [draft('CU2'), draft('WLO')];
    removeFromDraft(ledger, one, only(other).id);
    weighLoads(ledger, one, [{ ...looseWeight, lineId: only(other).id }]);
    expect(only(other).mass_ug).toBe(null);
  });

  test('that is set aside moved nothing, does not change, and can be copied with the bins still open', () => {
    weighIn(ledger, 'CU2', '10');
    const id = draft('CU2', 'WLO');
    setDraftAside(ledger, id);
    expect(findManifest(ledger.db, id)).toMatchObject({ status: 'returned', loaded_on: null });
    expect(massIn(ledger, 'CU2')).toBe(lb('10'));
    expect(refusalOf(() => loadManifest(ledger, id, TODAY, false))[0]).toBe('manifest_not_draft');
    expect(refusalOf(() => undoLoadReturn(ledger, only(id).id))[0]).toBe('manifest_not_loaded');
    closeBin(ledger, binId(ledger, 'WLO'));
    expect(lines(copyToDraft(ledger, id)).map((line) => line.bin_code)).toEqual(['CU2']);
  });
});

const looseWeight: Omit<LoadOut, 'lineId'> = {
  containerId: null,
  scaleId: null,
  grossTyped: '5',
  tareTyped: '0',
  netTyped: '',
  unit: 'lb',
  massUg: lb('5'),
  emptiesBin: true,
};

describe('unsold', () => {
  let id: number;
  beforeEach(() => {
    weighIn(ledger, 'CU2', '61.4');
    weighIn(ledger, 'WLO', '48.25');
    id = draft('CU2', 'WLO');
    loadManifest(ledger, id, day('2025-03-10'), false);
  });

  test('a load goes back with exactly its weight, and the last one makes the manifest returned', () => {
    returnLoad(ledger, only(id).id, day('2025-03-11'), 'the yard was closed');
    expect([massIn(ledger, 'CU2'), findManifest(ledger.db, id)?.status]).toEqual([lb('61.4'), 'loaded']);
    expect(only(id)).toMatchObject({ returned_on: '2025-03-11', return_reason: 'the yard was closed' });
    returnLoad(ledger, lines(id)[1]?.id ?? 0, TODAY, '');
    expect([massIn(ledger, 'WLO'), findManifest(ledger.db, id)?.status]).toEqual([lb('48.25'), 'returned']);
    expect(refusalOf(() => returnLoad(ledger, only(id).id, TODAY, ''))[0]).toBe('load_returned');
  });

  test('everything goes back at once', () => {
    returnManifest(ledger, id, TODAY, '');
    expect(listBinsOnHand(ledger.db).map((bin) => bin.mass_ug)).toEqual([lb('61.4'), lb('48.25'), 0, 0, 0]);
    expect(pluck("select sum(mass_ug) from balance join account on account.id = account_id where kind = 'load'")).toBe(
      0,
    );
  });

  test('a load cannot come back before it was loaded, on a day to come, or into a closed bin', () => {
    expect(refusalOf(() => returnLoad(ledger, only(id).id, day('2025-03-09'), ''))).toEqual([
      'day_before_loading',
      'returnedOn',
    ]);
    expect(refusalOf(() => returnLoad(ledger, only(id).id, day('2025-03-21'), ''))).toEqual([
      'day_in_future',
      'returnedOn',
    ]);
    closeBin(ledger, binId(ledger, 'CU2'));
    expect(refusalOf(() => returnLoad(ledger, only(id).id, TODAY, ''))).toEqual(['bin_closed', '']);
    reopenBin(ledger, binId(ledger, 'CU2'));
    returnLoad(ledger, only(id).id, TODAY, '');
    expect(massIn(ledger, 'CU2')).toBe(lb('61.4'));
  });

  test('a return is taken back, and may be made again', () => {
    const load = only(id).id;
    returnManifest(ledger, id, day('2025-03-11'), '');
    undoLoadReturn(ledger, load);
    expect([massIn(ledger, 'CU2'), findManifest(ledger.db, id)?.status, only(id).load_return_id]).toEqual([
      0,
      'loaded',
      null,
    ]);
    expect(refusalOf(() => undoLoadReturn(ledger, load))[0]).toBe('already_undone');
    returnLoad(ledger, load, TODAY, '');
    expect([massIn(ledger, 'CU2'), only(id).returned_on]).toEqual([lb('61.4'), TODAY]);
  });

  test('a return whose material went elsewhere since asks first, and confirmed leaves the bin at zero', () => {
    const load = only(id).id;
    returnLoad(ledger, load, day('2025-03-11'), '');
    const second = draft('CU2');
    loadManifest(ledger, second, day('2025-03-12'), false);
    expect(refusalOf(() => undoLoadReturn(ledger, load))).toEqual(['bin_below_zero', 'bookShortfall']);
    undoLoadReturn(ledger, load, true);
    expect([massIn(ledger, 'CU2'), counted()]).toEqual([0, -lb('61.4')]);
    expect(pluck("select sum(mass_ug) from balance join account on account.id = account_id where kind = 'load'")).toBe(
      lb('61.4') * 2 + lb('48.25'),
    );
  });
});

describe('a manifest from a file', () => {
  const load = { label: 'A', netTyped: '61.4', unit: 'lb', massUg: lb('61.4'), price: '3.60', per: 'lb' } as const;

  test('keeps its own price and books what the bin did not hold', () => {
    quote('No. 2 copper', '9', '2025-03-01');
    const loads = [{ ...load, binId: binId(ledger, 'CU2') }];
    const id = recordLoadedManifest(ledger, { yardId, number: 'N-1', loadedOn: day('2025-03-08'), loads });
    expect(only(id)).toMatchObject({ price: '3.60', seen_on: '2025-03-08', expected_minor: 22104 });
    expect([massIn(ledger, 'CU2'), counted()]).toEqual([0, -lb('61.4')]);
  });

  test('with one label twice is refused whole', () => {
    const twice = [load, load].map((each) => ({ ...each, binId: binId(ledger, 'CU2') }));
    const act = () => recordLoadedManifest(ledger, { yardId, number: 'N-1', loadedOn: TODAY, loads: twice });
    expect(refusalOf(act)).toEqual(['name_taken', 'load']);
    expect(pluck('select count(*) from manifest')).toBe(0);
  });
});

describe('the pure parts', () => {
  test('a load-out weight is far from the book beyond fifteen percent', () => {
    const book = massUg(100);
    expect([85, 115, 84, 116].map((mass) => compareWithBook(massUg(mass), book).isFar)).toEqual([
      false,
      false,
      true,
      true,
    ]);
    expect(compareWithBook(massUg(5), massUg(0))).toEqual({ differenceUg: 5, isFar: true });
  });

  test('the reading behind a weight is found again, and not where the text no longer fits it', () => {
    const typed = { gross_typed: '65.0', unit: 'lb', mass_ug: lb('61.4') } as const;
    expect(readingOf(typed, '.')).toEqual({ grossUg: lb('65'), tareUg: lb('3.6') });
    const thousands = { ...typed, gross_typed: '1,204', mass_ug: lb('1200') };
    expect(readingOf(thousands, '.')).toEqual({ grossUg: lb('1204'), tareUg: lb('4') });
    expect(readingOf(thousands, ',')).toBe(null);
    expect(readingOf({ ...typed, gross_typed: '' }, '.')).toBe(null);
  });

  const load = (grade_name: string, mass = '10') => ({
    label: grade_name,
    grade_name,
    family: starterGrades.find((grade) => grade.name === grade_name)?.family ?? 'ferrous',
    massUg: lb(mass),
    items: [],
  });
  const titles = (name: string, mass?: string) =>
    cautionsFor(cautions, [load(name, mass)]).map(({ caution }) => caution.title);

  test('cautions follow the grades on the load', () => {
    const refrigerant = 'Units that held refrigerant';
    expect(['Sealed units', 'Whole appliances', 'Aluminium and copper radiators'].map((name) => titles(name))).toEqual([
      [refrigerant],
      [refrigerant],
      [refrigerant],
    ]);
    expect(titles('Lead-acid batteries, wet')).toEqual(['Lead-acid batteries']);
    expect(titles('Insulated wire, low recovery')).toEqual(['No burning of insulation']);
    expect(titles('Lighting ballasts')).toEqual(['Ballasts and old capacitors']);
    expect([titles('Soft lead'), titles('Computers, whole')]).toEqual([['Lead'], ['Lithium cells and packs']]);
    for (const name of [
      'Yellow brass',
      'Shreddable steel',
      'Copper and brass radiators',
      'Electric motors',
      'Drinks cans',
    ]) {
      expect(titles(name)).toEqual([]);
    }
  });

  test('more than 51 lb asks for two people (NIOSH 94-110, load constant 23 kg)', () => {
    expect(titles('Yellow brass', '50.7')).toEqual([]);
    expect(titles('Yellow brass', '51')).toEqual(['Heavy loads']);
  });

  test('every caution names its basis and none says that something is allowed or safe', () => {
    for (const { onSheet: text, basis } of cautions) {
      expect(basis).not.toBe('');
      expect(text).not.toMatch(/\b(legal|illegal|allowed|safe)\b/i);
    }
  });
});

describe('a loading that was a mistake', () => {
  test('a load that the bin could only hold by later weighings is asked about, and changes nothing meanwhile', () => {
    weighIn(ledger, 'CU2', '20', '2025-03-12');
    const id = draft('CU2');
    weigh(id, '20.3');
    const load = (on: string, book: boolean) => () => loadManifest(ledger, id, day(on), book);
    expect(refusalOf(load('2025-03-10', false))).toEqual(['day_before_weighings', 'loadedOn']);
    expect([massIn(ledger, 'CU2'), findManifest(ledger.db, id)?.status]).toEqual([lb('20'), 'draft']);
    load('2025-03-12', false)();
    expect(massIn(ledger, 'CU2')).toBe(0);
  });

  test('a part of a bin loaded before it was weighed in is asked about too, and confirmed it is booked', () => {
    weighIn(ledger, 'CU2', '5', '2025-03-01');
    weighIn(ledger, 'CU2', '20', '2025-03-12');
    const id = draft('CU2');
    weigh(id, '6', { emptiesBin: false });
    expect(refusalOf(() => loadManifest(ledger, id, day('2025-03-10'), false))[0]).toBe('day_before_weighings');
    loadManifest(ledger, id, day('2025-03-10'), true);
    expect([massIn(ledger, 'CU2'), counted()]).toEqual([lb('20'), -lb('1')]);
  });

  test('is taken back as if it had never been, count differences too, above the book and below it', () => {
    weighIn(ledger, 'CU2', '20', '2025-03-01');
    weighIn(ledger, 'WLO', '30', '2025-03-01');
    const before = listBinsOnHand(ledger.db).map((bin) => bin.mass_ug);
    for (const net of ['21', '18.5']) {
      const id = draft('CU2', 'WLO');
      weigh(id, net);
      loadManifest(ledger, id, day('2025-03-10'), false);
      expect(counted()).not.toBe(0);
      undoLoading(ledger, id);
      expect(listBinsOnHand(ledger.db).map((bin) => bin.mass_ug)).toEqual(before);
      expect([counted(), findManifest(ledger.db, id)?.status]).toEqual([0, 'returned']);
      expect(refusalOf(() => undoLoading(ledger, id))[0]).toBe('manifest_not_loaded');
    }
  });

  test('is not taken back once a load of it came back', () => {
    weighIn(ledger, 'CU2', '20', '2025-03-01');
    weighIn(ledger, 'WLO', '30', '2025-03-01');
    const id = draft('CU2', 'WLO');
    loadManifest(ledger, id, day('2025-03-10'), false);
    returnLoad(ledger, only(id).id, TODAY, '');
    expect(refusalOf(() => undoLoading(ledger, id))[0]).toBe('load_returned');
  });
});

describe('a loading that was taken back', () => {
  test('is not sold after all, and its copy keeps what was weighed', () => {
    weighIn(ledger, 'CU2', '20', '2025-03-01');
    const id = draft('CU2');
    weigh(id, '19.25');
    loadManifest(ledger, id, day('2025-03-10'), false);
    undoLoading(ledger, id);
    expect(refusalOf(() => undoLoadReturn(ledger, only(id).id))[0]).toBe('manifest_not_loaded');
    expect(massIn(ledger, 'CU2')).toBe(lb('20'));
    const copy = copyToDraft(ledger, id);
    expect(only(copy)).toMatchObject({ gross_typed: '19.25', mass_ug: lb('19.25'), weighed: 'load-out' });
    loadManifest(ledger, copy, day('2025-03-11'), false);
    expect(only(copyToDraft(ledger, copy))).toMatchObject({ gross_typed: '', weighed: 'book' });
  });
});
