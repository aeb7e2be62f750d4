import { beforeEach, describe, expect, test } from 'vitest';
import { starterGrades } from '../../seed/grades.ts';
import { checkLedger } from '../../server/check/checks.ts';
import type { Ledger } from '../../server/context.ts';
import { importFile } from '../../server/files/acts.ts';
import { findImportKind } from '../../server/files/imports/kinds.ts';
import { putBack } from '../../server/history/acts.ts';
import { listEvents, type TrailEvent, type TrailFilter } from '../../server/history/queries.ts';
import { undoInWeight } from '../../server/ledger/acts.ts';
import { findBin } from '../../server/ledger/queries.ts';
import { addBinToDraft, draftManifest, removeFromDraft } from '../../server/manifests/acts.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { recordPriceBoard, recordQuote, takeQuoteBack } from '../../server/prices/acts.ts';
import { quoteAsOf } from '../../server/prices/queries.ts';
import { Refusal } from '../../server/refusal.ts';
import {
  beginWithStarterList,
  changeBin,
  changeSettings,
  nameGradesAtYard,
  removeBin,
  removeYardScale,
  saveContainer,
  saveGrade,
  saveScale,
  saveYard,
  saveYardScale,
} from '../../server/setup/acts.ts';
import {
  findContainer,
  findGrade,
  findScale,
  findYard,
  listGrades,
  readSettings,
  yardGradeNames,
  yardScalesOf,
} from '../../server/setup/queries.ts';
import { removeContainer, removeGrade, removeYard } from '../../server/setup/removals.ts';
import { day } from '../../server/units/day.ts';
import {
  binId,
  gradeId,
  lb,
  massIn,
  newBenchScale,
  newBin,
  newLedger,
  setUpWorkedExample,
  TODAY,
  weighIn,
} from '../helper.ts';
import { weighOut } from '../sales.ts';

const ALL: TrailFilter = { who: '', documentKinds: null, document: null, from: null, until: null };

let ledger: Ledger;
let yardId: number;
beforeEach(() => {
  ledger = newLedger();
  yardId = setUpWorkedExample(ledger).yardId;
});

const trail = (): TrailEvent[] => listEvents(ledger.db, ALL, 0, 1000);
const newest = (): TrailEvent => trail()[0] as TrailEvent;
/** What an act wrote: its lines as "act | detail", oldest first. */
function written(act: () => void): string[] {
  const before = trail().length;
  act();
  return trail()
    .slice(0, trail().length - before)
    .reverse()
    .map((event) => `${event.act} | ${event.detail}`);
}
const refusalOf = (act: () => void): string => {
  try {
    act();
  } catch (error) {
    if (error instanceof Refusal) return error.code;
    throw error;
  }
  return 'none';
};
const holds = () => expect(checkLedger(ledger).filter(({ found }) => found.length > 0)).toEqual([]);
const scaleForm = {
  name: 'Bench scale',
  unit: 'lb',
  division: '0.05',
  class: '',
  tolerance: '0.1',
  capacity: '',
} as const;

describe('every act of the set-up writes one line with what was before and after', () => {
  test('a scale that is added, and changed', () => {
    let id = 0;
    expect(
      written(() => {
        id = newBenchScale(ledger);
      }),
    ).toEqual(['added a scale | Bench scale']);
    expect(written(() => saveScale(ledger, id, { ...scaleForm, division: '0.1', class: 'III' }))).toEqual([
      'changed a scale | Bench scale: division 0.05 → 0.1, class none → III',
    ]);
    expect(written(() => saveScale(ledger, id, { ...scaleForm, division: '0.1', class: 'III' }))).toEqual([]);
  });

  test('grade, container, yard, bin, names at a yard and settings are told in words', () => {
    const copper = gradeId(ledger, 'No. 2 copper');
    const grade = findGrade(ledger.db, copper);
    const yard = findYard(ledger.db, yardId);
    if (grade === undefined || yard === undefined) throw new Error('no such row');
    const { id: _, ...gradeRow } = grade;
    const lines = written(() => {
      const bucket = saveContainer(ledger, null, { name: 'bucket', tare_typed: '2.2', tare_ug: lb('2.2') });
      saveContainer(ledger, bucket, { name: 'bucket', tare_typed: '2.4', tare_ug: lb('2.4') });
      saveGrade(ledger, copper, { ...gradeRow, falls_back_to_id: null });
      saveYard(ledger, yardId, { ...yard, cash_step_minor: 1 as never });
      changeBin(ledger, binId(ledger, 'CU2'), { place: 'shelf', container_id: bucket });
      nameGradesAtYard(ledger, yardId, new Map([[copper, 'Cu two']]));
      changeSettings(ledger, { ...ledger.settings, staleQuoteDays: 21 });
    });
    expect(lines).toEqual([
      'added a container | bucket',
      'changed a container | bucket: tare 2.2 → 2.4',
      'changed a grade | No. 2 copper: falls back to Light copper → none',
      'changed a yard | Demo Yard North: cash rounded to $0.05 → $0.01',
      'changed a bin | CU2: place none → shelf, container none → bucket',
      'named grades at a yard | No. 2 copper: none → Cu two',
      'changed the settings | days until a quote is stale 14 → 21',
    ]);
  });

  test('a draft’s bins and weights, each as it changes and not when it does not', () => {
    weighIn(ledger, 'CU2', '30');
    let id = 0;
    const lines = written(() => {
      id = draftManifest(ledger, { yardId, binIds: [binId(ledger, 'CU2')], note: '' });
      weighOut(ledger, id, { gross: '29.5', scaleId: null });
      weighOut(ledger, id, { gross: '29.5', scaleId: null });
      addBinToDraft(ledger, id, binId(ledger, 'YB1'));
      removeFromDraft(ledger, id, loadsOf(ledger.db, id)[0]?.id ?? 0);
    });
    expect(lines).toEqual([
      'drafted a manifest | ',
      'weighed a load of a draft | CU2: by the book → 29.50 lb',
      'put a bin on a draft | B: YB1',
      'took a bin off a draft | A: CU2, 29.50 lb',
    ]);
  });

  test('a price by itself, and a whole board in one line', () => {
    const quote = { yardId, gradeId: gradeId(ledger, 'Yellow brass'), price: '2.5', per: 'lb', seenWhere: '' } as const;
    const lines = written(() => {
      recordQuote(ledger, { ...quote, seenOn: TODAY });
      recordPriceBoard(ledger, [
        { ...quote, seenOn: TODAY },
        { ...quote, gradeId: gradeId(ledger, 'No. 2 copper'), seenOn: TODAY },
      ]);
    });
    expect(lines).toEqual([
      'wrote down a price | Yellow brass at Demo Yard North, $2.50 per lb, seen 20 Mar 2025',
      'wrote down a price board | 2 prices of Demo Yard North, seen 20 Mar 2025',
    ]);
  });
});

describe('a change of the set-up is put back as it was', () => {
  test('by its line, and that once more', () => {
    const id = newBenchScale(ledger);
    saveScale(ledger, id, { ...scaleForm, division: '0.1' });
    putBack(ledger, newest().id);
    expect(findScale(ledger.db, id)?.division).toBe('0.05');
    expect(newest().detail).toBe('Bench scale: division 0.1 → 0.05');
    putBack(ledger, newest().id);
    expect(findScale(ledger.db, id)?.division).toBe('0.1');
  });

  test('not when the same field was changed again since; another field does not matter', () => {
    const id = newBenchScale(ledger);
    saveScale(ledger, id, { ...scaleForm, division: '0.1' });
    const line = newest().id;
    saveScale(ledger, id, { ...scaleForm, division: '0.1', class: 'III' });
    putBack(ledger, line);
    expect(findScale(ledger.db, id)).toMatchObject({ division: '0.05', class: 'III' });
    saveScale(ledger, id, { ...scaleForm, division: '0.2', class: 'III' });
    expect(refusalOf(() => putBack(ledger, line))).toBe('changed_since');
    expect(findScale(ledger.db, id)?.division).toBe('0.2');
  });

  test('names at a yard, its further scales, a bin and the settings too', () => {
    const copper = gradeId(ledger, 'No. 2 copper');
    nameGradesAtYard(ledger, yardId, new Map([[copper, 'Cu two']]));
    putBack(ledger, newest().id);
    expect(yardGradeNames(ledger.db, yardId)).toEqual(new Map());
    putBack(ledger, newest().id);
    expect(yardGradeNames(ledger.db, yardId)).toEqual(new Map([[copper, 'Cu two']]));

    const truck = { name: 'truck scale', division: '20', class: 'III L', families: ['ferrous' as const] };
    saveYardScale(ledger, yardId, null, truck);
    const [scale] = yardScalesOf(ledger.db, yardId);
    if (scale === undefined) throw new Error('no further scale');
    saveYardScale(ledger, yardId, scale.id, { ...truck, families: [] });
    putBack(ledger, newest().id);
    expect(yardScalesOf(ledger.db, yardId)[0]?.families).toEqual(['ferrous']);
    removeYardScale(ledger, scale);
    putBack(ledger, newest().id);
    expect(yardScalesOf(ledger.db, yardId)[0]).toMatchObject(truck);

    changeBin(ledger, binId(ledger, 'CU2'), { code: 'CU9' });
    putBack(ledger, newest().id);
    expect(binId(ledger, 'CU2')).toBeGreaterThan(0);

    changeSettings(ledger, { ...ledger.settings, unit: 'kg' });
    putBack({ ...ledger, settings: readSettings(ledger.db) }, newest().id);
    expect(readSettings(ledger.db).unit).toBe('lb');
    holds();
  });

  test('what was added is removed while nothing uses it, and what was removed is added again', () => {
    const id = newBin(ledger, 'NEW', 'Yellow brass');
    const added = newest().id;
    weighIn(ledger, 'NEW', '5');
    expect(refusalOf(() => putBack(ledger, added))).toBe('in_use');
    const spare = newBin(ledger, 'SPARE', 'Yellow brass');
    putBack(ledger, newest().id);
    expect(findBin(ledger.db, spare)).toBeUndefined();
    putBack(ledger, newest().id);
    expect(binId(ledger, 'SPARE')).toBeGreaterThan(0);
    removeBin(ledger, binId(ledger, 'SPARE'));
    expect(newest()).toMatchObject({ act: 'removed a bin', detail: 'SPARE' });
    expect(findBin(ledger.db, id)?.code).toBe('NEW');
    holds();
  });

  test('a row that got the id of a removed one is not taken for it', () => {
    const first = saveContainer(ledger, null, { name: 'tub', tare_typed: '1', tare_ug: lb('1') });
    const line = newest().id;
    removeContainer(ledger, first);
    expect(saveContainer(ledger, null, { name: 'crate', tare_typed: '2', tare_ug: lb('2') })).toBe(first);
    expect(refusalOf(() => putBack(ledger, line))).toBe('changed_since');
    expect(findContainer(ledger.db, first)?.name).toBe('crate');
  });

  test('nor by a file that was taken back before, when another one brought in rows with the same ids', () => {
    const file = (name: string) => Buffer.from(`name,family,quoted_per\n${name},precious,lb\n`);
    const kind = findImportKind('grades');
    if (kind === undefined) throw new Error('no kind');
    const { trailId } = importFile(ledger, kind, file('Tin'), false);
    putBack(ledger, trailId);
    importFile(ledger, kind, file('Silver'), false);
    expect(refusalOf(() => putBack(ledger, trailId))).toBe('already_undone');
    expect(gradeId(ledger, 'Silver')).toBeGreaterThan(0);
  });

  test('what belongs to a row that is gone is refused with a sentence', () => {
    const tub = saveContainer(ledger, null, { name: 'tub', tare_typed: '1', tare_ug: lb('1') });
    changeBin(ledger, binId(ledger, 'CU2'), { container_id: tub });
    changeBin(ledger, binId(ledger, 'CU2'), { container_id: null });
    const line = newest().id;
    removeContainer(ledger, tub);
    expect(refusalOf(() => putBack(ledger, line))).toBe('changed_since');
  });

  test('a line that has nothing to put back says so', () => {
    weighIn(ledger, 'CU2', '5');
    expect(refusalOf(() => putBack(ledger, newest().id))).toBe('not_taken_back');
    expect(refusalOf(() => putBack(ledger, 424242))).toBe('not_found');
  });
});

test.each([
  ['a grade', () => removeGrade(ledger, gradeId(ledger, 'Yellow brass'))],
  ['a yard', () => removeYard(ledger, yardId)],
  ['a container', () => removeContainer(ledger, 1)],
])('%s that is in use stays', (_what, remove) => {
  const bucket = saveContainer(ledger, null, { name: 'bucket', tare_typed: '2', tare_ug: lb('2') });
  changeBin(ledger, binId(ledger, 'CU2'), { container_id: bucket });
  recordQuote(ledger, { yardId, gradeId: 1, price: '3', per: 'lb', seenOn: TODAY, seenWhere: '' });
  expect(refusalOf(remove)).toBe('in_use');
  holds();
});

describe('what came in together is taken back together', () => {
  const bringIn = (kind: string, text: string) => {
    const found = findImportKind(kind);
    if (found === undefined) throw new Error(`no kind ${kind}`);
    return importFile(ledger, found, Buffer.from(text), false);
  };
  const weighings = 'occurred_on,bin,gross,unit\n2025-03-01,CU2,10,lb\n2025-03-02,CU2,12,lb\n';

  test('a file writes one line that says how many, and is taken back whole', () => {
    const lines = written(() => bringIn('in-weights', weighings));
    expect(lines).toEqual(['imported in-weights from a file | 2 in-weights']);
    expect(massIn(ledger, 'CU2')).toBe(lb('22'));
    putBack(ledger, newest().id);
    expect(massIn(ledger, 'CU2')).toBe(0);
    expect(newest()).toMatchObject({ act: 'took a whole file back', detail: '2 in-weights' });
    holds();
  });

  test('a file that was taken back may be imported again, and only then', () => {
    const { trailId } = bringIn('in-weights', weighings);
    expect(bringIn('in-weights', weighings).problems).toHaveLength(1);
    putBack(ledger, trailId);
    expect(bringIn('in-weights', weighings).problems).toEqual([]);
    expect(massIn(ledger, 'CU2')).toBe(lb('22'));
  });

  test('not when one of its documents was touched, and then nothing of it', () => {
    const { trailId } = bringIn('in-weights', weighings);
    undoInWeight(ledger, 1, false);
    expect(refusalOf(() => putBack(ledger, trailId))).toBe('already_undone');
    expect(massIn(ledger, 'CU2')).toBe(lb('12'));
  });

  test.each([
    ['grades', 'name,family,quoted_per\nTin,precious,lb\nLead,lead and zinc,lb\n', 'grade'],
    ['bins', 'code,grade,place\nB1,Yellow brass,\nB2,Yellow brass,\n', 'bin'],
    ['yards', 'name,unit,cash_step,scale_division,scale_class\nDemo Yard West,lb,0.05,0.5,III\n', 'yard'],
    ['scales', 'name,division,unit,class,tolerance\nfloor,0.5,lb,III,\n', 'scale'],
  ])('%s', (kind, text, table) => {
    const count = () => ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get();
    const before = count();
    const { trailId, problems } = bringIn(kind, text);
    expect(problems).toEqual([]);
    putBack(ledger, trailId);
    expect(count()).toBe(before);
    holds();
  });

  test('loads, then tickets: the tickets first, and all of it can come in again', () => {
    const loads =
      'yard,manifest,loaded_on,load,bin,net,unit,quoted_price,quoted_per\nDemo Yard North,F1,2025-03-05,A,CU2,20,lb,3.60,lb\n';
    const lines =
      'yard,ticket,manifest,sold_on,line,loads,paid_as,gross,tare,deduction,net,unit,price,per,amount\n' +
      'Demo Yard North,900,F1,2025-03-05,1,A,No. 2 copper,20,0,0,20,lb,3.60,lb,72.00\n';
    const totals = 'yard,ticket,charges,tax,cash_rounding,total,paid_by\nDemo Yard North,900,0,0,0,72.00,cash\n';
    const loaded = bringIn('loads', loads);
    const sold = bringIn('ticket-lines', lines);
    expect(bringIn('ticket-totals', totals).problems).toEqual([]);
    expect(refusalOf(() => putBack(ledger, loaded.trailId))).toBe('manifest_not_loaded');
    putBack(ledger, sold.trailId);
    putBack(ledger, loaded.trailId);
    expect(massIn(ledger, 'CU2')).toBe(0);
    holds();
    expect(bringIn('loads', loads.replace('F1', 'F2')).problems).toEqual([]);
    expect(bringIn('ticket-lines', lines.replace('F1', 'F2')).problems).toEqual([]);
    expect(bringIn('ticket-totals', totals).problems).toEqual([]);
    holds();
  });

  test('the starter list, as long as no grade of it is used', () => {
    ledger = newLedger();
    const seeds = starterGrades.map(({ quotedPer, spoiledBy, ...grade }) => ({
      ...grade,
      quoted_per: quotedPer,
      spoiled_by: spoiledBy,
    }));
    expect(written(() => beginWithStarterList(ledger, seeds))).toEqual([
      `began with the starter list | ${seeds.length} grades`,
    ]);
    const line = newest().id;
    const first = listGrades(ledger.db)[0]?.name ?? '';
    newBin(ledger, 'X1', first);
    expect(refusalOf(() => putBack(ledger, line))).toBe('in_use');
    expect(listGrades(ledger.db).some((grade) => grade.falls_back_to_id !== null)).toBe(true);
    removeBin(ledger, binId(ledger, 'X1'));
    putBack(ledger, line);
    expect(listGrades(ledger.db)).toEqual([]);
    beginWithStarterList(ledger, seeds);
    expect(listGrades(ledger.db)).toHaveLength(seeds.length);
  });

  test('a price board; what was loaded at it keeps its price', () => {
    const quote = { yardId, gradeId: 1, per: 'lb', seenWhere: '', seenOn: day('2025-03-01') } as const;
    recordQuote(ledger, { ...quote, price: '3.40' });
    const line = recordPriceBoard(ledger, [
      { ...quote, price: '36' },
      { ...quote, gradeId: 3, price: '1' },
    ]);
    putBack(ledger, line);
    expect(quoteAsOf(ledger.db, yardId, 1, TODAY)?.price).toBe('3.40');
    expect(refusalOf(() => putBack(ledger, line))).toBe('already_undone');
    putBack(ledger, newest().id);
    expect(quoteAsOf(ledger.db, yardId, 1, TODAY)?.price).toBe('36');
    takeQuoteBack(ledger, 2);
    expect(quoteAsOf(ledger.db, yardId, 1, TODAY)?.price).toBe('3.40');
    holds();
  });
});

test('the trail of a bin has its own lines, its recounts and corrections, and not each weighing into it', () => {
  const id = weighIn(ledger, 'CU2', '30');
  weighIn(ledger, 'YB1', '30');
  undoInWeight(ledger, id, false);
  changeBin(ledger, binId(ledger, 'CU2'), { place: 'shelf' });
  const of = listEvents(ledger.db, { ...ALL, document: { kind: 'bin', id: binId(ledger, 'CU2') } }, 0, 100);
  expect(of.map(({ act }) => act)).toEqual(['changed a bin', 'took back an in-weight', 'added a bin']);
});
