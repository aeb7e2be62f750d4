import { existsSync, readFileSync } from 'node:fs';
import { beforeEach, describe, expect, test } from 'vitest';
import { keepFiles } from '../../server/attachments/acts.ts';
import { checkLedger, checks } from '../../server/check/checks.ts';
import { triggersOf } from '../../server/check/queries.ts';
import type { Ledger } from '../../server/context.ts';
import { importFile } from '../../server/files/acts.ts';
import { importKinds } from '../../server/files/imports/kinds.ts';
import { recordBinTransfer, recordRecount, undoInWeight } from '../../server/ledger/acts.ts';
import { day } from '../../server/units/day.ts';
import { binId, lb, newItem, newLedger, weighIn } from '../helper.ts';

const folder = new URL('../published/worked/', import.meta.url);

/** The worked example with a recount, a move to another grade and an in-weight that was taken back. */
function soldLedger(): Ledger {
  const ledger = newLedger();
  for (const kind of importKinds) {
    const file = new URL(`${kind.name}.csv`, folder);
    if (existsSync(file)) importFile(ledger, kind, readFileSync(file), false);
  }
  const on = { unit: 'lb', occurredOn: day('2025-03-10'), note: '' } as const;
  undoInWeight(ledger, weighIn(ledger, 'CU2', '5'), false);
  weighIn(ledger, 'YB1', '9');
  recordRecount(ledger, { ...on, binId: binId(ledger, 'YB1'), netTyped: '8.5', netUg: lb('8.5') });
  const [fromBinId, toBinId] = [binId(ledger, 'YB1'), binId(ledger, 'CU2')];
  recordBinTransfer(ledger, { ...on, fromBinId, toBinId, netTyped: '2', netUg: lb('2'), bookShortfall: false });
  keepPaper(ledger);
  weighIn(ledger, 'YB1', '3', '2025-03-12', { itemId: newItem(ledger, 'tap') });
  return ledger;
}

/** Keeps a PDF with a bin. */
function keepPaper(ledger: Ledger): void {
  const bytes = Buffer.from('%PDF-1.4 %%EOF');
  const size = { width: null, height: null, preview: null };
  const file = { content: 'pdf', name: 'proof.pdf', sha256: 'a'.repeat(64), whole: () => bytes, ...size } as const;
  keepFiles(ledger, { kind: 'bin', ids: [binId(ledger, 'CU2')] }, [file], '');
}

let ledger: Ledger;
beforeEach(() => {
  ledger = soldLedger();
});

const broken = () =>
  checkLedger(ledger)
    .filter(({ found }) => found.length > 0)
    .map(({ name }) => name);

/** Takes the ledger's guards away, as only someone with a database tool could, and changes something behind its back. */
function tamper(sql: string): void {
  for (const name of triggersOf(ledger.db).keys()) ledger.db.sqlite.exec(`drop trigger ${name}`);
  ledger.db.sqlite.pragma('foreign_keys = off');
  ledger.db.sqlite.pragma('ignore_check_constraints = on');
  ledger.db.sqlite.exec(sql);
  ledger.db.sqlite.pragma('ignore_check_constraints = off');
}

/** One way to break each invariant. */
const WAYS: Record<string, string> = {
  'the file is whole': 'update in_weight set net_ug = net_ug + 1 where id = 1',
  'nothing names a row that is not there': 'delete from grade where id = 2',
  'the rules that keep documents from changing are in place': '',
  'every row is as Tarebook wrote it down, and none is missing': "update in_weight set note = 'x' where id = 1",
  "every grade's mass over all accounts is zero": 'update balance set mass_ug = mass_ug + 1 where account_id = 1',
  'every balance is the sum of its transfers': 'delete from balance where account_id = 1',
  'what is held is there since a day on which some of it moved': "update balance set since_on = '2025-!3-01'",
  'no bin, load or sold account is below zero':
    "update balance set mass_ug = -1 where account_id = (select id from account where kind = 'sold')",
  'every reversal is the mirror of what it takes back':
    'update transfer set mass_ug = mass_ug - 1 where reverses_id is not null',
  'every document moved the mass that it says':
    "update transfer set mass_ug = mass_ug + 1 where document_kind = 'recount'",
  'every item gave what was weighed in from it': "update item set status = 'discarded', closed_on = picked_up_on",
  'every load is out, sold or back, and wholly so':
    "update balance set mass_ug = 5 where account_id = (select min(id) from account where kind = 'load')",
  'scale difference, deduction and sold add up to what was loaded':
    "update transfer set mass_ug = mass_ug - 1 where reason = 'deducted'",
  'the loads of loaded manifests are as they were frozen':
    'update manifest_line set expected_minor = expected_minor + 1 where id = 1',
  'every stored reconciliation is what its ticket and manifest give':
    'update reconciliation_group set scale_minor = scale_minor + 1, price_minor = price_minor - 1 where group_no = 1',
  'the layers of every bin are what its transfers give': 'update layer_queue set settled_id = settled_id - 1',
  'every item has its share of what tickets paid':
    'insert into item_share select ticket_id, group_no, grade_id, 1, 5, 5 from reconciliation_share limit 1',
  'expected, effects, charges, tax and rounding add up to every total':
    'update reconciliation_group set expected_minor = expected_minor + 1, paid_minor = paid_minor + 1 where group_no = 2',
  'the shares by grade add up to their groups': 'update reconciliation_share set paid_ug = paid_ug + 1',
  'the monthly sums are the sums of the shares': 'update sale_month set charges_minor = charges_minor + 1',
  'every photo and paper belongs to a document': "update attachment set document_kind = 'run'",
  'every photo and paper has the bytes that it says': "update attachment_bytes set bytes = x'25504446'",
  'nothing is taken back twice at once': "insert into quote_take_back (quote_id, recorded_at) values (1, ''), (1, '')",
  'the search has the words of every document': "update in_weight set note = 'something else' where id = 1",
  'the devices of the trail are those that stand in it': "update trail_device set who = 'Phome'",
  'every request key is there once': `alter table request rename to old;
    create table request (key text, fingerprint text, location text, recorded_at text);
    insert into request select * from old union all select * from old`,
};

test('a ledger that was only used through Tarebook breaks nothing', () => {
  expect(broken()).toEqual([]);
});

describe('each check names what breaks it', () => {
  test('there is a way to break every one of them', () => {
    expect(checks.map(({ name }) => name)).toEqual(Object.keys(WAYS));
  });

  test.each(Object.entries(WAYS))('%s', (name, sql) => {
    tamper(sql);
    expect(broken()).toContain(name);
  });

  test('a bin that gave more than ever came in is named, and the check goes on', () => {
    tamper("update transfer set mass_ug = mass_ug * 1000 where document_kind = 'manifest_line'");
    expect(broken()).toEqual(
      expect.arrayContaining([
        'every balance is the sum of its transfers',
        'the layers of every bin are what its transfers give',
      ]),
    );
  });

  test('a table that is not as a new ledger has it is named', () => {
    ledger.db.sqlite.exec('alter table ticket_line add column more text');
    const [found] = checkLedger(ledger).filter(({ name }) => name.startsWith('the rules'));
    expect(found?.found).toEqual(['ticket_line']);
  });

  test.each([
    ['move', "update transfer set mass_ug = mass_ug + 1 where document_kind = 'bin_transfer'"],
    ['in-weight', "update transfer set mass_ug = mass_ug + 1 where document_kind = 'in_weight'"],
    ['load', "update transfer set mass_ug = mass_ug + 1 where document_kind = 'manifest_line'"],
    ['recount', "update transfer set mass_ug = mass_ug + 1 where document_kind = 'recount'"],
    [
      'item',
      "update account set item_id = 2 where item_id = 1; insert into item select 2, item_kind_id, '', picked_up_on, got, '', '', 0, '', '', null, '', status, '', null, 0, recorded_at, null from item",
    ],
  ])('a %s whose transfer is another mass is named', (what, sql) => {
    tamper(sql);
    const found = checkLedger(ledger).flatMap((check) => check.found);
    expect(found.some((sentence) => sentence.startsWith(`${what} `) && sentence.endsWith('µg'))).toBe(true);
  });

  test.each(['layer_stop set drawn_id = drawn_id + 1', 'layer_stop set rest = 7', "layer_queue set rest = '[[7'"])(
    'layers that are not what the transfers give are named: %s',
    (change) => {
      tamper(`update ${change}`);
      expect(broken()).toContain('the layers of every bin are what its transfers give');
    },
  );

  test.each([
    ['a preview that a PDF has', 'insert into attachment_preview select * from attachment_bytes'],
    ['bytes that are gone', 'delete from attachment_bytes'],
    ['a hash that is none', "update attachment set sha256 = 'x' || substr(sha256, 2)"],
    ['bytes that are no PDF', 'update attachment_bytes set bytes = zeroblob(length(bytes))'],
  ])('a paper is not as it says: %s', (_, sql) => {
    tamper(sql);
    expect(broken()).toContain('every photo and paper has the bytes that it says');
  });

  test.each([
    'sold',
    'home_squares',
    'home_by_money',
    'money_squares',
    'weighed_squares',
    'weighed_by_paid',
    'paid_squares',
  ])('a sum for intervals that was changed is found: %s', (name) => {
    tamper(
      `update sale_month set ${name} = ${name} + ${name} / 1000 + 1 where ${name} = (select max(${name}) from sale_month)`,
    );
    expect(broken()).toContain('the monthly sums are the sums of the shares');
  });

  test('a sum for intervals may differ in the digits that the order of adding leaves', () => {
    tamper(`update sale_month set home_squares = home_squares * 1.00000001, home_by_money = home_by_money * 0.99999999,
      money_squares = money_squares * 1.00000001, paid_squares = paid_squares * 0.99999999`);
    expect(broken()).not.toContain('the monthly sums are the sums of the shares');
  });

  test('a slip of a hundred tonnes and a million that was put right breaks nothing', () => {
    const { sqlite } = ledger.db;
    sqlite.pragma('foreign_keys = off');
    sqlite.exec(`insert into reconciliation_share
      select ticket_id, 99, grade_id, yard_id, sold_on, 99999999999999, 99999999999999, 99999999999998, 99999999999999,
          99999999999999, quoted_micro, 99999999, 333 from reconciliation_share where group_no < 99;
      delete from reconciliation_share where group_no = 99`);
    expect(broken()).toEqual([]);
  });

  test.each([
    ['of a month', 'the monthly sums are the sums of the shares', 'update sale_month set quoted_ug = quoted_ug + 1'],
    [
      'of a share and its month alike',
      'every stored reconciliation is what its ticket and manifest give',
      'update reconciliation_share set quoted_micro = 1; update sale_month set quoted_micro = 1',
    ],
  ])('a quoted value %s that was changed is found', (_, name, sql) => {
    tamper(sql);
    expect(broken()).toContain(name);
  });

  test('a balance says which bin it is and by how much it is off', () => {
    tamper('update balance set mass_ug = mass_ug + 3 where account_id = (select id from account where bin_id = 1)');
    const found = checkLedger(ledger).flatMap((check) => check.found);
    expect(found).toContain('bin CU2, No. 2 copper is off by 3 µg');
  });
});
