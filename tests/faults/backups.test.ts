import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import {
  chmodSync,
  closeSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statfsSync,
  statSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { findBackups, ownFolder } from '../../server/backups/folder.ts';
import { Keeper } from '../../server/backups/keeper.ts';
import { storeChosenFolder } from '../../server/backups/queries.ts';
import { prepareRestore, putInPlace } from '../../server/backups/restoring.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { day } from '../../server/units/day.ts';
import { clock, get, massIn, post, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';
import { measured, trials } from './trials.ts';

// What may befall a backup or a restore: somebody works on, the process is killed, the disk is full, the stick is pulled,
// the ledger itself is damaged. Real processes and real disks (a small one in memory where this account may mount one).

const root = fileURLToPath(new URL('../..', import.meta.url));
const module = (path: string): string => new URL(`../../server/${path}`, import.meta.url).href;

let folder: string;
let ledgerFile: string;
const open: (() => unknown)[] = [];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-backups-'));
  ledgerFile = join(folder, 'ledger.sqlite');
});
afterEach(async () => {
  for (const close of open.splice(0).toReversed()) await close();
  rmSync(folder, { recursive: true, force: true });
});

function begin(file = ledgerFile): Ledger {
  const ledger = openLedger(openDb(file), clock);
  open.push(() => ledger.db.sqlite.open && ledger.db.close());
  setUpWorkedExample(ledger);
  weighIn(ledger, 'CU2', '10');
  return ledger;
}

function keep(ledger: Ledger, on = clock): { keeper: Keeper; said: string[] } {
  const said: string[] = [];
  const keeper = new Keeper({ db: ledger.db, ledger: ledgerFile, clock: on, log: (line) => said.push(line) });
  open.push(() => keeper.close());
  return { keeper, said };
}

const clockOn = (on: string) => ({ today: () => day(on), now: () => `${on}T12:00:00.000Z` });

/** Fills a ledger up to some megabytes. */
function fill(ledger: Ledger, megabytes: number): void {
  ledger.db.transaction(() => {
    for (let count = 0; count < megabytes * 4; count += 1) {
      weighIn(ledger, 'YB1', '1', '2025-03-01', { note: `${count} ${'x'.repeat(100)}` });
      ledger.db.insert('request', {
        key: `f${count}`,
        fingerprint: 'x'.repeat(250_000),
        location: '/',
        recorded_at: '',
      });
    }
  });
}

const brokenIn = (file: string): string[] => {
  const db = openDb(file);
  const found = checkLedger(openLedger(db, clock)).flatMap((each) => each.found);
  db.close();
  return found;
};

const massOf = (file: string): number => {
  const db = openDb(file);
  const mass = massIn(openLedger(db, clock), 'CU2');
  db.close();
  return mass;
};

/** A small disk of its own, or null where this account may not mount one. */
function mountDisk(kilobytes: number, name = 'disk'): string | null {
  const disk = join(folder, name);
  mkdirSync(disk, { recursive: true });
  if (process.platform !== 'linux' || process.getuid?.() !== 0) return null;
  const mounted = spawnSync('mount', ['-t', 'tmpfs', '-o', `size=${kilobytes}k`, 'tmpfs', disk]);
  if (mounted.status !== 0) return null;
  open.unshift(() => spawnSync('umount', ['-l', disk]));
  return disk;
}

describe('somebody works on', () => {
  let app: FastifyInstance;
  const weighing = (count: number) => ({ bin: 'CU2', gross: '1', unit: 'lb', occurredOn: TODAY, note: `n${count}` });

  test('while the server makes one, every post goes in, and the backup is the ledger of one moment', async () => {
    const ledger = begin();
    fill(ledger, trials(10, 200));
    const { keeper } = keep(ledger);
    app = await buildApp({ db: ledger.db, clock, backups: keeper });
    open.push(() => app.close());
    let isOver = false;
    const made = keeper.make().finally(() => {
      isOver = true;
    });
    const waits: number[] = [];
    let refused = 0;
    for (let count = 0; !isOver; count += 1) {
      const from = performance.now();
      refused += (await post(app, '/in-weights', weighing(count))).statusCode === 303 ? 0 : 1;
      waits.push(performance.now() - from);
      await new Promise((resolve) => setImmediate(resolve));
    }
    await made;
    waits.sort((a, b) => a - b);
    const [found] = findBackups(ownFolder(ledgerFile));
    expect([refused, found?.isGood]).toEqual([0, true]);
    expect(waits.length).toBeGreaterThan(20);
    expect(brokenIn(found?.file ?? '')).toEqual([]);
    const had = massOf(found?.file ?? '') / massOf(ledgerFile);
    expect(had).toBeGreaterThan(0);
    expect(had).toBeLessThan(1);
    measured(
      `backup of ${Math.round((found?.bytes ?? 0) / 1e6)} MB under steady posts`,
      `${waits.length} posts, longest ${waits.at(-1)?.toFixed(0)} ms, median ${waits[waits.length >> 1]?.toFixed(1)} ms`,
    );
  }, 300_000);

  test('while another program copies under a steady bench, the copy comes to its end', async () => {
    const ledger = begin();
    fill(ledger, trials(10, 100));
    const script = join(root, 'server/commands/backup.ts');
    const child = spawn(process.execPath, [script], { env: { ...process.env, TAREBOOK_DATA: folder } });
    let said = '';
    child.stdout.on('data', (chunk) => {
      said += chunk;
    });
    const ended = new Promise((resolve) => child.once('exit', resolve));
    let count = 0;
    for (; child.exitCode === null && child.signalCode === null; count += 1) {
      weighIn(ledger, 'CU2', '1');
      if (count % 20 === 0) await new Promise((resolve) => setTimeout(resolve, 1));
    }
    expect([await ended, count > 100]).toEqual([0, true]);
    expect(said).toMatch(/is a good backup: \d/);
    ledger.db.close();
    expect(brokenIn(findBackups(ownFolder(ledgerFile))[0]?.file ?? '')).toEqual([]);
  }, 300_000);
});

describe('the process is killed', () => {
  const ALL_STEPS = ['copied', 'opened', 'checked', 'prepared', 'settled', 'kept', 'swapped'];
  const STEPS = ALL_STEPS.slice(-trials(2, ALL_STEPS.length));
  /** Restores, and kills itself right after a step. */
  const dying = (step: string, source: string): string => `
    import { prepareRestore, putInPlace } from '${module('backups/restoring.ts')}';
    const plan = {
      source: ${JSON.stringify(source)}, ledger: ${JSON.stringify(ledgerFile)}, dataFolder: ${JSON.stringify(folder)},
      onStep: (step) => step === '${step}' && process.kill(process.pid, 'SIGKILL'),
    };
    await putInPlace(await prepareRestore(plan), plan);`;

  test.for(STEPS)('after “%s” of a restore: one of the two is in place, the other is kept', async (step) => {
    const old = begin();
    const source = join(folder, 'source.sqlite');
    const other = begin(source);
    weighIn(other, 'CU2', '5');
    other.db.sqlite.pragma('journal_mode = DELETE');
    other.db.close();
    const before = readFileSync(source);
    // Left as a kill leaves it: the newest entry is in the helper file only.
    const beside = join(folder, 'held');
    mkdirSync(beside);
    weighIn(old, 'CU2', '7');
    for (const ending of ['', '-wal']) copyFileSync(`${ledgerFile}${ending}`, join(beside, `ledger.sqlite${ending}`));
    old.db.close();
    for (const ending of ['', '-wal']) renameSync(join(beside, `ledger.sqlite${ending}`), `${ledgerFile}${ending}`);
    const result = spawnSync(process.execPath, ['--input-type=module', '-e', dying(step, source)], {
      encoding: 'utf8',
    });
    expect([result.signal, result.stderr]).toEqual(['SIGKILL', '']);
    const pounds = (mass: number) => Math.round(mass / 453_592_370);
    expect(brokenIn(ledgerFile)).toEqual([]);
    expect(pounds(massOf(ledgerFile))).toBe(step === 'swapped' ? 15 : 17);
    expect(readFileSync(source)).toEqual(before);
    const asides = readdirSync(folder).filter((name) => /^ledger-before-restore-[\d-]+\.sqlite$/.test(name));
    expect(asides).toHaveLength(step === 'kept' || step === 'swapped' ? 1 : 0);
    for (const aside of asides) expect(pounds(massOf(join(folder, aside)))).toBe(17);
    // The next one goes through, and leaves nothing of the first behind.
    const plan = { source, ledger: ledgerFile, dataFolder: folder };
    await putInPlace(await prepareRestore(plan), plan);
    expect([pounds(massOf(ledgerFile)), brokenIn(ledgerFile)]).toEqual([15, []]);
    const { keeper } = keep(openLedger(openDb(ledgerFile), clock));
    await keeper.look();
    expect(readdirSync(folder).filter((name) => /^(restoring|trying)-/.test(name))).toEqual([]);
  });

  test('while a backup is made, at any moment: nothing under the name of a backup that is not whole', async () => {
    const ledger = begin();
    fill(ledger, 8);
    ledger.db.close();
    const script = join(root, 'server/commands/backup.ts');
    let made = 0;
    for (let round = 0; round < trials(2, 60); round += 1) {
      const child = spawn(process.execPath, [script], {
        env: { ...process.env, TAREBOOK_DATA: folder },
        stdio: 'ignore',
      });
      const ended = new Promise((resolve) => child.once('exit', resolve));
      await new Promise((resolve) => setTimeout(resolve, 150 + ((round * 37) % 600)));
      child.kill('SIGKILL');
      await ended;
      for (const { file, isGood } of findBackups(ownFolder(ledgerFile))) {
        made += 1;
        expect([isGood, brokenIn(file)]).toEqual([true, []]);
        rmSync(file);
      }
    }
    expect(brokenIn(ledgerFile)).toEqual([]);
    measured('backups killed on the way', `${trials(2, 60)} rounds, ${made} were done before, no other has a name`);
  }, 300_000);

  test('while the server takes a restored ledger over, at any moment', async () => {
    begin().db.close();
    const source = join(folder, 'source.sqlite');
    const other = begin(source);
    weighIn(other, 'CU2', '5');
    other.db.close();
    const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', TAREBOOK_HOST: '127.0.0.1' };
    let taken = 0;
    for (let round = 0; round < trials(1, 30); round += 1) {
      const server = spawn(process.execPath, [join(root, 'server/main.ts')], {
        env,
        stdio: ['ignore', 'pipe', 'inherit'],
      });
      await new Promise((resolve) => server.stdout.once('data', resolve));
      const command = spawn(process.execPath, [join(root, 'server/commands/restore.ts'), source], {
        env,
        stdio: 'ignore',
      });
      await new Promise((resolve) => setTimeout(resolve, 800 + ((round * 197) % 3500)));
      for (const child of [server, command]) await killed(child);
      expect(brokenIn(ledgerFile)).toEqual([]);
      const asides = readdirSync(folder).filter((name) => /^ledger-before-restore-.*sqlite$/.test(name));
      const isIn = massOf(ledgerFile) === massOf(source);
      if (isIn) expect(asides.length).toBeGreaterThan(0);
      for (const aside of asides) expect(brokenIn(join(folder, aside))).toEqual([]);
      taken += isIn ? 1 : 0;
      rmSync(ledgerFile);
      for (const aside of asides) rmSync(join(folder, aside));
      begin().db.close();
    }
    measured(
      'servers killed while a restore was handed over',
      `${trials(1, 30)} rounds, ${taken} with the new ledger in place`,
    );
  }, 600_000);
});

const killed = (child: ChildProcess): Promise<unknown> => {
  if (child.exitCode !== null || child.signalCode !== null) return Promise.resolve();
  const ended = new Promise((resolve) => child.once('exit', resolve));
  child.kill('SIGKILL');
  return ended;
};

describe('the disk', () => {
  test('full: the backup is not there, what was there stays, the page says so, and it goes again once there is room', async (context) => {
    const ledger = begin();
    fill(ledger, 3);
    const disk = mountDisk(5_000);
    if (disk === null) return context.skip();
    storeChosenFolder(ledger.db, disk);
    const { keeper, said } = keep(ledger);
    await keeper.look();
    expect(findBackups(disk).map(({ isGood }) => isGood)).toEqual([true]);
    weighIn(ledger, 'CU2', '2');
    const app = await buildApp({ db: ledger.db, clock, backups: keeper });
    open.push(() => app.close());
    await keeper.make();
    expect(said).toEqual([expect.stringMatching(/^Backup: There is no room left on the disk/)]);
    expect(readdirSync(disk)).toEqual(findBackups(disk).map(({ fileName }) => fileName));
    expect((await get(app, '/setup/backups')).body).toContain('The last backup could not be made');
    expect((await get(app, '/')).body).toContain(
      'The last backup could not be made. There is no room left on the disk',
    );
    spawnSync('mount', ['-o', 'remount,size=20000k', disk]);
    await keeper.look();
    expect(findBackups(disk)).toHaveLength(1);
    expect((await get(app, '/')).body).not.toContain('backup');
  });

  test('too full for the copy before an upgrade: the upgrade does not begin', (context) => {
    const disk = mountDisk(6_000);
    if (disk === null) return context.skip();
    const file = join(disk, 'ledger.sqlite');
    const ledger = begin(file);
    fill(ledger, 1);
    ledger.db.sqlite.pragma('user_version = 6');
    ledger.db.sqlite.exec('drop table backup_note');
    ledger.db.close();
    const { bavail, bsize } = statfsSync(disk);
    writeFileSync(join(disk, 'other'), Buffer.alloc(bavail * bsize - 800_000));
    const before = readFileSync(file);
    expect(() => openDb(file)).toThrow(
      /backs it up first\. That failed, so nothing was changed\. There is no room left/,
    );
    expect(readFileSync(file)).toEqual(before);
    expect(readdirSync(join(disk, 'backups'))).toEqual([]);
  }, 60_000);

  test('pulled: they go to Tarebook’s own folder and it says so; plugged in again, they go there again', async () => {
    const ledger = begin();
    const stick = join(folder, 'stick');
    mkdirSync(stick);
    storeChosenFolder(ledger.db, stick);
    const first = keep(ledger, clockOn('2025-03-20'));
    await first.keeper.look();
    expect(findBackups(stick)).toHaveLength(1);
    rmSync(stick, { recursive: true });
    const second = keep(ledger, clockOn('2025-03-21'));
    await second.keeper.look();
    expect(existsSync(stick)).toBe(false);
    expect(findBackups(ownFolder(ledgerFile)).map((each) => each.day)).toEqual(['2025-03-21']);
    expect(second.keeper.reminder).toContain('The folder for backups is not there');
    mkdirSync(stick);
    const third = keep(ledger, clockOn('2025-03-22'));
    await third.keeper.look();
    expect(findBackups(stick).map((each) => each.day)).toEqual(['2025-03-22']);
    expect(third.keeper.reminder).toBeNull();
  }, 60_000);

  test('that may not be written to is as one that is not there', async (context) => {
    const ledger = begin();
    const disk = mountDisk(5_000);
    const target = disk ?? join(folder, 'disk');
    if (disk === null) chmodSync(target, 0o500);
    else spawnSync('mount', ['-o', 'remount,ro', disk]);
    if (disk === null && process.getuid?.() === 0) return context.skip();
    storeChosenFolder(ledger.db, target);
    const { keeper } = keep(ledger);
    await keeper.look();
    expect(keeper.state()).toMatchObject({ isElsewhere: true, folder: ownFolder(ledgerFile), failure: null });
    expect(findBackups(ownFolder(ledgerFile))).toHaveLength(1);
  }, 60_000);
});

describe('the ledger itself is damaged', () => {
  test('the copy is kept under a name that says so, counts as none, and pushes no good one out', async () => {
    const ledger = begin();
    const before = keep(ledger, clockOn('2025-03-20'));
    await before.keeper.look();
    ledger.db.sqlite.exec('drop trigger transfer_no_update');
    for (let count = 21; count < 21 + trials(2, 8); count += 1) {
      weighIn(ledger, 'CU2', '1');
      const { keeper, said } = keep(ledger, clockOn(`2025-03-${count}`));
      await keeper.look();
      await keeper.look();
      expect(said).toEqual([expect.stringContaining('The copy does not hold')]);
      expect(said[0]).toContain('transfer_no_update');
      expect(keeper.reminder).toContain('did not hold');
    }
    const all = findBackups(ownFolder(ledgerFile));
    expect(all.filter(({ isGood }) => isGood).map((each) => each.day)).toEqual(['2025-03-20']);
    expect(all.filter(({ isGood }) => !isGood).length).toBeLessThanOrEqual(8);
    expect(all.every(({ isGood, fileName }) => isGood || fileName.endsWith('-not-good.sqlite'))).toBe(true);
  }, 60_000);

  test('so much that it cannot be opened: a restore keeps it with all that lies beside it', async () => {
    const ledger = begin();
    const { keeper } = keep(ledger);
    await keeper.make();
    ledger.db.close();
    const damaged = openSync(ledgerFile, 'r+');
    writeSync(damaged, Buffer.from('no ledger any more, '.repeat(20)), 0, null, 0);
    closeSync(damaged);
    writeFileSync(`${ledgerFile}-wal`, 'newest entries, perhaps');
    const [backup] = findBackups(ownFolder(ledgerFile));
    const plan = { source: backup?.file ?? '', ledger: ledgerFile, dataFolder: folder };
    const prepared = await prepareRestore(plan);
    expect(prepared.beyond).toBeNull();
    const aside = await putInPlace(prepared, plan);
    expect(brokenIn(ledgerFile)).toEqual([]);
    expect(readFileSync(join(folder, aside ?? ''), 'latin1')).toContain('no ledger any more');
    expect(readFileSync(join(folder, `${aside}-wal`), 'latin1')).toBe('newest entries, perhaps');
  }, 60_000);

  test('a byte flipped in a backup: it is refused in a sentence, or gives back a ledger on which every check holds', async () => {
    const ledger = begin();
    fill(ledger, 1);
    const { keeper } = keep(ledger);
    await keeper.make();
    const [backup] = findBackups(ownFolder(ledgerFile));
    const file = join(folder, 'flipped.sqlite');
    const size = statSync(backup?.file ?? '').size;
    const plan = { source: file, ledger: ledgerFile, dataFolder: folder };
    for (let round = 0; round < trials(3, 100); round += 1) {
      copyFileSync(backup?.file ?? '', file);
      const opened = openSync(file, 'r+');
      writeSync(opened, Buffer.from([0xff ^ (round & 0xff)]), 0, 1, (round * 104_729) % size);
      closeSync(opened);
      const found = await prepareRestore(plan).then(
        ({ fresh }) => {
          const broken = brokenIn(fresh);
          rmSync(fresh);
          return broken;
        },
        (error: Error) => [error.message],
      );
      for (const sentence of found)
        expect(sentence).toMatch(/^This backup does not hold\.|is damaged or not a ledger|newer Tarebook/);
    }
    expect(readdirSync(folder).filter((name) => name.startsWith('restoring-'))).toEqual([]);
  }, 600_000);
});
