import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { copyFileSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import SqliteDatabase from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { letIn, setFirstPassphrase, signOut } from '../server/access/acts.ts';
import { listDevices } from '../server/access/queries.ts';
import { type Ledger, openLedger } from '../server/context.ts';
import { openDb } from '../server/db/open.ts';
import { takeServingLock } from '../server/db/serving.ts';
import { clock, massIn, setUpWorkedExample, weighIn } from './helper.ts';

// npm run backup, restore and export -- archive, as processes of their own on a real ledger.

const root = fileURLToPath(new URL('..', import.meta.url));
let folder: string;
let data: string;
const running: ChildProcess[] = [];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-backup-'));
  data = join(folder, 'data');
});
afterEach(async () => {
  for (const child of running.splice(0)) await killed(child);
  rmSync(folder, { recursive: true, force: true });
});

const killed = (child: ChildProcess): Promise<unknown> => {
  if (child.exitCode !== null || child.signalCode !== null) return Promise.resolve();
  const ended = new Promise((resolve) => child.once('exit', resolve));
  child.kill('SIGKILL');
  return ended;
};

const env = (): NodeJS.ProcessEnv => ({ ...process.env, TAREBOOK_DATA: data, TAREBOOK_PORT: '0' });

function run(name: 'backup' | 'restore' | 'export' | 'check', ...args: string[]) {
  const script = join(root, 'server/commands', `${name}.ts`);
  const options = { cwd: folder, env: env(), encoding: 'utf8', timeout: 60_000 } as const;
  const { status, stdout, stderr } = spawnSync(process.execPath, [script, ...args], options);
  return { status, out: stdout, err: stderr };
}

/** Does something with the ledger of the test, and closes it. */
function within<Result>(act: (ledger: Ledger) => Result): Result {
  const ledger = openLedger(openDb(join(data, 'ledger.sqlite')), clock);
  try {
    return act(ledger);
  } finally {
    ledger.db.close();
  }
}
const begin = () =>
  within((ledger) => {
    setUpWorkedExample(ledger);
    weighIn(ledger, 'CU2', '10');
  });
const pounds = () => within((ledger) => Math.round(massIn(ledger, 'CU2') / 453_592_370));
const kept = () => readdirSync(data).filter((name) => name.startsWith('ledger-before-restore-'));

describe('backup', () => {
  test('goes among the others, or into a file of one’s own that is not there yet', () => {
    expect(run('backup')).toMatchObject({
      status: 1,
      out: '',
      err: expect.stringMatching(/^There is no ledger in .*\n$/),
    });
    begin();
    const { status, out, err } = run('backup');
    expect([status, err]).toEqual([0, '']);
    const names = readdirSync(join(data, 'backups'));
    expect(names).toEqual([expect.stringMatching(/^tarebook-\d{4}-\d\d-\d\d-\d{4}\.sqlite$/)]);
    expect(out).toBe(
      `${join(data, 'backups', names[0] ?? '')} is a good backup: 1 weighing, ${out.split(', ').at(-1)}`,
    );
    expect(run('backup', 'mine.sqlite').status).toBe(0);
    expect(run('backup', 'mine.sqlite').err).toBe(
      `${join(folder, 'mine.sqlite')} is there already: name a new file.\n`,
    );
    expect(run('backup', '.').err).toMatch(/ is a folder: name a file in it\.\n$/);
    expect(run('backup', 'nowhere/mine.sqlite').err).toBe(`There is no folder ${join(folder, 'nowhere')}.\n`);
    expect(readdirSync(folder).sort()).toEqual(['data', 'mine.sqlite']);
  }, 60_000);

  test('of a damaged ledger says so, and keeps it under a name that says so', () => {
    begin();
    within(({ db }) => db.sqlite.exec('drop trigger event_no_delete'));
    const { status, err } = run('backup');
    expect(status).toBe(1);
    expect(err).toContain('does not hold, so the ledger itself is damaged or the disk does not keep what it is given.');
    expect(readdirSync(join(data, 'backups'))[0]).toMatch(/-not-good\.sqlite$/);
  }, 60_000);
});

describe('restore', () => {
  test('puts a backup in place, says what it lacks, and the ledger until then comes back the same way', () => {
    begin();
    run('backup', 'mine.sqlite');
    within((ledger) => weighIn(ledger, 'CU2', '5'));
    const trial = run('restore', 'mine.sqlite', '--try');
    expect([trial.status, trial.err]).toEqual([0, '']);
    expect(trial.out).toContain('mine.sqlite is whole: 1 weighing.\n');
    expect(trial.out).toMatch(
      /\nIt lacks what was entered here from .+ on: one line of the trail\.\nThis was a trial: nothing was changed\.\n/,
    );
    expect([pounds(), kept()]).toEqual([15, []]);
    const { status, out, err } = run('restore', 'mine.sqlite');
    expect([status, err, pounds()]).toEqual([0, '', 10]);
    expect(out).toContain('It is in the ledger’s place now.\n');
    const [aside = ''] = kept();
    expect(out).toContain(`To have it back: npm run restore -- "${join(data, aside)}"\n`);
    expect(within(({ db }) => db.sqlite.prepare('select act, detail from event order by id desc').get())).toEqual({
      act: 'restored the ledger',
      detail: 'mine.sqlite',
    });
    // As many weighings as the other has, and still one that is in this ledger only.
    within((ledger) => weighIn(ledger, 'CU2', '2'));
    const back = run('restore', join(data, aside));
    expect([back.status, back.out]).toEqual([0, expect.stringContaining('It lacks what was entered here from ')]);
    expect([pounds(), kept().length]).toEqual([15, 2]);
    expect(run('check').status).toBe(0);
  }, 120_000);

  test('works while Tarebook runs, which goes on with the restored one', async () => {
    begin();
    run('export', 'archive', 'all.zip');
    within((ledger) => weighIn(ledger, 'CU2', '5'));
    const server = spawn(process.execPath, [join(root, 'server/main.ts')], { env: env() });
    running.push(server);
    const url = await new Promise<string>((resolve) => {
      server.stdout.on('data', (chunk) => resolve(/http:\/\/127\.0\.0\.1:\d+/.exec(String(chunk))?.[0] ?? ''));
    });
    const page = async () => (await fetch(`${url}/bins/CU2`)).text();
    expect(await page()).toContain('15.00 lb');
    const { status, err } = run('restore', 'all.zip');
    expect([status, err]).toEqual([0, '']);
    expect(await page()).toContain('10.00 lb');
    expect(await (await fetch(`${url}/trail`)).text()).toContain('Restored the ledger');
    expect(kept()).toHaveLength(1);
  }, 60_000);

  test('gives up with everything as before where the one that holds the ledger does not take it', () => {
    begin();
    run('backup', 'mine.sqlite');
    within((ledger) => weighIn(ledger, 'CU2', '5'));
    const lock = takeServingLock(data);
    const { status, err } = run('restore', 'mine.sqlite');
    lock?.release();
    expect([status, err]).toEqual([
      1,
      'The Tarebook that runs on this ledger did not take it. Stop it, then run this command again.\n',
    ]);
    expect([pounds(), kept()]).toEqual([15, []]);
    expect(readdirSync(data).filter((name) => /restor|part|note/.test(name))).toEqual([]);
  }, 120_000);

  test('reads a folder that was copied while Tarebook was stopped by a power cut, newest entries included', () => {
    begin();
    const db = openDb(join(data, 'ledger.sqlite'));
    weighIn(openLedger(db, clock), 'CU2', '5');
    for (const ending of ['', '-wal'])
      copyFileSync(join(data, `ledger.sqlite${ending}`), join(folder, `old.sqlite${ending}`));
    db.close();
    rmSync(data, { recursive: true });
    const before = readFileSync(join(folder, 'old.sqlite'));
    expect(run('restore', 'old.sqlite')).toMatchObject({ status: 0, err: '' });
    expect(pounds()).toBe(15);
    expect(readFileSync(join(folder, 'old.sqlite'))).toEqual(before);
    expect(existsSync(join(folder, 'old.sqlite-wal'))).toBe(true);
  }, 60_000);

  test('who was signed out since then stays out, and the passphrase of now stays', () => {
    begin();
    within((ledger) => {
      setFirstPassphrase(ledger, 'scrypt$A$old');
      letIn(ledger, 'Lost phone', 'pairing');
    });
    run('backup', 'mine.sqlite');
    within((ledger) => {
      signOut(ledger, 1);
      ledger.db.sqlite.exec("update passphrase set hash = 'scrypt$B$new'");
    });
    run('restore', 'mine.sqlite');
    within(({ db }) => {
      expect(listDevices(db)).toEqual([]);
      expect(db.sqlite.prepare('select hash from passphrase').pluck().get()).toBe('scrypt$B$new');
    });
  }, 60_000);

  test('refuses what is none, or of a newer Tarebook, in one line, and touches nothing', () => {
    begin();
    run('backup', 'newer.sqlite');
    const newer = new SqliteDatabase(join(folder, 'newer.sqlite'));
    newer.pragma('user_version = 99');
    newer.close();
    writeFileSync(join(folder, 'letter.txt'), 'Dear aunt');
    const before = readFileSync(join(data, 'ledger.sqlite'));
    for (const [file, sentence] of [
      [
        'newer.sqlite',
        /^This backup was made by a newer Tarebook \(format 99, this one knows \d+\)\. Use that one\.\n$/,
      ],
      ['letter.txt', /^This file is damaged or not a ledger of Tarebook\.\n$/],
      ['gone.sqlite', /^There is no file .*gone\.sqlite\.\n$/],
      ['data', /^.* is a folder, not a file\.\n$/],
      ['data/ledger.sqlite', /^This is the ledger itself\. Name a backup of it\.\n$/],
    ] as const) {
      const { status, out, err } = run('restore', file);
      expect([status, out, err]).toEqual([1, '', expect.stringMatching(sentence)]);
    }
    expect(run('restore').err).toMatch(/^Say what to restore: /);
    expect(readFileSync(join(data, 'ledger.sqlite'))).toEqual(before);
    expect(readdirSync(data).sort()).toEqual(['ledger.sqlite']);
  }, 120_000);

  test('brings a backup of the first format to today’s', () => {
    begin();
    const old = new SqliteDatabase(join(folder, 'old.sqlite'));
    old.exec(readFileSync(join(root, 'migrations/0001_ledger.sql'), 'utf8'));
    old.exec("insert into grade (name, family, quoted_per) values ('Old copper', 'copper', 'lb')");
    old.pragma('user_version = 1');
    old.close();
    expect(run('restore', 'old.sqlite')).toMatchObject({ status: 0, err: '' });
    expect(within(({ db }) => db.sqlite.prepare('select name from grade').pluck().all())).toEqual(['Old copper']);
    expect(readdirSync(join(data)).sort()).toEqual([kept()[0], 'ledger.sqlite', 'serving.sqlite']);
  }, 60_000);
});

test('export -- archive writes one file, whole or not at all', () => {
  begin();
  expect(run('export', 'archive', 'all.zip')).toEqual({ status: 0, out: 'all.zip has 1 weighing.\n', err: '' });
  expect(readFileSync(join(folder, 'all.zip')).subarray(0, 2).toString()).toBe('PK');
  expect(run('export', 'archive', 'nowhere/all.zip').err).toMatch(/^The archive could not be made\. .*\n$/);
  expect(run('export', 'archive').err).toBe('Name a file for it: npm run export -- archive FILE.\n');
  expect(readdirSync(folder).sort()).toEqual(['all.zip', 'data']);
  expect(readdirSync(data)).toEqual(['ledger.sqlite']);
}, 60_000);
