import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { clock, get, massIn, newApp, OWN_FIELDS, OWN_POST, post, setUpWorkedExample } from '../helper.ts';
import { MULTIPART, multipartBody } from '../multipart.ts';
import { somePdf } from '../pictures.ts';

// Another program writes to the same ledger for a while, as a command does that brings in a long file: a post waits for
// its turn, and only the post.

let folder: string;
let ledger: Ledger;
let app: FastifyInstance;
let other: SqliteDatabase.Database;
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-busy-'));
  const file = join(folder, 'ledger.sqlite');
  ledger = openLedger(openDb(file), clock);
  setUpWorkedExample(ledger);
  app = await newApp(ledger.db);
  other = new SqliteDatabase(file);
});
afterEach(async () => {
  other.close();
  await app.close();
  ledger.db.close();
  rmSync(folder, { recursive: true, force: true });
});

const WEIGHING = {
  bin: 'CU2',
  gross: '12.5',
  tare: '0',
  container: '',
  unit: 'lb',
  scale: '',
  occurredOn: '2025-03-19',
};

/** Posts while the other program writes; meanwhile pages are asked for, and then it lets go. @returns what the post answered */
async function postMeanwhile(send: () => ReturnType<typeof post>) {
  other.exec('begin immediate');
  let isAnswered = false;
  const answered = send().then((answer) => {
    isAnswered = true;
    return answer;
  });
  // SQLite's own wait would have stopped everything for five seconds, and then given up.
  for (let pages = 0; pages < 20; pages++) expect((await get(app, '/bins/CU2')).statusCode).toBe(200);
  expect(isAnswered).toBe(false);
  other.exec('rollback');
  return answered;
}

test('a weigh-in waits until another program has written, and pages are shown meanwhile', async () => {
  const answer = await postMeanwhile(() => post(app, '/in-weights', { ...WEIGHING, requestKey: 'while-busy-1' }));
  expect([answer.statusCode, answer.headers.location]).toEqual([303, '/weigh-in?bin=CU2&done=1']);
  expect(massIn(ledger, 'CU2')).toBeGreaterThan(0);
});

test('the same form sent again while it waits still posts once', async () => {
  const send = () => post(app, '/in-weights', { ...WEIGHING, requestKey: 'while-busy-2' });
  const [first, second] = await Promise.all([postMeanwhile(send), send()]);
  expect([first.statusCode, second?.headers.location]).toEqual([303, first.headers.location]);
  expect(ledger.db.sqlite.prepare('select count(*) from in_weight').pluck().get()).toBe(1);
});

test('papers that were sent are kept until their turn has come', async () => {
  const payload = multipartBody({ caption: '', requestKey: 'while-busy-3' }, [{ name: 'a.pdf', bytes: somePdf() }]);
  const headers = { ...OWN_POST, 'content-type': MULTIPART };
  const send = () => app.inject({ method: 'POST', url: '/bins/CU2/photos', headers, payload });
  expect((await postMeanwhile(send)).statusCode).toBe(303);
  expect(ledger.db.sqlite.prepare('select count(*) from attachment_bytes').pluck().get()).toBe(1);
});

test('a file is checked when its turn has come', async () => {
  const grades = 'name,family,quoted_per\nTin,precious,lb\n';
  const answer = await postMeanwhile(() => post(app, '/import', { kind: 'grades', text: grades, ...OWN_FIELDS }));
  expect([answer.statusCode, answer.body.includes('Import 1 grade')]).toEqual([200, true]);
});

test('the first passphrase is set when its turn has come', async () => {
  const passphrase = 'rope lantern gravel tuesday';
  const typed = { passphrase, again: passphrase, device: 'Computer' };
  const answer = await postMeanwhile(() => post(app, '/setup/devices/passphrase', typed));
  expect(answer.headers.location).toBe('/setup/devices?done=set');
});
