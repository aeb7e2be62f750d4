import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { demoToday, fillDemo } from '../../seed/demo.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { fixedClock } from '../../server/clock.ts';
import { openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { comparisonsAtYard, readKnownScales } from '../../server/scales/comparisons.ts';
import { day } from '../../server/units/day.ts';

// A ledger of the first format, with the demo's history in it, opened by this version.

const FIRST = new URL('../../migrations/0001_ledger.sql', import.meta.url);

let folder: string;
let demo: Db;
let upgraded: Db;

/** A ledger of the first format with the rows of another, as far as that format had them. */
function makeFirstFormat(file: string, source: string): void {
  const old = new Database(file);
  old.pragma('journal_mode = WAL');
  old.exec(readFileSync(FIRST, 'utf8'));
  old.pragma('user_version = 1');
  const named = (type: string) =>
    old.prepare("select name, sql from sqlite_master where type = ? and name not like 'sqlite_%'").all(type) as {
      name: string;
      sql: string;
    }[];
  // The rows are copied with what the triggers had made of them, so these stand aside meanwhile.
  const triggers = named('trigger');
  for (const { name } of triggers) old.exec(`drop trigger ${name}`);
  old.pragma('foreign_keys = off');
  old.prepare('attach database ? as source').run(source);
  for (const { name } of named('table')) {
    const columns = old.prepare('select name from pragma_table_info(?)').pluck().all(name).join(', ');
    old.exec(`delete from ${name}; insert into ${name} (${columns}) select ${columns} from source.${name}`);
  }
  old.exec('detach database source');
  for (const { sql } of triggers) old.exec(sql);
  old.close();
}

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-upgrade-'));
  const [source, file] = [join(folder, 'demo.sqlite'), join(folder, 'ledger.sqlite')];
  demo = openDb(source);
  fillDemo(demo);
  makeFirstFormat(file, source);
  upgraded = openDb(file);
});
afterAll(() => {
  demo.close();
  upgraded.close();
  rmSync(folder, { recursive: true, force: true });
});

test('the file was copied aside before it was changed', () => {
  const names = readdirSync(join(folder, 'backups'));
  expect(names).toEqual([expect.stringMatching(/^tarebook-\d{4}-\d\d-\d\d-\d{4}-before-\d{4}\.sqlite$/)]);
});

test('every invariant holds afterwards, and so do the rules of the newest format', () => {
  const found = checkLedger(openLedger(upgraded, fixedClock(demoToday)));
  expect(found.filter((check) => check.found.length > 0)).toEqual([]);
});

test('the sums for intervals are those that would have been kept all along', () => {
  const months = (db: Db) =>
    db.sqlite.prepare('select * from sale_month order by month, grade_id, yard_id').all() as Record<string, unknown>[];
  const [kept, filled] = [months(demo), months(upgraded)];
  expect(filled).toHaveLength(kept.length);
  for (const [index, row] of filled.entries()) {
    for (const [name, value] of Object.entries(row)) {
      const other = kept[index]?.[name];
      if (typeof value !== 'number' || Number.isInteger(value)) expect([name, value]).toEqual([name, other]);
      else expect(Math.abs(value / (other as number) - 1)).toBeLessThan(1e-9);
    }
  }
});

test('the weighings behind its book weights are found, and the same as those kept', () => {
  const uncertainties = (db: Db) => {
    const ledger = openLedger(db, fixedClock(demoToday));
    // Without a further scale for steel, which the first format did not know.
    db.sqlite.exec('delete from yard_scale_family');
    return comparisonsAtYard(ledger, readKnownScales(db), {
      yardId: 1,
      from: day('2025-09-01'),
      until: day('2026-04-01'),
    }).map(({ ticketNumber, labels, verdict }) => [ticketNumber, labels, verdict]);
  };
  const found = uncertainties(upgraded);
  expect(found.length).toBeGreaterThan(10);
  expect(found).toEqual(uncertainties(demo));
  expect(upgraded.sqlite.prepare('select count(*) from load_weighing').pluck().get()).toBe(0);
});
