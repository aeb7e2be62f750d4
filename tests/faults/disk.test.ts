import { readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { systemClock } from '../../server/clock.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { clock } from '../helper.ts';
import { brokenIn } from './damage.ts';
import { SmallDisk, WITH_SMALL_DISKS } from './mounts.ts';
import { type Answer, ask, type Running, randomFrom, run, send, startServer } from './server.ts';
import { measured, trials } from './trials.ts';
import { binId, Client, countMarks, gradeId, idIn, type Post, sendPost, setUpForTrials } from './writing.ts';

// A disk that is full or may only be read: a plain sentence, no "saved" that is none, nothing damaged, and on it goes
// as soon as there is room again.

const NO_ROOM = 'There is no room left on the disk for the ledger. Make some room, then try again.';
const NO_ROOM_FOR_FILES = 'There is no room left on the disk for what was sent. Make some room, then send it again.';
const canTry = WITH_SMALL_DISKS === '';

let disk: SmallDisk;
let server: Running | null;
beforeEach(() => {
  server = null;
});
afterEach(async () => {
  await server?.end();
  if (canTry) disk.remove();
});

let ids: { bin: string; grade: string };

function begin(megabytes: number): void {
  disk = new SmallDisk(megabytes);
  const ledger = openLedger(openDb(join(disk.folder, 'ledger.sqlite')), clock);
  setUpForTrials(ledger);
  ids = { bin: String(binId(ledger, 'YB1')), grade: String(gradeId(ledger, 'Yellow brass')) };
  ledger.db.close();
}

/** Looks at the ledger as another program that only reads it. */
function look<Result>(act: (sqlite: SqliteDatabase.Database) => Result): Result {
  const sqlite = new SqliteDatabase(join(disk.folder, 'ledger.sqlite'), { readonly: true });
  try {
    return act(sqlite);
  } finally {
    sqlite.close();
  }
}
const broken = () => brokenIn(join(disk.folder, 'ledger.sqlite'));

const words = (body: string): string => body.replaceAll('&#39;', "'").replaceAll('&quot;', '"');

/** Sends a form until the disk takes no more of its kind. @returns what was saved, and the one that was refused */
async function untilRefused(
  url: string,
  next: () => Post,
  most = 400,
): Promise<{ saved: Post[]; refused: Post; answer: Answer }> {
  const saved: Post[] = [];
  for (let count = 0; count < most; count += 1) {
    const post = next();
    const answer = await sendPost(url, post);
    if (answer.status === 503) return { saved, refused: post, answer };
    expect([post.path, answer.status]).toEqual([post.path, 303]);
    saved.push(post);
  }
  throw new Error('the disk took everything');
}

/** Every saved one is there, and none of the refused. */
function expectStored(saved: readonly Post[], refused: readonly Post[]): void {
  const counts = look(countMarks);
  expect(saved.filter(({ kind, mark, rows }) => counts(kind, mark) !== rows)).toEqual([]);
  expect(refused.filter(({ kind, mark }) => counts(kind, mark) !== 0)).toEqual([]);
}

const ROUNDS_A_DISK = 10;

/** One disk, filled to a little room each time, with a kill in between now and then. */
async function fillAgainAndAgain(rounds: number, random: () => number): Promise<{ answered: number; refused: number }> {
  begin(12);
  const saved: Post[] = [];
  const refused: Post[] = [];
  server = await startServer(disk.folder);
  for (let round = 0; round < rounds; round += 1) {
    const client = new Client(`little-${round}`, systemClock.today());
    disk.fill(Math.floor(random() * 150));
    for (const next of [
      () => client.weighing(),
      () => client.board(),
      () => client.paper(Math.floor(random() * 1e5)),
    ]) {
      const result = await untilRefused(server.url, next);
      saved.push(...result.saved);
      refused.push(result.refused);
    }
    expectStored(saved, refused);
    disk.makeRoom();
    if (round % 3 !== 0) continue;
    await server.end();
    server = await startServer(disk.folder);
    expectStored(saved, refused);
    expect(broken()).toEqual([]);
  }
  expect(await server.end('SIGTERM')).toBe(0);
  server = null;
  disk.remove();
  return { answered: saved.length, refused: refused.length };
}

describe.skipIf(!canTry)(`a disk that is full${WITH_SMALL_DISKS}`, () => {
  test('refuses weighings, corrections, boards, manifests, tickets, papers and files in a sentence, and each goes in once there is room', async () => {
    begin(6);
    server = await startServer(disk.folder);
    const { url } = server;
    const client = new Client('full', systemClock.today());
    const manifest = idIn((await sendPost(url, client.manifest(ids.bin))).location);
    const sold = idIn((await sendPost(url, client.manifest(ids.bin))).location);
    expect((await sendPost(url, client.loading(sold, sold))).status).toBe(303);
    const [first, second] = [client.weighing(), client.weighing()];
    const firstId = idIn((await sendPost(url, first)).location);
    const secondId = idIn((await sendPost(url, second)).location);
    disk.fill();
    const { saved, refused, answer } = await untilRefused(url, () => client.weighing());
    expect(words(answer.body)).toContain(NO_ROOM);
    expect(answer.body).toContain(`>${refused.mark}</textarea>`);
    expect(answer.body).toContain(`value="${refused.fields.requestKey}"`);
    const others = [
      client.correction(firstId),
      client.undo(secondId),
      client.board(),
      client.manifest(ids.bin),
      client.loading(manifest, manifest),
      client.ticket(sold, ids.grade),
      client.paper(),
    ];
    for (const post of others) {
      const { status, body } = await sendPost(url, post);
      expect([post.kind, status]).toEqual([post.kind, 503]);
      expect(words(body)).toContain(NO_ROOM);
      for (const [field, typed] of Object.entries(post.fields)) {
        if (['note', 'seenWhere', 'reason', 'caption', 'number', 'requestKey'].includes(field))
          expect(body).toContain(typed);
      }
    }
    const text = `name,family,quoted_per\n${Array.from({ length: 300 }, (_, row) => `Grade ${row},copper,lb`).join('\n')}\n`;
    const content = Buffer.from(text).toString('base64url');
    const file = { kind: 'grades', step: 'import', content, requestKey: 'a-file-when-full' };
    const notTaken = await send(url, '/import', file);
    expect([notTaken.status, words(notTaken.body).includes(NO_ROOM)]).toEqual([503, true]);
    writeFileSync('/dev/shm/tarebook-grades.csv', text);
    const command = run('commands/import.ts', disk.folder, ['grades', '/dev/shm/tarebook-grades.csv']);
    rmSync('/dev/shm/tarebook-grades.csv');
    expect(command).toEqual({ status: 1, out: '', err: `${NO_ROOM}\n` });
    for (const page of ['/', '/weigh-in', '/bins/CU2', '/reports']) expect((await ask(url, page)).status).toBe(200);
    expectStored([first, second, ...saved], [refused, ...others]);
    expect(broken()).toEqual([]);
    disk.makeRoom();
    for (const post of [refused, ...others]) {
      expect([post.kind, (await sendPost(url, post)).status]).toEqual([post.kind, 303]);
    }
    expect((await send(url, '/import', file)).status).toBe(303);
    expectStored([refused, ...others], []);
    expect(broken()).toEqual([]);
    expect(await server.end('SIGTERM')).toBe(0);
  }, 60_000);

  test('again and again, with a little room each time: what was answered is there, and after a kill too', async () => {
    const random = randomFrom(20251125);
    const rounds = trials(1, 60);
    let [answered, refused] = [0, 0];
    for (let round = 0; round < rounds; round += ROUNDS_A_DISK) {
      const done = await fillAgainAndAgain(Math.min(ROUNDS_A_DISK, rounds - round), random);
      answered += done.answered;
      refused += done.refused;
    }
    measured('disk filled up, rounds', String(rounds));
    measured(
      'posts saved with a little room, and there; refused without any, and not there',
      `${answered}; ${refused}`,
    );
  }, 900_000);

  test('when the log is to be brought in: it waits in the log, and nothing of it is lost', async () => {
    begin(40);
    server = await startServer(disk.folder);
    const { url } = server;
    const client = new Client('log', systemClock.today());
    // From 1,000 pages of the log on, 4 MB, the server brings it in at every post; the ledger's file has no room for it then.
    disk.fill((22 * 1024) / 4);
    const { saved, answer } = await untilRefused(url, () => client.paper(1_000_000));
    expect(words(answer.body)).toContain(NO_ROOM);
    const log = statSync(join(disk.folder, 'ledger.sqlite-wal')).size;
    expect(log).toBeGreaterThan(1000 * 4096);
    expectStored(saved, []);
    await server.end();
    server = null;
    // Cut off with all of it in the log, and the disk still full.
    const early = await startServer(disk.folder).catch(String);
    if (typeof early === 'string') expect(early).toContain(`Tarebook could not start: ${NO_ROOM}`);
    else {
      expect((await ask(early.url, '/')).status).toBe(200);
      await early.end();
    }
    disk.makeRoom();
    server = await startServer(disk.folder);
    expectStored(saved, []);
    expect((await sendPost(server.url, client.paper(1_000_000))).status).toBe(303);
    expect(broken()).toEqual([]);
    expect(await server.end('SIGTERM')).toBe(0);
    expectStored(saved, []);
    measured('log that could not be brought into a full disk, and was whole after a kill, MB', (log / 1e6).toFixed(1));
  }, 60_000);

  test('at the start: one sentence, the ledger stays as it is, and starts once there is room', async () => {
    begin(3);
    const before = readFileSync(join(disk.folder, 'ledger.sqlite'));
    disk.fill();
    const sentence = `Tarebook could not start: ${NO_ROOM}\n`;
    expect(run('main.ts', disk.folder)).toEqual({ status: 1, out: '', err: sentence });
    expect(run('commands/check.ts', disk.folder)).toEqual({ status: 1, out: '', err: `${NO_ROOM}\n` });
    expect(readFileSync(join(disk.folder, 'ledger.sqlite')).equals(before)).toBe(true);
    disk.makeRoom();
    server = await startServer(disk.folder);
    expect(broken()).toEqual([]);
    await server.end('SIGTERM');
    for (const name of ['', '-wal', '-shm']) rmSync(join(disk.folder, `ledger.sqlite${name}`), { force: true });
    disk.fill();
    expect(run('main.ts', disk.folder)).toEqual({ status: 1, out: '', err: sentence });
    disk.makeRoom();
    server = await startServer(disk.folder);
    expect(broken()).toEqual([]);
  }, 60_000);

  test('where temporary files go: papers wait, everything else goes on', async () => {
    disk = new SmallDisk(1);
    const data = new SmallDisk(6);
    const folder = data.folder;
    try {
      const ledger = openLedger(openDb(join(folder, 'ledger.sqlite')), clock);
      setUpForTrials(ledger);
      ledger.db.close();
      server = await startServer(folder, { env: { TMPDIR: disk.folder } });
      const { url } = server;
      const client = new Client('temporary', systemClock.today());
      disk.fill();
      const paper = client.paper();
      const answer = await sendPost(url, paper);
      expect([answer.status, words(answer.body).includes(NO_ROOM_FOR_FILES)]).toEqual([503, true]);
      expect(answer.body).toContain(`value="${paper.mark}"`);
      expect((await sendPost(url, client.weighing())).status).toBe(303);
      disk.makeRoom();
      expect((await sendPost(url, paper)).status).toBe(303);
      expect(await server.end('SIGTERM')).toBe(0);
    } finally {
      await server?.end();
      data.remove();
    }
  }, 60_000);
});

describe.skipIf(!canTry)(`a disk that may only be read${WITH_SMALL_DISKS}`, () => {
  test('is left as it is: the server and the commands say what is wrong, or show pages and save nothing', async () => {
    begin(6);
    disk.lock();
    const before = readFileSync(join(disk.folder, 'ledger.sqlite'));
    const sentences = [
      'The ledger file cannot be opened. Look at the rights of its folder.',
      'The ledger file may be read but not written here. Look at the rights of its folder.',
    ];
    const start = run('main.ts', disk.folder);
    expect([start.status, start.out]).toEqual([1, '']);
    expect(sentences.map((sentence) => `Tarebook could not start: ${sentence}\n`)).toContain(start.err);
    for (const command of [['commands/check.ts'], ['commands/export.ts', 'grades']]) {
      const [script = '', ...args] = command;
      const { status, err } = run(script, disk.folder, args);
      expect(status).toBe(1);
      expect(sentences.map((sentence) => `${sentence}\n`)).toContain(err);
    }
    expect(readFileSync(join(disk.folder, 'ledger.sqlite')).equals(before)).toBe(true);
  }, 60_000);
});
