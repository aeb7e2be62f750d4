import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import type { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { greeting } from '../../server/greeting.ts';
import { LastEntry } from '../../server/last-entry.ts';
import { clock, get, post, setUpWorkedExample, weighIn } from '../helper.ts';

// A ledger that lost its end, because a file beside it is gone or an older copy took its place, is whole by itself. So
// what its newest entry was is noted beside it.

let folder: string;
let db: Db;
let ledger: Ledger;
let app: FastifyInstance | null;
const note = () => join(folder, 'last-entry.json');

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-last-'));
  db = openDb(join(folder, 'ledger.sqlite'));
  ledger = openLedger(db, clock);
  setUpWorkedExample(ledger);
  app = null;
});
afterEach(async () => {
  await app?.close();
  db.close();
  rmSync(folder, { recursive: true });
});

/** The ledger as it is when its newest act never happened, which is how an older copy looks. */
function loseTheLastEntry(): void {
  db.sqlite.exec('drop trigger event_no_delete; delete from event where id = (select max(id) from event)');
}

/** The note is made, entries are lost, and the ledger is opened again. */
function openAfterLoss(): LastEntry {
  weighIn(ledger, 'CU2', '12');
  new LastEntry(db, note()).note();
  loseTheLastEntry();
  return new LastEntry(db, note());
}

test('nothing is missing from a new ledger, nor from one that grew since the note', () => {
  const last = new LastEntry(db, note());
  expect(last.missing).toBeNull();
  last.note();
  weighIn(ledger, 'CU2', '12');
  expect(new LastEntry(db, note()).missing).toBeNull();
});

test('a ledger without its newest entry is known as such, and the note stays until somebody goes on', () => {
  const last = openAfterLoss();
  const noted = readFileSync(note(), 'utf8');
  expect(last.missing?.expected).toEqual(JSON.parse(noted));
  weighIn(ledger, 'CU2', '3');
  last.note();
  expect(readFileSync(note(), 'utf8')).toBe(noted);
  expect(new LastEntry(db, note()).missing).not.toBeNull();
});

test('another entry in the place of the noted one is not taken for it', () => {
  openAfterLoss();
  weighIn(ledger, 'CU2', '12.5');
  expect(new LastEntry(db, note()).missing).not.toBeNull();
});

test('an empty ledger in the place of a full one is known as such', () => {
  new LastEntry(db, note()).note();
  const empty = openDb(':memory:');
  expect(new LastEntry(empty, note()).missing?.newest).toBeNull();
  empty.close();
});

test('a note that cannot be read or written says nothing and stops nothing', () => {
  writeFileSync(note(), '{"id":');
  expect(new LastEntry(db, note()).missing).toBeNull();
  const nowhere = new LastEntry(db, join(folder, 'not', 'there.json'));
  nowhere.note();
  expect(existsSync(join(folder, 'not'))).toBe(false);
});

test('the first page and the console say it; going on with the ledger ends it and is in the trail', async () => {
  const lastEntry = openAfterLoss();
  app = await buildApp({ db, clock, lastEntry });
  expect((await get(app, '/')).body).toContain('This ledger lacks its newest entries.');
  expect((await get(app, '/last-entry')).body).toContain('20 Mar 2025');
  const parts = { ownUrl: 'http://127.0.0.1:4870', homeUrl: null, hasPassphrase: false };
  const said = greeting({ ...parts, isKeptOff: false, isTerminal: false, missing: lastEntry.missing });
  expect(said).toContain('this ledger lacks its newest entries');
  const answer = await post(app, '/last-entry/acceptance', { requestKey: 'go-on-with-it' });
  expect([answer.statusCode, answer.headers.location]).toEqual([303, '/']);
  expect((await get(app, '/')).body).not.toContain('lacks');
  expect((await get(app, '/last-entry')).body).toContain('Nothing is missing');
  expect((await get(app, '/trail')).body).toContain('Went on with a ledger that lacks its newest entries');
  expect(new LastEntry(db, note()).missing).toBeNull();
});

test('an empty ledger that should not be empty is not greeted as a new one', async () => {
  new LastEntry(db, note()).note();
  const empty = openDb(':memory:');
  app = await buildApp({ db: empty, clock, lastEntry: new LastEntry(empty, note()) });
  expect((await get(app, '/')).body).toContain('This ledger lacks its newest entries.');
  await app.close();
  app = null;
  empty.close();
});
