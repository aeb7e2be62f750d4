import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { fromBufferPromise } from 'yauzl';
import { buildApp } from '../../server/app.ts';
import { findBackups, ownFolder } from '../../server/backups/folder.ts';
import { Keeper } from '../../server/backups/keeper.ts';
import { chosenFolder } from '../../server/backups/queries.ts';
import type { Clock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { day } from '../../server/units/day.ts';
import { get, newApp, newLedger, OWN_FIELDS, OWN_POST, post, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';

// The page of the backups on a ledger that is a file, with the processes that make and try them.

let folder: string;
let ledger: Ledger;
let keeper: Keeper;
let app: FastifyInstance;
let today = TODAY;
const said: string[] = [];
const clock: Clock = { today: () => today, now: () => new Date(`${today}T17:57:00`).toISOString() };

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-backups-page-'));
  today = TODAY;
  said.length = 0;
  const db = openDb(join(folder, 'ledger.sqlite'));
  ledger = openLedger(db, clock);
  keeper = new Keeper({ db, ledger: join(folder, 'ledger.sqlite'), clock, log: (line) => said.push(line) });
  app = await buildApp({ db, clock, backups: keeper });
});
afterEach(async () => {
  await keeper.close();
  await app.close();
  ledger.db.close();
  rmSync(folder, { recursive: true, force: true });
});

const found = () => findBackups(ownFolder(join(folder, 'ledger.sqlite')));
const textOf = (body: string): string => body.replace(/<[^>]+>/g, '').replace(/\s+/g, ' ');
const page = async () => textOf((await get(app, '/setup/backups')).body);

describe('one each day', () => {
  test('none of an empty ledger, and nothing to remind of', async () => {
    await keeper.look();
    expect([found(), keeper.reminder]).toEqual([[], null]);
    expect(await page()).toContain('There is no good backup yet.');
  });

  test('is made once, and again on the next day only when something was entered since', async () => {
    setUpWorkedExample(ledger);
    await keeper.look();
    await keeper.look();
    expect(found().map(({ fileName }) => fileName)).toEqual(['tarebook-2025-03-20-1757.sqlite']);
    expect(await page()).toContain('20 Mar 2025, 17:57 (today)');
    expect(await page()).toContain('Everything up to now. No other one is needed until something is entered.');
    today = day('2025-03-25');
    await keeper.look();
    expect(found()).toHaveLength(1);
    expect(keeper.reminder).toBeNull();
    weighIn(ledger, 'CU2', '1');
    expect(await page()).toContain('Everything up to then. The next one is made by itself, once a day.');
    await keeper.look();
    expect(found().map((each) => each.day)).toEqual(['2025-03-25', '2025-03-20']);
    expect(said).toEqual([]);
  });

  test('the first page reminds when the last good one is older than three days and something was entered since', async () => {
    setUpWorkedExample(ledger);
    await keeper.look();
    today = day('2025-03-24');
    weighIn(ledger, 'CU2', '1');
    keeper.forget();
    const home = await get(app, '/');
    expect(home.body).toContain('The last good backup is 4 days old. <a href="/setup/backups">To the backups</a>.');
  });

  test('files of others, and backups of another ledger, are left alone', async () => {
    setUpWorkedExample(ledger);
    const own = ownFolder(join(folder, 'ledger.sqlite'));
    mkdirSync(own);
    writeFileSync(join(own, 'my notes.txt'), 'mine');
    const other = openDb(join(folder, 'other.sqlite'));
    for (let count = 10; count < 20; count += 1) {
      other.sqlite.exec(`vacuum into '${join(own, `tarebook-2025-03-20-12${count}.sqlite`)}'`);
    }
    other.close();
    await keeper.look();
    await keeper.make();
    expect(found()).toHaveLength(11);
    expect(found().filter(({ fileName }) => fileName.includes('1757'))).toHaveLength(1);
  });
});

describe('by the buttons of the page', () => {
  test('a backup is made, and tried: it says when and what came back', async () => {
    setUpWorkedExample(ledger);
    weighIn(ledger, 'CU2', '1');
    expect(await page()).not.toContain('Try to restore it');
    const made = await post(app, '/setup/backups', {});
    expect([made.statusCode, made.headers.location]).toEqual([303, '/setup/backups?done=made']);
    await keeper.make();
    expect(await page()).toContain(
      'Yes. It was opened after it was made, and every check of the ledger was run on it.',
    );
    expect(await page()).toContain('None was tried yet.');
    expect((await post(app, '/setup/backups/trial', {})).statusCode).toBe(303);
    await keeper.look();
    expect(await page()).toMatch(
      /Last tried to restore on 20 Mar 2025, 17:57: it went well\. tarebook-.*sqlite gave back 1 weighing\./,
    );
    weighIn(ledger, 'CU2', '1');
    await keeper.tryRestore();
    expect(await page()).toContain('gave back 1 weighing; entered since: 1 weighing.');
  }, 60_000);

  test('while one is made, the page says so and looks again', async () => {
    setUpWorkedExample(ledger);
    const making = keeper.make();
    await new Promise((resolve) => setTimeout(resolve, 20));
    expect((await get(app, '/setup/backups')).body).toContain('hx-get="/setup/backups/work"');
    expect((await get(app, '/setup/backups/work')).body).toContain('A backup is being made and checked.');
    await making;
    expect((await get(app, '/setup/backups/work')).body).toContain('It is done.');
  });

  test('no word of the trade of computers is said', async () => {
    setUpWorkedExample(ledger);
    await keeper.make();
    await keeper.tryRestore();
    // The names of the files end so; nothing else has the word.
    expect((await page()).replaceAll('.sqlite', '')).not.toMatch(/sqlite|\bWAL\b|schema|hash|checksum|database/i);
  });
});

describe('the folder', () => {
  const choose = (where: string) => post(app, '/setup/backups/folder', { folder: where });

  test('is made where it is not there, and the next backup goes to it', async () => {
    setUpWorkedExample(ledger);
    mkdirSync(join(folder, 'stick'));
    const stick = join(folder, 'stick', 'scrap');
    expect((await choose(stick)).headers.location).toBe('/setup/backups?done=folder');
    await keeper.look();
    expect(findBackups(stick)).toHaveLength(1);
    expect(await page()).toContain(`Backups go to ${stick}.`);
    expect(textOf((await get(app, '/trail')).body)).toContain('Chose the folder for backups');
    await choose('');
    expect(chosenFolder(ledger.db)).toBe('');
  });

  test.for([
    ['backups', 'Write the whole path of the folder'],
    ['../backups', 'Write the whole path of the folder'],
    [join(import.meta.dirname, '..'), 'This is inside Tarebook’s own folder.'],
    [join(import.meta.dirname, '../../data/backups/../../views'), 'This is inside Tarebook’s own folder.'],
    ['/proc/no-such-thing', 'cannot be made'],
    ['/no-such-stick/here', 'There is no folder /no-such-stick.'],
    ['/dev/null', 'This is a file, not a folder.'],
    ['/tmp/\u0000x', 'This cannot be the name of a folder.'],
    [`/${'x'.repeat(600)}`, 'This cannot be the name of a folder.'],
  ] as const)('%s is refused, and what was typed stays', async ([where, sentence]) => {
    const answer = await choose(where);
    expect([answer.statusCode, chosenFolder(ledger.db)]).toEqual([422, '']);
    expect(answer.body).toContain(sentence);
    if (!where.includes('\u0000')) expect(answer.body).toContain(`value="${where}"`);
  });

  test('is written at this computer only', async () => {
    const elsewhere = {
      ...OWN_POST,
      'x-forwarded-for': '192.168.1.30',
      'content-type': 'application/x-www-form-urlencoded',
    };
    const payload = new URLSearchParams({ ...OWN_FIELDS, folder: join(folder, 'x') }).toString();
    const answer = await app.inject({ method: 'POST', url: '/setup/backups/folder', headers: elsewhere, payload });
    expect([answer.statusCode >= 400, chosenFolder(ledger.db)]).toEqual([true, '']);
  });
});

describe('the archive', () => {
  test('comes as one zip file', async () => {
    setUpWorkedExample(ledger);
    const answer = await get(app, '/export/archive.zip');
    expect([answer.statusCode, answer.headers['content-type']]).toEqual([200, 'application/zip']);
    expect(answer.headers['content-disposition']).toContain('filename="tarebook-archive-2025-03-20.zip"');
    const zip = await fromBufferPromise(answer.rawPayload, { lazyEntries: true });
    const names: string[] = [];
    for await (const { fileName } of zip.eachEntry()) names.push(fileName);
    expect(names).toEqual(
      expect.arrayContaining(['README.txt', 'lists/grades.csv', 'tables/event.csv', 'ledger.sqlite']),
    );
  });

  test('that cannot be made is said on a page', async () => {
    // A folder where the copy is to be written cannot be written over.
    keeper = new Keeper({ db: ledger.db, ledger: join(folder, 'gone', 'ledger.sqlite'), clock, log: () => undefined });
    await app.close();
    app = await buildApp({ db: ledger.db, clock, backups: keeper });
    const answer = await get(app, '/export/archive.zip');
    expect([answer.statusCode, answer.headers['content-type']]).toEqual([503, 'text/html; charset=utf-8']);
    expect(answer.body).toContain('The archive could not be made.');
  });
});

test('a ledger that is not kept has a page that says so, and nothing to press', async () => {
  const demo = newLedger();
  const other = await newApp(demo.db);
  const { body } = await get(other, '/setup/backups');
  expect(body).toContain('there are no backups of it');
  expect(body).not.toContain('<form method="post"');
  expect((await post(other, '/setup/backups', {})).statusCode).toBe(404);
  expect((await get(other, '/export/archive.zip')).statusCode).toBe(404);
  await other.close();
});
