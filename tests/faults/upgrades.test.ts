import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import Database from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { demoToday } from '../../seed/demo.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { fixedClock } from '../../server/clock.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { contentOf, formats, keptFormats, migrationTo, type Shape, shapeOf, unpack } from '../ledgers/kept.ts';
import { isThorough, measured, trials } from './trials.ts';

// Upgrades that are killed, that meet each other, and files that are not for this Tarebook.

const root = fileURLToPath(new URL('../..', import.meta.url));
const child = join(root, 'tests/faults/upgrade-child.ts');
const newest = formats.at(-1) ?? 0;

let folder: string;
let file: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-upgrades-'));
  file = join(folder, 'ledger.sqlite');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function emptyFolder(): void {
  for (const name of readdirSync(folder)) rmSync(join(folder, name), { recursive: true });
}

/** The kept ledger of a format, alone in the folder; 0 for no file at all. */
function begin(format: number): void {
  emptyFolder();
  if (format > 0) unpack(format, file);
}

interface Before {
  shape: Shape;
  content: Record<string, string[]>;
}

/** What is in the file, by a plain connection that knows nothing of Tarebook. */
function lookAt(shape?: Shape): Before & { format: number; rules: string[] } {
  const sqlite = new Database(file);
  try {
    const format = sqlite.pragma('user_version', { simple: true }) as number;
    const asked = shape ?? shapeOf(sqlite);
    return { format, shape: asked, content: contentOf(sqlite, asked), rules: rulesOf(sqlite) };
  } finally {
    sqlite.close();
  }
}

const rulesOf = (sqlite: Database.Database): string[] =>
  sqlite
    .prepare("select type || ' ' || name || ' ' || coalesce(sql, '') from sqlite_master")
    .pluck()
    .all()
    .sort() as string[];

/** The tables, indexes and triggers of a format, from its migrations alone. */
function rulesOfFormat(format: number): string[] {
  const sqlite = new Database(':memory:');
  for (const each of formats.filter((other) => other <= format)) sqlite.exec(migrationTo(each));
  const rules = rulesOf(sqlite);
  sqlite.close();
  return rules;
}

/** Every statement that opening the ledger runs, in order. */
const statementsOf = (): string[] =>
  execFileSync(process.execPath, [child, file], { encoding: 'utf8', maxBuffer: 100_000_000 })
    .trim()
    .split('\n')
    .map((line) => JSON.parse(line) as string);

/** A statement without its values: what is done for every row has one shape. */
const shapeOfStatement = (sql: string): string => sql.replace(/'[^']*'|\b\d[\d.e+-]*\b|x'[^']*'/gi, '?').slice(0, 2000);

/**
 * Where to kill: before each statement up to the one after the last commit of a format. Of a statement that is done for
 * every row: before the first two, one in the middle, and the last two.
 */
function pointsUpTo(statements: readonly string[], format: number): number[] {
  const marked = statements.findIndex((sql) => sql.trim() === `PRAGMA user_version = ${format}`);
  expect(marked).toBeGreaterThan(0);
  const end = format === newest ? statements.length : marked + 3;
  const all = Array.from({ length: end }, (_, index) => index + 1);
  const places = Map.groupBy(all, (point) => shapeOfStatement(statements[point - 1] ?? ''));
  const kept = [...places.values()].flatMap((points) =>
    points.length <= 12 ? points : [0, 1, Math.floor(points.length / 2), -2, -1].map((at) => points.at(at) as number),
  );
  return kept.sort((a, b) => a - b);
}

function kill(at: number): void {
  const { signal } = spawnSync(process.execPath, [child, file], { env: { ...process.env, TRIAL_KILL_AT: String(at) } });
  expect(signal).toBe('SIGKILL');
}

/** Opens the ledger as Tarebook does: it is of the newest format then, whole, and every invariant holds. */
function expectWhole({ shape, content }: Before): void {
  const db = openDb(file);
  try {
    const found = checkLedger(openLedger(db, fixedClock(demoToday))).filter((check) => check.found.length > 0);
    expect(found).toEqual([]);
  } finally {
    db.close();
  }
  const after = lookAt(shape);
  expect(after.format).toBe(newest);
  expect(after.content).toEqual(content);
}

/** Each kept format with the next kept one: between them every migration is killed. */
const stretches = [0, ...keptFormats].flatMap((from, at, all) => {
  const to = all[at + 1] ?? newest;
  return to > from ? [{ from, to }] : [];
});

describe('an upgrade that is killed at a statement', () => {
  test.each(isThorough ? stretches : stretches.slice(-2))(
    'from format $from to $to is undone or complete, and is made up for by the next start',
    ({ from, to }) => {
      begin(from);
      const before: Before = from > 0 ? lookAt() : { shape: {}, content: {} };
      const points = pointsUpTo(statementsOf(), to);
      const chosen = isThorough ? points : [points[Math.floor(points.length / 2)] ?? 1];
      const found = new Map<number, number>();
      for (const point of chosen) {
        begin(from);
        kill(point);
        const left = existsSync(file) ? lookAt(before.shape) : { format: 0, content: before.content, rules: [] };
        expect(left.content).toEqual(before.content);
        expect([point, left.rules]).toEqual([point, rulesOfFormat(left.format)]);
        expectWhole(before);
        found.set(left.format, (found.get(left.format) ?? 0) + 1);
      }
      const said = [...found].map(([format, times]) => `format ${format} ${times} times`).join(', ');
      measured(`upgrade from format ${from} killed before ${chosen.length} of its statements`, `found at ${said}`);
      // Both ends must have been seen, or the kills came too late or too early; after the very last commit nothing comes.
      if (isThorough) expect([found.has(from), found.has(to) || to === newest]).toEqual([true, true]);
    },
  );

  test('or at any moment, from the oldest format, is undone or complete too', async () => {
    const [oldest = 1] = keptFormats;
    begin(oldest);
    const before = lookAt();
    const found: number[] = [];
    const rounds = trials(1, 60);
    for (let round = 0; round < rounds; round += 1) {
      begin(oldest);
      await killAfterFirstStatement(round * 2);
      const left = lookAt(before.shape);
      expect(left.content).toEqual(before.content);
      expect(left.rules).toEqual(rulesOfFormat(left.format));
      found.push(left.format);
      expectWhole(before);
    }
    const times = (format: number) => found.filter((each) => each === format).length;
    measured(
      'upgrade killed at any moment',
      `${found.length} times, undone ${times(oldest)}, complete ${times(newest)}`,
    );
  });
});

/** Kills so many milliseconds after the first statement was said; the whole upgrade is over within some 40 to 100. */
async function killAfterFirstStatement(milliseconds: number): Promise<void> {
  const running = spawn(process.execPath, [child, file], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = new Promise((resolve) => running.once('close', resolve));
  let timer: NodeJS.Timeout | undefined;
  running.stdout.once('data', () => {
    timer = setTimeout(() => running.kill('SIGKILL'), milliseconds);
    running.stdout.resume();
  });
  await ended;
  clearTimeout(timer);
}

/** Runs a file of Tarebook on this test's ledger. */
function run(script: string, ...args: string[]) {
  const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0' };
  const input = 'a passphrase of several words\n';
  const { status, stdout, stderr } = spawnSync(process.execPath, [join(root, script), ...args], {
    cwd: folder,
    env,
    input,
    encoding: 'utf8',
    timeout: 60_000,
  });
  return { status, out: stdout, err: stderr };
}

test('two processes that open the same old ledger at once both find it upgraded and whole', async () => {
  const [oldest = 1] = keptFormats;
  const rounds = trials(1, 20);
  for (let round = 0; round < rounds; round += 1) {
    begin(oldest);
    const before = lookAt();
    const both = await Promise.all([checkElsewhere(), checkElsewhere()]);
    for (const { code, out, err } of both) expect([code, err, /All \d+ hold\./.test(out)]).toEqual([0, '', true]);
    expectWhole(before);
  }
  measured('two processes upgrade the same ledger at once', `${rounds} times, whole each time`);
});

async function checkElsewhere(): Promise<{ code: unknown; out: string; err: string }> {
  const env = { ...process.env, TAREBOOK_DATA: folder };
  const running = spawn(process.execPath, [join(root, 'server/commands/check.ts')], { env });
  let [out, err] = ['', ''];
  running.stdout.on('data', (data) => {
    out += data;
  });
  running.stderr.on('data', (data) => {
    err += data;
  });
  const code = await new Promise((resolve) => running.once('close', resolve));
  return { code, out, err };
}

/** Every file in the folder by the hash of its bytes; the shared memory beside a log holds nothing of its own. */
const filesNow = (): Record<string, string> =>
  Object.fromEntries(
    readdirSync(folder)
      // What programs share while they run, and the empty file by which only one server has a ledger.
      .filter((name) => !name.endsWith('-shm') && name !== 'serving.sqlite')
      .sort()
      .map((name) => [
        name,
        createHash('sha256')
          .update(readFileSync(join(folder, name)))
          .digest('hex'),
      ]),
  );

/** What opens the ledger: the server, and every command with what it needs at least. */
const OPENERS: [string, ...string[]][] = [
  ['server/main.ts'],
  ['server/commands/check.ts'],
  ['server/commands/export.ts', 'grades'],
  ['server/commands/import.ts', 'grades', join(root, 'tests/published/worked/grades.csv')],
  ['server/commands/passphrase.ts'],
];

function makeNewer(mode: 'delete' | 'wal'): void {
  begin(keptFormats.at(-1) ?? 1);
  const sqlite = new Database(file);
  sqlite.pragma(`journal_mode = ${mode}`);
  sqlite.pragma(`user_version = ${newest + 1}`);
  sqlite.close();
}

/** As a stopped process leaves it: the newest of it still in the log beside the file. */
function makeNewerStopped(): void {
  begin(keptFormats.at(-1) ?? 1);
  const sqlite = new Database(file);
  sqlite.pragma('journal_mode = WAL');
  sqlite.pragma('wal_checkpoint(TRUNCATE)');
  sqlite.pragma(`user_version = ${newest + 1}`);
  const [copy, log] = [readFileSync(file), readFileSync(`${file}-wal`)];
  sqlite.close();
  emptyFolder();
  writeFileSync(file, copy);
  writeFileSync(`${file}-wal`, log);
}

describe('a ledger of a newer Tarebook', () => {
  const states = [
    ['closed', () => makeNewer('wal')],
    ['as a plain file', () => makeNewer('delete')],
    ['with a log beside it', makeNewerStopped],
  ] as const;
  test.each(states)('%s is refused by the server and every command, and left byte for byte as it is', (_, make) => {
    make();
    const before = filesNow();
    for (const [script, ...args] of isThorough ? OPENERS : OPENERS.slice(1, 2)) {
      const { status, out, err } = run(script, ...args);
      expect([script, status, out]).toEqual([script, 1, '']);
      expect(err).toMatch(
        /^(Tarebook could not start: )?This ledger was written by a newer Tarebook \(format \d+, .*\n$/,
      );
      expect(filesNow()).toEqual(before);
    }
  });
});

describe('a file of another program', () => {
  /** Files that SQLite can open and that are no ledgers. */
  const strangers: [string, (sqlite: Database.Database) => void][] = [
    [
      'with tables of its own',
      (sqlite) => sqlite.exec('create table setting (name text); create table notes (body text)'),
    ],
    ['with a format number', (sqlite) => sqlite.exec('create table notes (body text); pragma user_version = 3')],
    ['marked as its own', (sqlite) => sqlite.exec('pragma application_id = 252006673')],
  ];
  test.each(strangers)('%s is refused by the server and every command, and left byte for byte as it is', (_, make) => {
    const sqlite = new Database(file);
    make(sqlite);
    sqlite.close();
    const before = filesNow();
    for (const [script, ...args] of isThorough ? OPENERS : OPENERS.slice(1, 2)) {
      const { status, out, err } = run(script, ...args);
      expect([script, status, out]).toEqual([script, 1, '']);
      expect(err).toMatch(
        /^(Tarebook could not start: )?\S*ledger\.sqlite is not a ledger but a file of another program\..*\n$/,
      );
      expect(filesNow()).toEqual(before);
    }
  });

  test('an empty file becomes a ledger, because there is nothing in it to lose', () => {
    writeFileSync(file, '');
    expect(run('server/commands/check.ts').err).toBe('');
    expect(lookAt().format).toBe(newest);
  });
});
