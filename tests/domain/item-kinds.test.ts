import { beforeEach, describe, expect, test } from 'vitest';
import { cautions } from '../../seed/cautions.ts';
import { starterGrades } from '../../seed/grades.ts';
import { starterKinds } from '../../seed/item-kinds.ts';
import { checkLedger } from '../../server/check/checks.ts';
import type { Ledger } from '../../server/context.ts';
import { putBack } from '../../server/history/acts.ts';
import { listEvents } from '../../server/history/queries.ts';
import {
  addMissingStarterKinds,
  addStarterKinds,
  type ItemKindInput,
  removeItemKind,
  saveItemKind,
} from '../../server/items/kind-acts.ts';
import { findItemKind, itemsBehind, listItemKinds } from '../../server/items/kind-queries.ts';
import { undoInWeight } from '../../server/ledger/acts.ts';
import { binAccount, findBinByCode, loadAccount } from '../../server/ledger/queries.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { cautionsOf, readManifest } from '../../server/manifests/pages.ts';
import { findManifest, loadsOf } from '../../server/manifests/queries.ts';
import { amountMinor } from '../../server/money/money.ts';
import { Refusal } from '../../server/refusal.ts';
import { beginWithStarterList, saveGrade } from '../../server/setup/acts.ts';
import { listGrades } from '../../server/setup/queries.ts';
import { removeGrade } from '../../server/setup/removals.ts';
import { day } from '../../server/units/day.ts';
import { binId, gradeId, newBin, newLedger, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';

let ledger: Ledger;
let yardId: number;
beforeEach(() => {
  ledger = newLedger();
  yardId = setUpWorkedExample(ledger).yardId;
});

const washer = (more: Partial<ItemKindInput> = {}): ItemKindInput => ({
  name: 'Washing machine',
  cautions: 'mercury',
  as_is_grade_id: gradeId(ledger, 'Shreddable steel'),
  rule_minutes: '45',
  note: 'concrete at the bottom',
  yields: [{ grade_id: gradeId(ledger, 'No. 2 copper'), percent: '2.5' }],
  ...more,
});

function newItem(kindId: number, name = ''): number {
  return ledger.db.insert('item', {
    item_kind_id: kindId,
    name,
    picked_up_on: day('2025-02-20'),
    got: 'found',
    source: '',
    proof: '',
    cost_minor: amountMinor(0),
    weight_typed: '',
    weight_unit: '',
    weight_ug: null,
    note: '',
    status: 'waiting',
    depth: '',
    closed_on: null,
    disposal_minor: amountMinor(0),
    recorded_at: ledger.clock.now(),
  });
}

function refusalOf(act: () => unknown): string {
  try {
    act();
  } catch (error) {
    if (error instanceof Refusal) return error.code;
    throw error;
  }
  return 'nothing refused';
}

const ALL = { who: '', documentKinds: null, document: null, from: null, until: null };
const newest = () => listEvents(ledger.db, ALL, 0, 1)[0] ?? expect.fail('no line');
const said = () => [newest().act, newest().detail];
const holds = () => expect(checkLedger(ledger).filter(({ found }) => found.length > 0)).toEqual([]);

const ofCopper = { grade_name: 'No. 2 copper', family: 'copper', percent: '2.5' };

describe('a kind of item', () => {
  test('comes back as it was saved, with its rules of thumb and the name of its grade', () => {
    const id = saveItemKind(ledger, null, washer());
    const steel = { as_is_grade_id: gradeId(ledger, 'Shreddable steel'), as_is_grade_name: 'Shreddable steel' };
    const yields = [{ ...ofCopper, grade_id: gradeId(ledger, 'No. 2 copper') }];
    const kind = { id, ...washer(), ...steel, yields };
    expect([findItemKind(ledger.db, id), listItemKinds(ledger.db)]).toEqual([kind, [kind]]);
    holds();
  });

  test('has a name of its own, whatever the case of its letters, and may keep it', () => {
    const id = saveItemKind(ledger, null, washer());
    expect(refusalOf(() => saveItemKind(ledger, null, washer({ name: 'WASHING machine' })))).toBe('name_taken');
    expect(saveItemKind(ledger, id, washer({ name: 'Washing Machine' }))).toBe(id);
    expect(listItemKinds(ledger.db)).toHaveLength(1);
  });

  test('that was changed says so in words, and is put back with its rules of thumb', () => {
    const id = saveItemKind(ledger, null, washer());
    const was = findItemKind(ledger.db, id);
    const brass = { grade_id: gradeId(ledger, 'Yellow brass'), percent: '1' };
    saveItemKind(ledger, id, washer({ rule_minutes: '30', as_is_grade_id: null, yields: [...washer().yields, brass] }));
    expect(said()).toEqual([
      'changed a kind of item',
      'Washing machine: sold as is as Shreddable steel → none, minutes, as a rule of thumb 45 → 30, ' +
        'what it gives, as a rule of thumb No. 2 copper 2.5 % → No. 2 copper 2.5 %, Yellow brass 1 %',
    ]);
    putBack(ledger, newest().id);
    expect(findItemKind(ledger.db, id)).toEqual(was);
    holds();
  });

  test('that was saved without a change writes nothing into the trail', () => {
    const id = saveItemKind(ledger, null, washer());
    const line = newest().id;
    saveItemKind(ledger, id, washer());
    expect(newest().id).toBe(line);
  });

  test('that was added by mistake is removed, and added again by the trail as it was', () => {
    const id = saveItemKind(ledger, null, washer());
    removeItemKind(ledger, id);
    expect([listItemKinds(ledger.db), ...said()]).toEqual([[], 'removed a kind of item', 'Washing machine']);
    putBack(ledger, newest().id);
    expect(listItemKinds(ledger.db)).toMatchObject([{ ...washer(), yields: [ofCopper] }]);
    putBack(ledger, newest().id);
    expect(listItemKinds(ledger.db)).toEqual([]);
    holds();
  });

  test('that an item is of stays, with its rules of thumb', () => {
    const id = saveItemKind(ledger, null, washer());
    newItem(id);
    expect(refusalOf(() => removeItemKind(ledger, id))).toBe('in_use');
    expect(findItemKind(ledger.db, id)?.yields).toHaveLength(1);
  });

  test('keeps its grades: neither the one it is sold as nor one it gives can be removed', () => {
    const only = (more: Partial<ItemKindInput>) => washer({ as_is_grade_id: null, yields: [], ...more });
    const light = saveGrade(ledger, null, {
      name: 'Light iron',
      family: 'ferrous',
      quoted_per: 'lb',
      code: '',
      falls_back_to_id: null,
      recognise: '',
      spoiled_by: '',
    });
    const id = saveItemKind(ledger, null, only({ as_is_grade_id: light }));
    expect(refusalOf(() => removeGrade(ledger, light))).toBe('in_use');
    saveItemKind(ledger, id, only({ yields: [{ grade_id: light, percent: '1' }] }));
    expect(refusalOf(() => removeGrade(ledger, light))).toBe('in_use');
    saveItemKind(ledger, id, only({}));
    removeGrade(ledger, light);
    // What the trail would put back names a grade that is gone: said, and nothing changed.
    const line = listEvents(ledger.db, ALL, 0, 2)[1]?.id ?? 0;
    expect(refusalOf(() => putBack(ledger, line))).toBe('changed_since');
    expect(findItemKind(ledger.db, id)?.yields).toEqual([]);
    holds();
  });
});

describe('the starter kinds', () => {
  const seeds = starterGrades.map(({ quotedPer, spoiledBy, ...grade }) => ({
    ...grade,
    quoted_per: quotedPer,
    spoiled_by: spoiledBy,
  }));
  const begin = () =>
    beginWithStarterList(ledger, seeds, (part) => `${addStarterKinds(part, starterKinds)} kinds of items`);

  test('come with the starter list, every grade and caution of them found, and go with it', () => {
    ledger = newLedger();
    begin();
    expect(newest().detail).toBe(`${seeds.length} grades, ${starterKinds.length} kinds of items`);
    const stored = listItemKinds(ledger.db);
    expect(
      stored
        .map(({ name, as_is_grade_name: asIs, cautions: keys, yields }) => [
          name,
          asIs,
          keys,
          yields.map(({ grade_name, percent }) => [grade_name, percent]),
        ])
        .toSorted(),
    ).toEqual(
      starterKinds.map(({ name, asIs, cautions: keys, yields }) => [name, asIs, keys.join(','), yields]).toSorted(),
    );
    holds();
    putBack(ledger, newest().id);
    expect([listItemKinds(ledger.db), listGrades(ledger.db)]).toEqual([[], []]);
    begin();
    expect(listItemKinds(ledger.db)).toHaveLength(starterKinds.length);
  });

  test('stay with the whole list once an item is of one of them', () => {
    ledger = newLedger();
    begin();
    newItem(listItemKinds(ledger.db)[3]?.id ?? 0);
    expect(refusalOf(() => putBack(ledger, newest().id))).toBe('in_use');
    expect(listGrades(ledger.db)).toHaveLength(seeds.length);
    expect(listItemKinds(ledger.db)).toHaveLength(starterKinds.length);
  });

  test('can be added later: what is there stays, grades that are not there are left out, and all go back at once', () => {
    const id = saveItemKind(ledger, null, washer());
    addMissingStarterKinds(ledger, starterKinds);
    expect(said()).toEqual(['added the starter kinds', `${starterKinds.length - 1} kinds of items`]);
    expect(findItemKind(ledger.db, id)?.note).toBe('concrete at the bottom');
    const cords = listItemKinds(ledger.db).find(({ name }) => name === 'Extension and appliance cords');
    expect(cords).toMatchObject({ as_is_grade_name: 'Insulated wire, low recovery', yields: [] });
    expect(refusalOf(() => addMissingStarterKinds(ledger, starterKinds))).toBe('name_taken');
    putBack(ledger, newest().id);
    expect(said()).toEqual(['took the starter kinds back', `${starterKinds.length - 1} kinds of items`]);
    expect(listItemKinds(ledger.db).map((kind) => kind.id)).toEqual([id]);
    holds();
  });
});

describe('what material came out of reaches the sheet', () => {
  const fridge = () =>
    saveItemKind(ledger, null, washer({ name: 'Fridge', cautions: 'refrigerant,mercury', yields: [] }));
  const draft = () => draftManifest(ledger, { yardId, binIds: [binId(ledger, 'CU2')], note: '' });
  const onSheet = (id: number) => {
    const manifest = findManifest(ledger.db, id) ?? expect.fail('no manifest');
    return cautionsOf(ledger.db, readManifest(ledger, manifest)).map(({ caution, labels, outOf }) => [
      caution.key,
      labels.join(),
      outOf.join(),
    ]);
  };

  test('on a draft by what came into the bin since it was last empty; only what matters at the yard', () => {
    const itemId = newItem(fridge());
    weighIn(ledger, 'CU2', '3', '2025-03-01', { itemId });
    weighIn(ledger, 'CU2', '3', '2025-03-02');
    expect(onSheet(draft())).toEqual([['refrigerant', 'A', 'Fridge']]);
  });

  test('by the item’s own name too; not by what was taken back', () => {
    const other = saveItemKind(ledger, null, washer({ name: 'Other', cautions: '', yields: [] }));
    const taken = weighIn(ledger, 'CU2', '3', '2025-03-01', { itemId: newItem(other, 'laptop with its battery') });
    expect(onSheet(draft())).toEqual([['lithium', 'A', 'Other']]);
    undoInWeight(ledger, taken, false);
    weighIn(ledger, 'CU2', '3', '2025-03-01');
    expect(itemsBehind(ledger.db, binAccount(ledger.db, binId(ledger, 'CU2')), day('2025-01-01'))).toEqual([]);
  });

  test('once loaded by what the load took along', () => {
    const itemId = newItem(fridge(), 'white one');
    weighIn(ledger, 'CU2', '3', '2025-03-01', { itemId });
    const id = draft();
    loadManifest(ledger, id, TODAY, false);
    const load = loadsOf(ledger.db, id)[0]?.id ?? 0;
    const account = loadAccount(ledger.db, load);
    // As server/layers writes it.
    const { sqlite } = ledger.db;
    sqlite.exec(`insert or ignore into layer_part (transfer_id, account_id, item_id, grade_id, mass_ug)
      select id, from_account_id, ${itemId}, grade_id, -mass_ug from transfer where to_account_id = ${account}`);
    expect(itemsBehind(ledger.db, account, '')).toEqual([
      { name: 'white one', kind_name: 'Fridge', cautions: 'refrigerant,mercury' },
    ]);
    expect(onSheet(id)).toEqual([['refrigerant', 'A', 'Fridge']]);
  });

  test('nothing where no item is named', () => {
    weighIn(ledger, 'CU2', '3', '2025-03-01');
    expect(onSheet(draft())).toEqual([]);
    newBin(ledger, 'NEW', 'Light copper');
    expect(findBinByCode(ledger.db, 'NEW')?.since_on).toBeNull();
    expect(onSheet(draftManifest(ledger, { yardId, binIds: [binId(ledger, 'NEW')], note: '' }))).toEqual([]);
  });

  test('of every caution that goes on to the yard the sheet has a text', () => {
    expect(cautions.filter(({ followsItem, onSheet: text }) => followsItem && text === '')).toEqual([]);
  });
});
