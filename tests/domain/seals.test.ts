import { beforeAll, describe, expect, test } from 'vitest';
import { demoToday, fillDemo } from '../../seed/demo.ts';
import { letIn, noteHomeAddress, setFirstPassphrase } from '../../server/access/acts.ts';
import { captionAttachment, keepFiles, takeOff } from '../../server/attachments/acts.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { triggersOf } from '../../server/check/queries.ts';
import { fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { brokenSeals, sealedTables } from '../../server/db/seals.ts';
import { letQuoteStandAgain, takeQuoteBack } from '../../server/prices/acts.ts';
import { changeSettings } from '../../server/setup/acts.ts';
import { letTicketStandAgain, takeTicketBack } from '../../server/tickets/take-back.ts';
import { newLedger, setUpWorkedExample, weighIn } from '../helper.ts';
import { fillItems } from '../ledgers/fill.ts';

// Every row carries a seal over its content and the row before: what is changed behind Tarebook's back is named.

/** Worked out from other rows and held against them by checks of their own, or of no use to anybody once it is done. */
const UNSEALED =
  /^(balance|reconciliation_group|reconciliation_share|sale_month|layer_(queue|stop|part)|item_share|share_due|found(_\w+)?|request|trail_device)$/;

let ledger: Ledger;

/** The demo's history, and what it lacks for a row in every table. */
beforeAll(() => {
  const db = openDb(':memory:');
  fillDemo(db);
  ledger = openLedger(db, fixedClock(demoToday));
  takeQuoteBack(ledger, 5);
  letQuoteStandAgain(ledger, 5);
  takeTicketBack(ledger, 23, 'entered twice');
  letTicketStandAgain(ledger, 23);
  const preview = Buffer.from('preview');
  const photo = { content: 'photo', name: 'a.jpg', sha256: 'a'.repeat(64), width: 2, height: 1, preview } as const;
  keepFiles(ledger, { kind: 'bin', ids: [1] }, [{ ...photo, whole: () => Buffer.from('photo') }], 'first');
  captionAttachment(ledger, 1, 'second');
  takeOff(ledger, 1);
  setFirstPassphrase(ledger, 'scrypt$AAAA$AAAA');
  letIn(ledger, 'Phone', 'pairing');
  noteHomeAddress(ledger, 'http://192.0.2.7:4870');
  changeSettings(ledger, { ...ledger.settings, staleQuoteDays: 7 });
  const note = { kind: 'made', occasion: 'daily', folder: '/', last_event_id: 1 } as const;
  db.insert('backup_note', { ...note, recorded_at: ledger.clock.now() });
  fillItems(ledger, [1, 2]);
  db.insert('load_return_undone', { load_return_id: 1, recorded_at: ledger.clock.now() });
});

const tables = (): string[] =>
  ledger.db.sqlite
    .prepare("select name from sqlite_schema where type = 'table' and name not like 'sqlite_%'")
    .pluck()
    .all() as string[];
const columnsOf = (table: string): string[] =>
  ledger.db.sqlite.prepare("select name from pragma_table_info(?) where name <> 'seal'").pluck().all(table) as string[];

/** Does something as only someone with a database tool could, looks what the seals say, and takes it back. */
function behindItsBack(sql: string, table: string): string[] {
  const { sqlite } = ledger.db;
  sqlite.pragma('foreign_keys = off');
  sqlite.pragma('ignore_check_constraints = on');
  sqlite.exec('begin');
  const temporary = sqlite.prepare("select name from sqlite_temp_master where type = 'trigger'").pluck().all();
  for (const name of [...triggersOf(ledger.db).keys(), ...temporary]) sqlite.exec(`drop trigger ${name}`);
  sqlite.exec(sql);
  const broken = brokenSeals(sqlite, table);
  sqlite.exec('rollback');
  sqlite.pragma('ignore_check_constraints = off');
  sqlite.pragma('foreign_keys = on');
  return broken;
}

test('every table is sealed, or is on the short list of those that are worked out', () => {
  const unsealed = tables().filter((name) => !UNSEALED.test(name));
  expect(unsealed.sort()).toEqual([...sealedTables].sort());
});

test('a whole ledger has every seal in place, in every table', () => {
  for (const table of sealedTables) {
    expect(ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get(), table).toBeGreaterThan(0);
    expect(brokenSeals(ledger.db.sqlite, table), table).toEqual([]);
  }
  const check = checkLedger(ledger).find(({ name }) => name.startsWith('every row is as Tarebook wrote it down'));
  expect(check?.found).toEqual([]);
});

test('whatever is changed in any column of any table is found, in that row', () => {
  for (const table of sealedTables) {
    const [key = ''] = columnsOf(table);
    for (const column of columnsOf(table)) {
      const type = ledger.db.sqlite
        .prepare('select type from pragma_table_info(?) where name = ?')
        .pluck()
        .get(table, column);
      const other = { INTEGER: `ifnull(${column}, 0) + 1000003`, TEXT: `ifnull(${column}, '') || 'x'` }[String(type)];
      const change = `update ${table} set ${column} = ${other ?? "x'00'"}
        where ${key} = (select max(${key}) from ${table})`;
      expect(behindItsBack(change, table), `${table}.${column}`).not.toEqual([]);
    }
  }
});

describe('what is done behind its back is named', () => {
  const change = (set: string, where: string) => `update in_weight set ${set} where ${where}`;

  test('a changed row is that row alone', () => {
    expect(behindItsBack(change("note = 'x'", 'id = 7'), 'in_weight')).toEqual(['7']);
  });
  test('a changed seal is that row and the one sealed onto it', () => {
    expect(behindItsBack(change("seal = x'00'", 'id = 7'), 'in_weight')).toEqual(['7', '8']);
  });
  test('a row that was taken out is missed by the one after it', () => {
    expect(behindItsBack('delete from in_weight where id = 7', 'in_weight')).toEqual(['8']);
  });
  test('two rows that changed places are both found', () => {
    const swap = `${change('id = 0', 'id = 7')}; ${change('id = 7', 'id = 8')}; ${change('id = 8', 'id = 0')}`;
    expect(behindItsBack(swap, 'in_weight')).toEqual(['7', '8', '9']);
  });
  test('a row that was put in has no seal', () => {
    const put = 'insert into quote_take_back (id, quote_id, recorded_at) values (99, 1, 0)';
    expect(behindItsBack(put, 'quote_take_back')).toEqual(['99']);
  });
  test('a foot that was given to another ticket is found', () => {
    const move =
      'delete from ticket_total where ticket_id = 2; update ticket_total set ticket_id = 2 where ticket_id = 1';
    expect(behindItsBack(move, 'ticket_total')).toEqual(['2']);
  });
  test('the content of a photo is sealed with it', () => {
    expect(behindItsBack("update attachment_bytes set bytes = x'00'", 'attachment_bytes')).toEqual(['1']);
  });
});

test('a row that is sealed is closed, its seal too', () => {
  const { sqlite } = ledger.db;
  expect(() => sqlite.exec('update transfer set seal = null')).toThrow('append-only');
  expect(() => sqlite.exec("update ticket_total set seal = x'00'")).toThrow('replaced, never edited');
});

test('text that is no text keeps its seal: half a surrogate pair, a null, a very long note', () => {
  const own = newLedger();
  setUpWorkedExample(own);
  for (const note of ['\ud800', 'a\u0000b', '\u2028', 'é'.normalize('NFD'), 'x'.repeat(100_000), '"\\'])
    weighIn(own, 'CU2', '1', '2025-03-01', { note });
  expect(brokenSeals(own.db.sqlite, 'in_weight')).toEqual([]);
});

test('rows that change are sealed anew, whatever changes them', () => {
  const { sqlite } = ledger.db;
  const before = sqlite.prepare('select hex(seal) from grade where id = 1').pluck().get();
  sqlite.exec("update grade set recognise = 'a magnet sticks' where id = 1");
  expect(sqlite.prepare('select hex(seal) from grade where id = 1').pluck().get()).not.toBe(before);
  expect(brokenSeals(sqlite, 'grade')).toEqual([]);
});
