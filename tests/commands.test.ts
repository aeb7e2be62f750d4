import { spawn, spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { checks } from '../server/check/checks.ts';

const root = fileURLToPath(new URL('..', import.meta.url));
const worked = (name: string) => join(root, 'tests/published/worked', `${name}.csv`);
const KINDS = ['grades', 'bins', 'yards', 'quotes', 'in-weights', 'loads', 'ticket-lines', 'ticket-totals'];

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-commands-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** Runs a command as a process of its own, on this test's ledger. */
function run(name: 'check' | 'import' | 'export', ...args: string[]) {
  const environment = { ...process.env, TAREBOOK_DATA: folder };
  const script = join(root, 'server/commands', `${name}.ts`);
  const { status, stdout, stderr } = spawnSync(process.execPath, [script, ...args], {
    cwd: folder,
    env: environment,
    encoding: 'utf8',
  });
  return { status, out: stdout, err: stderr };
}

const importWorked = () => KINDS.map((kind) => run('import', kind, worked(kind)));

describe('import, export and check', () => {
  test('bring the worked example in, take the reconciliation out, and find every invariant held', () => {
    const results = importWorked();
    expect(results.map(({ status, err }) => [status, err])).toEqual(KINDS.map(() => [0, '']));
    expect(results.map(({ out }) => out.trim()).at(4)).toBe('6 in-weights imported.');
    const { out, err, status } = run('export', 'reconciliation');
    expect([status, err]).toEqual([0, '']);
    const expected = readFileSync(worked('expected-reconciliation'), 'utf8');
    expect(out.replace(/,(verdict|unknown)\r\n/g, '\r\n')).toBe(expected);
    const checked = run('check');
    expect([checked.status, checked.err]).toEqual([0, '']);
    expect(checked.out).toContain(`\nAll ${checks.length + 1} hold.\n`);
  }, 60_000);

  test('a file gets the export whole, under its own name only', () => {
    run('import', 'grades', worked('grades'));
    expect(run('export', 'grades', 'out.csv')).toEqual({ status: 0, out: '', err: '' });
    expect(readFileSync(join(folder, 'out.csv'), 'utf8')).toBe(readFileSync(worked('grades'), 'utf8'));
    expect(readdirSync(folder).filter((name) => name.includes('part'))).toEqual([]);
    const nowhere = run('export', 'grades', 'no-such-folder/out.csv');
    expect([nowhere.status, nowhere.err]).toEqual([
      1,
      'no-such-folder/out.csv cannot be written. Is its folder there?\n',
    ]);
  }, 30_000);

  test('a dry run says what is in a file and stores nothing', () => {
    expect(run('import', 'grades', worked('grades'), '--dry-run')).toEqual({
      status: 0,
      out: '5 grades, nothing wrong. Nothing was stored.\n',
      err: '',
    });
    expect(run('export', 'grades').out).toBe('name,family,quoted_per,code\r\n');
  }, 30_000);

  test('every problem is one line on stderr with its line and column, and nothing is stored', () => {
    const file = join(folder, 'grades.csv');
    writeFileSync(file, 'name,family,quoted_per\nLead,metal,lb\n,copper,stone\n');
    const { status, out, err } = run('import', 'grades', 'grades.csv');
    expect([status, out]).toEqual([1, '']);
    expect(
      err
        .trim()
        .split('\n')
        .map((line) => line.slice(0, 36)),
    ).toEqual([
      'grades.csv, line 2, family: Choose a',
      'grades.csv, line 3, name: Enter a na',
      'grades.csv, line 3, quoted_per: Choo',
      'Nothing was imported: 3 problems in ',
    ]);
    expect(run('export', 'grades').out).toBe('name,family,quoted_per,code\r\n');
  }, 30_000);

  test.each([
    ['check', [], /^There is no ledger in .* yet\. TAREBOOK_DATA names another folder\.\n$/],
    ['export', ['grades'], /^There is no ledger in .* yet\. TAREBOOK_DATA names another folder\.\n$/],
    ['export', [], /^Say what to export: .*on-hand.*\n$/],
    ['export', ['gradez'], /^There is no “gradez” to export\. .*\n$/],
    ['export', ['grades', '--colour=red'], /^“--colour=red” is not an option here\. .*\n$/],
    ['import', ['grades'], /^Say what to import and from where: .*\n$/],
    ['import', ['gradez', 'x.csv'], /^There is no “gradez” to import\. .*\n$/],
    ['import', ['grades', 'no-such.csv'], /^There is no file no-such\.csv\.\n$/],
    ['import', ['grades', '.'], /^\. is a folder, not a file\.\n$/],
  ] as const)('%s %j says in one line what is wrong, and makes no ledger', (name, args, sentence) => {
    const { status, out, err } = run(name, ...args);
    expect([status, out]).toEqual([1, '']);
    expect(err).toMatch(sentence);
    expect(existsSync(join(folder, 'ledger.sqlite'))).toBe(false);
  });

  test('a unit that is not one, and a ledger that is not one, are said in one line', () => {
    run('import', 'grades', worked('grades'));
    const { status, err } = run('export', 'on-hand', '--unit=stone');
    expect([status, err.trim().split('\n').length]).toEqual([1, 1]);
    writeFileSync(join(folder, 'ledger.sqlite'), 'this is no ledger at all, '.repeat(100));
    expect(run('check').err).toBe(
      'The ledger file is damaged or not a ledger, and nothing is written to it. On the computer, stop Tarebook and bring the last good backup back: npm run restore.\n',
    );
  }, 30_000);
});

/** Starts a server on this test's ledger; resolves once it answers. */
async function startServer() {
  const environment = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0' };
  const server = spawn(process.execPath, [join(root, 'server/main.ts')], { env: environment });
  const url = await new Promise<string>((resolve, reject) => {
    server.stdout.on('data', (data) => {
      const found = /http:\/\/[\d.:]+\//.exec(String(data))?.[0];
      if (found) resolve(found);
    });
    server.once('exit', () => reject(new Error('the server did not start')));
  });
  const stop = () =>
    new Promise((resolve) => {
      server.once('exit', resolve);
      server.kill('SIGTERM');
    });
  return { url, stop };
}

test('the commands work while a server has the same ledger open, and it shows at once what they brought in', async () => {
  const { url, stop } = await startServer();
  try {
    expect(importWorked().map(({ status }) => status)).toEqual(KINDS.map(() => 0));
    const csv = await (await fetch(`${url}export/reconciliation.csv`)).text();
    expect(csv).toBe(run('export', 'reconciliation').out);
    expect(csv.split('\r\n').length).toBe(6);
    expect(run('check').status).toBe(0);
  } finally {
    await stop();
  }
}, 60_000);
