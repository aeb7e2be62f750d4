import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import SqliteDatabase from 'better-sqlite3';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { checkLedger } from '../server/check/checks.ts';
import { type Ledger, openLedger } from '../server/context.ts';
import { openDb } from '../server/db/open.ts';
import { clock, massIn, newApp, post, setUpWorkedExample, TODAY } from './helper.ts';

// What can be wrong around the ledger: one calm sentence, nothing lost, nothing by halves.

const root = fileURLToPath(new URL('..', import.meta.url));

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-trouble-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const ledgerIn = (data: string): string => join(data, 'ledger.sqlite');

/** Starts the server or a command as a process of its own, which is to end by itself. */
function run(script: string, environment: Record<string, string>, ...args: string[]) {
  const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', ...environment };
  const options = { cwd: folder, env, encoding: 'utf8', timeout: 20_000 } as const;
  const { status, stdout, stderr } = spawnSync(process.execPath, [join(root, script), ...args], options);
  return { status, out: stdout, err: stderr };
}

describe('the server does not start, and says why in one sentence', () => {
  const cannot = (sentence: string) => ({ status: 1, out: '', err: `Tarebook could not start: ${sentence}\n` });

  test('with a ledger of a newer Tarebook, which stays as it is', () => {
    const sqlite = new SqliteDatabase(ledgerIn(folder));
    sqlite.pragma('user_version = 99');
    sqlite.close();
    const { status, out, err } = run('server/main.ts', {});
    expect([status, out]).toEqual([1, '']);
    expect(err).toMatch(
      /^Tarebook could not start: This ledger was written by a newer Tarebook \(format 99, this one knows \d+\)\. .+\n$/,
    );
    expect(run('server/commands/check.ts', {}).err).toBe(err.replace('Tarebook could not start: ', ''));
    const again = new SqliteDatabase(ledgerIn(folder), { readonly: true });
    expect(again.pragma('user_version', { simple: true })).toBe(99);
    again.close();
  }, 30_000);

  test('on a port that is taken', async () => {
    const other = createServer().listen(0, '127.0.0.1');
    await new Promise((resolve) => other.once('listening', resolve));
    const address = other.address();
    const port = typeof address === 'object' && address !== null ? address.port : 0;
    const sentence = `Port ${port} is taken, perhaps by a Tarebook that runs already. TAREBOOK_PORT names another one.`;
    expect(run('server/main.ts', { TAREBOOK_PORT: String(port) })).toEqual(cannot(sentence));
    const demo = run('server/commands/demo.ts', { TAREBOOK_PORT: String(port) });
    expect(demo).toEqual({ status: 1, out: '', err: `The demo could not start: ${sentence}\n` });
    await new Promise((resolve) => other.close(resolve));
  }, 60_000);

  test('in a folder that cannot be made', () => {
    const file = join(folder, 'a-file');
    writeFileSync(file, '');
    const data = join(file, 'data');
    const sentence = `The folder ${data} cannot be made here. TAREBOOK_DATA names another one.`;
    expect(run('server/main.ts', { TAREBOOK_DATA: data })).toEqual(cannot(sentence));
    expect(run('server/main.ts', { TAREBOOK_DATA: file })).toEqual(cannot(sentence.replace(data, file)));
  }, 30_000);

  test('with something in the place of its ledger that is none', () => {
    mkdirSync(ledgerIn(folder));
    const sentence = 'The ledger file cannot be opened. Look at the rights of its folder.';
    expect(run('server/main.ts', {})).toEqual(cannot(sentence));
    rmSync(ledgerIn(folder), { recursive: true });
    writeFileSync(ledgerIn(folder), 'no ledger at all, '.repeat(100));
    const damaged =
      'The ledger file is damaged or not a ledger, and nothing is written to it. On the computer, stop Tarebook and bring the last good backup back: npm run restore.';
    expect(run('server/main.ts', {})).toEqual(cannot(damaged));
  }, 30_000);
});

describe('two programs that write to one ledger', () => {
  let ledger: Ledger;
  let app: FastifyInstance;
  let other: SqliteDatabase.Database;
  const weighing = (note: string) => ({ bin: 'CU2', gross: '12.5', unit: 'lb', occurredOn: TODAY, note });

  beforeEach(async () => {
    ledger = openLedger(openDb(ledgerIn(folder)), clock);
    setUpWorkedExample(ledger);
    app = await newApp(ledger.db);
    other = new SqliteDatabase(ledgerIn(folder));
  });
  afterEach(async () => {
    other.close();
    await app.close();
    ledger.db.close();
  });

  test('a post that waited in vain comes back with everything typed, and goes in when it is sent again', async () => {
    ledger.db.sqlite.pragma('busy_timeout = 50');
    other.exec('begin immediate');
    const form = { ...weighing('kept as typed'), requestKey: 'while-busy-1' };
    const busy = await post(app, '/in-weights', form);
    expect(busy.statusCode).toBe(503);
    expect(busy.body).toContain('The ledger is busy. Try again in a moment.');
    expect(busy.body).toContain('>kept as typed</textarea>');
    expect(busy.body).toContain('value="while-busy-1"');
    const text = 'name,family,quoted_per\nTin,precious,lb\n';
    const file = await post(app, '/import', { kind: 'grades', text });
    expect([file.statusCode, file.body.includes('The ledger is busy.'), file.body.includes(text)]).toEqual([
      503,
      true,
      true,
    ]);
    expect((await app.inject({ url: '/', headers: { host: '127.0.0.1' } })).statusCode).toBe(200);
    other.exec('rollback');
    expect((await post(app, '/in-weights', form)).statusCode).toBe(303);
    expect(massIn(ledger, 'CU2')).toBeGreaterThan(0);
  });

  test('an import that waited in vain says so in one line and stores nothing', () => {
    writeFileSync(join(folder, 'grades.csv'), 'name,family,quoted_per\nTin,precious,lb\n');
    other.exec('begin immediate');
    const { status, err } = run('server/commands/import.ts', {}, 'grades', 'grades.csv');
    expect([status, err]).toEqual([1, 'The ledger is busy. Try again in a moment.\n']);
    other.exec('rollback');
    expect(run('server/commands/import.ts', {}, 'grades', 'grades.csv').status).toBe(0);
  }, 60_000);

  test('posts and imports at the same time all go in, each whole', async () => {
    const rows = Array.from({ length: 400 }, (_, index) => `2025-03-01,YB1,${index + 1},lb`);
    writeFileSync(join(folder, 'in.csv'), `occurred_on,bin,gross,unit\n${rows.join('\n')}\n`);
    const env = { ...process.env, TAREBOOK_DATA: folder };
    const script = join(root, 'server/commands/import.ts');
    const child = spawn(process.execPath, [script, 'in-weights', 'in.csv'], { cwd: folder, env });
    let isOver = false;
    const ended = new Promise((resolve) => child.once('exit', resolve)).finally(() => {
      isOver = true;
    });
    const answers: number[] = [];
    for (let count = 0; !isOver || count < 20; count += 1) {
      answers.push((await post(app, '/in-weights', weighing(`${count}`))).statusCode);
      await new Promise((resolve) => setTimeout(resolve, 2));
    }
    expect(await ended).toBe(0);
    expect(answers.filter((status) => status !== 303)).toEqual([]);
    expect(checkLedger(ledger).filter(({ found }) => found.length > 0)).toEqual([]);
    const count = (bin: string) =>
      ledger.db.sqlite
        .prepare('select count(*) from in_weight join bin on bin.id = bin_id where code = ?')
        .pluck()
        .get(bin);
    expect([count('YB1'), count('CU2')]).toEqual([400, answers.length]);
  }, 60_000);
});
