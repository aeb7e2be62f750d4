import { mkdtempSync, readdirSync, rmdirSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { beforeAll, describe, expect, test, vi } from 'vitest';
import { benchAdjustedOn, benchReadsHeavy, southDriftsFrom, southReadsLow } from '../../seed/demo/troubles.ts';
import { demoBegins, demoToday, fillDemo } from '../../seed/demo.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { fixedClock } from '../../server/clock.ts';
import { openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { DemoBeside, startDemo } from '../../server/demo.ts';
import { belowWage, earningsByKind } from '../../server/earnings/by-kind.ts';
import { wageOf } from '../../server/earnings/compute.ts';
import { readEarningsFilter } from '../../server/earnings/forms.ts';
import { closedEarnings } from '../../server/earnings/queries.ts';
import type { Item } from '../../server/items/queries.ts';
import { balanceOfItem } from '../../server/items/teardown-queries.ts';
import { Reader } from '../../server/reading.ts';

const filled = (): Db => {
  const db = openDb(':memory:');
  fillDemo(db);
  return db;
};

let db: Db;
beforeAll(() => {
  db = filled();
});

const rows = <Row>(sql: string, ...parameters: unknown[]): Row[] => db.sqlite.prepare(sql).all(...parameters) as Row[];
const one = <Value = number>(sql: string, ...parameters: unknown[]): Value =>
  db.sqlite
    .prepare(sql)
    .pluck()
    .get(...parameters) as Value;

/** Every row of every table, in the order they lie in, but for the ledger's own name, which no two have alike. */
function dump({ sqlite }: Db): Record<string, unknown[]> {
  const tables = sqlite.prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name").pluck().all();
  return Object.fromEntries(
    (tables as string[]).map((name) => {
      const but = name === 'setting' ? "WHERE name <> 'ledger_id'" : '';
      return [name, sqlite.prepare(`SELECT * FROM "${name}" ${but}`).all()];
    }),
  );
}

test('two demos are the same to the last row', () => {
  expect(dump(filled())).toEqual(dump(db));
});

describe('the size of the demo', () => {
  test('is about fourteen months of a few hours a week', () => {
    const count = (table: string) => one(`SELECT count(*) FROM ${table}`);
    expect(count('in_weight')).toBeGreaterThanOrEqual(250);
    expect(count('in_weight')).toBeLessThanOrEqual(400);
    expect(count('bin')).toBeGreaterThanOrEqual(12);
    expect(count('container')).toBe(8);
    expect(count('scale')).toBe(2);
    expect(one("SELECT count(*) FROM manifest WHERE status = 'sold'")).toBeGreaterThanOrEqual(16);
    expect(rows('SELECT name FROM yard ORDER BY id')).toEqual([
      { name: 'Demo Yard North' },
      { name: 'Demo Yard South' },
    ]);
  });

  test('lies within its own days, and nothing was written down before it happened', () => {
    expect(one<string>('SELECT min(occurred_on) FROM transfer') >= demoBegins).toBe(true);
    expect(one<string>('SELECT max(occurred_on) FROM transfer') <= demoToday).toBe(true);
    expect(rows('SELECT id FROM transfer WHERE substr(recorded_at, 1, 10) < occurred_on')).toEqual([]);
    expect(
      rows('SELECT a.id FROM event a JOIN event b ON b.id = a.id + 1 WHERE b.recorded_at < a.recorded_at'),
    ).toEqual([]);
  });
});

test('every check of the ledger passes on the demo', () => {
  const results = checkLedger(openLedger(db, fixedClock(demoToday)));
  expect(results.length).toBeGreaterThan(5);
  expect(results.filter(({ found }) => found.length > 0)).toEqual([]);
});

describe('the demo has something to show for', () => {
  const sum = (column: string) => one(`SELECT sum(abs(${column})) FROM reconciliation_group`);

  test.each(['scale_minor', 'deduction_minor', 'grade_minor', 'price_minor', 'rounding_minor', 'arithmetic_minor'])(
    'the effect %s',
    (column) => {
      expect(sum(column)).toBeGreaterThan(0);
    },
  );

  test('charges, cash rounding both ways, and money with no load behind it', () => {
    expect(one('SELECT sum(charges_minor) FROM ticket_total')).toBeGreaterThan(0);
    expect(one('SELECT count(*) FROM ticket_total WHERE cash_rounding_minor > 0')).toBeGreaterThan(0);
    expect(one('SELECT count(*) FROM ticket_total WHERE cash_rounding_minor < 0')).toBeGreaterThan(0);
    const unlisted = `SELECT count(*) FROM ticket_line
      WHERE NOT EXISTS (SELECT 1 FROM ticket_line_load WHERE ticket_line_id = ticket_line.id)`;
    expect(one(unlisted)).toBe(1);
  });

  test('a price above the quote as well as below it, and a slip in the favour of each side', () => {
    for (const column of ['price_minor', 'arithmetic_minor']) {
      expect(one(`SELECT max(${column}) FROM reconciliation_group`)).toBeGreaterThan(0);
      expect(one(`SELECT min(${column}) FROM reconciliation_group`)).toBeLessThan(0);
    }
  });

  test('a total that is not the sum of its lines', () => {
    const wrong = rows<{ difference: number }>(`
      SELECT total_minor - (sum(amount_minor) - charges_minor + tax_minor + cash_rounding_minor) AS difference
      FROM ticket_total JOIN ticket_line USING (ticket_id) GROUP BY ticket_id HAVING difference <> 0`);
    expect(wrong).toEqual([{ difference: -1000 }]);
  });

  test('deductions in weight and in percent', () => {
    expect(one("SELECT count(*) FROM ticket_line WHERE deduction LIKE '%\\%' ESCAPE '\\'")).toBeGreaterThan(0);
    expect(
      one("SELECT count(*) FROM ticket_line WHERE deduction NOT LIKE '%\\%' ESCAPE '\\' AND deduction > 0"),
    ).toBeGreaterThan(0);
  });

  test('one bin paid as two grades, and two bins weighed as one line', () => {
    const lines = `SELECT count(*) FROM ticket_line_load GROUP BY manifest_line_id HAVING count(*) > 1`;
    expect(rows(lines).length).toBeGreaterThan(0);
    expect(rows('SELECT 1 FROM ticket_line_load GROUP BY ticket_line_id HAVING count(*) > 1').length).toBeGreaterThan(
      0,
    );
  });

  test('a manifest of every kind, a load brought back, and one that nobody has found', () => {
    expect(rows('SELECT DISTINCT status FROM manifest ORDER BY status').length).toBe(4);
    expect(one("SELECT count(*) FROM manifest WHERE status = 'returned' AND loaded_on IS NULL")).toBe(1);
    expect(one("SELECT count(*) FROM manifest WHERE status = 'returned' AND loaded_on IS NOT NULL")).toBe(1);
    expect(one("SELECT count(*) FROM load_return WHERE reason = 'was still in the car'")).toBe(1);
    const missing = rows(`SELECT bin.code FROM balance JOIN account ON account.id = balance.account_id
      JOIN manifest_line ON manifest_line.id = account.manifest_line_id JOIN bin ON bin.id = manifest_line.bin_id
      JOIN manifest ON manifest.id = manifest_line.manifest_id WHERE balance.mass_ug > 0 AND manifest.status = 'sold'`);
    expect(missing).toEqual([{ code: 'PCB' }]);
  });

  test('a replaced ticket whose figures truly differ', () => {
    const replaced = rows(`SELECT older.id FROM ticket newer JOIN ticket older ON older.id = newer.replaces_id
      JOIN ticket_total a ON a.ticket_id = newer.id JOIN ticket_total b ON b.ticket_id = older.id
      WHERE a.total_minor <> b.total_minor`);
    expect(replaced.length).toBe(1);
  });

  test('corrections, weighings taken back, an estimate, recounts, moves, a closed bin and a full one', () => {
    expect(one('SELECT count(*) FROM in_weight WHERE corrects_id IS NOT NULL')).toBe(2);
    expect(one("SELECT count(*) FROM event WHERE act = 'took back an in-weight'")).toBe(2);
    expect(one('SELECT count(*) FROM in_weight WHERE is_estimate = 1')).toBe(1);
    expect(one('SELECT count(*) FROM recount')).toBeGreaterThan(3);
    expect(one('SELECT count(*) FROM bin_transfer')).toBeGreaterThan(2);
    expect(one('SELECT count(*) FROM bin WHERE closed_on IS NOT NULL')).toBe(1);
    const full = rows(`SELECT bin.code FROM bin JOIN account ON account.bin_id = bin.id
      JOIN balance ON balance.account_id = account.id WHERE balance.mass_ug >= bin.full_mark_ug`);
    expect(full.length).toBe(1);
  });

  test('quotes of South that went stale, while those of North are fresh', () => {
    const newest = rows<{ seen: string }>('SELECT max(seen_on) AS seen FROM quote GROUP BY yard_id, grade_id');
    expect(newest.some(({ seen }) => seen < '2026-02-28')).toBe(true);
    expect(newest.some(({ seen }) => seen >= '2026-02-28')).toBe(true);
  });
});

describe('the troubles are in the data', () => {
  /** Yard weight over home weight of what was weighed at loading on a scale, sold in some days. */
  const ratio = (yard: string, from: string, before: string, scale = 'Bench scale') =>
    one(
      `SELECT sum(yard_ug) * 1.0 / sum(home_ug) FROM reconciliation_share AS share
        JOIN ticket ON ticket.id = share.ticket_id JOIN yard ON yard.id = share.yard_id
        WHERE yard.name LIKE ? AND share.sold_on >= ? AND share.sold_on < ? AND EXISTS (
          SELECT 1 FROM manifest_line JOIN bin ON bin.id = manifest_line.bin_id
          JOIN scale ON scale.id = manifest_line.scale_id
          WHERE manifest_line.manifest_id = ticket.manifest_id AND bin.grade_id = share.grade_id AND scale.name = ?)`,
      yard,
      from,
      before,
      scale,
    );
  const END = '9999';

  test('before the bench scale was adjusted both yards find about 1.2 % less than home', () => {
    const expected = 1 / benchReadsHeavy.toNumber();
    expect(Math.abs(ratio('%North', demoBegins, benchAdjustedOn) - expected)).toBeLessThan(0.004);
    expect(Math.abs(ratio('%South', demoBegins, benchAdjustedOn) - expected)).toBeLessThan(0.004);
  });

  test('the floor scale at home is right all the time', () => {
    expect(Math.abs(ratio('%', demoBegins, benchAdjustedOn, 'Floor scale') - 1)).toBeLessThan(0.004);
  });

  test('afterwards North agrees with home to the end', () => {
    expect(Math.abs(ratio('%North', benchAdjustedOn, END) - 1)).toBeLessThan(0.004);
  });

  test('South agrees with home until its scale drifts, and then finds about 1 % less', () => {
    expect(Math.abs(ratio('%South', benchAdjustedOn, southDriftsFrom) - 1)).toBeLessThan(0.004);
    expect(Math.abs(ratio('%South', southDriftsFrom, END) - southReadsLow.toNumber())).toBeLessThan(0.004);
  });

  test('small scales at the yards show half pounds, the truck scale twenty', () => {
    const figures = rows<{ gross: string; name: string }>(
      'SELECT gross, grade.name FROM ticket_line JOIN grade ON grade.id = ticket_line.grade_id',
    );
    const isSteel = ({ name }: { name: string }) => name === 'Shreddable steel';
    expect(figures.filter(isSteel).filter(({ gross }) => !/^\d+[02468]0$/.test(gross))).toEqual([]);
    expect(figures.filter((line) => !isSteel(line)).filter(({ gross }) => !/^\d+\.[05]$/.test(gross))).toEqual([]);
  });
});

describe('the items of the demo', () => {
  test('end in every way, and some wait', () => {
    expect(rows('SELECT status, count(*) AS items FROM item GROUP BY status ORDER BY status')).toEqual([
      { status: 'as is', items: 1 },
      { status: 'discarded', items: 1 },
      { status: 'sold whole', items: 1 },
      { status: 'taken apart', items: 28 },
      { status: 'waiting', items: 4 },
    ]);
    expect(one("SELECT count(*) FROM item WHERE got = 'bought' AND cost_minor > 0")).toBe(2);
    expect(one("SELECT count(*) FROM item WHERE proof = ''")).toBe(2);
    expect(one('SELECT count(*) FROM work_clock')).toBe(0);
  });

  test('gave no more than they weighed, and of one a little is missing', () => {
    const apart = rows<Item>("SELECT * FROM item WHERE status = 'taken apart'").map((item) => balanceOfItem(db, item));
    expect(apart.filter(({ recovery }) => recovery === null)).toEqual([]);
    const missing = apart.map((balance) => balance.missing?.share?.toNumber() ?? -1);
    expect(missing.filter((share) => share >= 0 && share < 0.025)).toHaveLength(apart.length - 1);
    expect(Math.max(...missing)).toBeLessThan(0.04);
  });

  test('item 1 was taken apart and has minutes, waste, a part that was sold and money of tickets', () => {
    const counts = ['work', 'item_output', 'part_sale', 'item_share'].map((table) =>
      one(`SELECT count(*) FROM ${table} WHERE item_id = 1`),
    );
    expect(counts.map((count) => count > 0)).toEqual([true, true, true, true]);
  });

  test('seven kinds have an interval: two to leave at the kerb, the others pay or may', () => {
    const { settings, clock } = openLedger(db, fixedClock(demoToday));
    const filter = readEarningsFilter(db, new Reader({}, settings));
    const kinds = earningsByKind(closedEarnings(db, settings, clock.today(), filter), settings.currency);
    const wage = wageOf(settings);
    expect(kinds.filter(({ noInterval }) => noInterval === null)).toHaveLength(7);
    expect(belowWage(kinds, wage).map(({ kindName }) => kindName)).toEqual(['Light string', 'Ceiling fan']);
    const paying = kinds.filter(({ low }) => low?.gt(wage ?? 0)).map(({ kindName }) => kindName);
    expect(paying).toEqual(['Building cable offcuts', 'Tap', 'Window air conditioner', 'Washing machine']);
  });
});

test('the demo is served at an address of its own, says what it is, and leaves nothing behind', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'tarebook-test-'));
  vi.stubEnv('TMPDIR', folder);
  const demo = await startDemo();
  expect(readdirSync(folder).length).toBe(1);
  const page = await (await fetch(demo.url)).text();
  expect(page).toContain('Demo ledger');
  expect(page).toContain('CU2');
  await demo.close();
  await expect(fetch(demo.url)).rejects.toThrow();
  expect(readdirSync(folder)).toEqual([]);
  vi.unstubAllEnvs();
  rmdirSync(folder);
});

test('a server opens one demo however often it is asked', async () => {
  const beside = new DemoBeside();
  const [first, second] = await Promise.all([beside.open(), beside.open()]);
  expect(second).toBe(first);
  expect((await fetch(first)).status).toBe(200);
  await beside.close();
  await expect(fetch(first)).rejects.toThrow();
});
