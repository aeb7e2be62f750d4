import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { checkLedger } from '../server/check/checks.ts';
import { openLedger } from '../server/context.ts';
import { openDb } from '../server/db/open.ts';
import { clock, setUpWorkedExample } from './helper.ts';
import { type FormFile, sendFiles } from './multipart.ts';
import * as pictures from './pictures.ts';

// The real server in a process of its own, whose memory Linux tells: what photos and what only looks like some cost.

const MAIN = fileURLToPath(new URL('../server/main.ts', import.meta.url));
const MOST_MB = 150;
/** Node, the decoder and one photo, for as long as it takes. */
const MOST_DECODER_MB = 260;

const megabytes = (pid: number | string, what: 'VmRSS' | 'VmHWM'): number => {
  const status = readFileSync(`/proc/${pid}/status`, 'utf8');
  return Number(new RegExp(`${what}:\\s+(\\d+) kB`).exec(status)?.[1] ?? 0) / 1024;
};

/** The processes that another one started. */
const childrenOf = (pid: number): string[] =>
  readdirSync('/proc').filter((name) => {
    try {
      return (
        /^\d+$/.test(name) && / [A-Z] (\d+) /.exec(readFileSync(`/proc/${name}/stat`, 'utf8'))?.[1] === String(pid)
      );
    } catch {
      // It ended meanwhile.
      return false;
    }
  });

describe.skipIf(!existsSync('/proc/self/status'))('the memory of the server while files are sent', () => {
  let folder: string;
  let server: ChildProcess;
  let pid: number;
  let address: string;
  let decoderMb = 0;
  /** Server and decoder at one time. */
  let togetherMb = 0;
  let watch: NodeJS.Timeout;

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), 'tarebook-memory-'));
    const db = openDb(join(folder, 'ledger.sqlite'));
    setUpWorkedExample(openLedger(db, clock));
    db.close();
    const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0' };
    server = spawn(process.execPath, [MAIN], { env, stdio: ['ignore', 'pipe', 'inherit'] });
    pid = server.pid ?? 0;
    address = await new Promise((resolve, reject) => {
      server.once('exit', () => reject(new Error('the server ended')));
      server.stdout?.on('data', (text) => {
        const found = /(http:\/\/127\.0\.0\.1:\d+)/.exec(String(text))?.[1];
        if (found !== undefined) resolve(found);
      });
    });
    for (let asked = 0; asked < 20; asked += 1) await (await fetch(`${address}/bins/CU2`)).text();
    watch = setInterval(() => {
      let sum = megabytes(pid, 'VmRSS');
      for (const child of childrenOf(pid)) {
        try {
          decoderMb = Math.max(decoderMb, megabytes(child, 'VmHWM'));
          sum += megabytes(child, 'VmRSS');
        } catch {
          // It ended meanwhile.
        }
      }
      togetherMb = Math.max(togetherMb, sum);
    }, 15);
  });
  afterAll(async () => {
    clearInterval(watch);
    const ended = new Promise((resolve) => server.once('exit', resolve));
    server.kill();
    await ended;
    rmSync(folder, { recursive: true, force: true });
  });

  let sent = 0;
  const send = (files: FormFile[]) => {
    sent += 1;
    return sendFiles(address, '/bins/CU2/photos', { requestKey: `memory-${sent}`, caption: '' }, files);
  };

  /** How much higher than before the memory of the server ever was meanwhile. */
  async function growth(act: () => Promise<unknown>): Promise<{ server: number; together: number }> {
    const before = megabytes(pid, 'VmRSS');
    // Begins the highest mark anew.
    writeFileSync(`/proc/${pid}/clear_refs`, '5');
    togetherMb = 0;
    await act();
    return { server: megabytes(pid, 'VmHWM') - before, together: togetherMb - before };
  }

  test('stays within bounds, whatever is sent, and nothing of what is refused is stored', async () => {
    const bad: FormFile[] = [
      { name: 'vast.png', bytes: pictures.vastPng() },
      { name: 'vast.jpg', bytes: await pictures.vastJpeg() },
      { name: 'pixels.png', bytes: pictures.pixelBomb() },
      ...Object.entries(pictures.textBombs()).map(([name, bytes]) => ({ name: `${name}.png`, bytes })),
      { name: 'passes.jpg', bytes: await pictures.plainJpeg(8000, 8000, '#444444', true) },
      { name: 'passes.png', bytes: await pictures.plainPng(8000, 8000, true) },
      { name: 'x.svg', bytes: pictures.svg() },
      { name: 'x.zip', bytes: pictures.zip() },
      { name: 'empty.jpg', bytes: Buffer.alloc(0) },
      { name: 'large.pdf', bytes: pictures.somePdf('large', 40_000_000) },
    ];
    const photo = await pictures.busyJpeg(4000, 3000);
    const half = { name: 'half.jpg', bytes: photo.subarray(0, photo.length / 2) };
    const papers = (count: number, bytes: number) =>
      Array.from({ length: count }, (_, index) => ({ name: 'p.pdf', bytes: pictures.somePdf(`${index}`, bytes) }));
    // Of all that is refused this alone gets as far as the decoder's picture, so both count together.
    const halfAlone = await growth(async () => expect((await send([half])).status).toBe(422));
    const refused = await growth(async () => {
      for (const file of [...bad, half]) expect([file.name, (await send([file])).status]).toEqual([file.name, 422]);
      expect((await send(papers(11, 1_000_000))).status).toBe(422);
      expect((await send(papers(8, 11_000_000))).status).toBe(422);
    });
    const dense = { name: 'dense.jpg', bytes: await pictures.plainJpeg(8000, 8000) };
    const shot = { name: 'shot.png', bytes: await pictures.plainPng(8000, 8000) };
    const many = Array.from({ length: 10 }, (_, index) => {
      const bytes = Buffer.from(photo);
      // Another photo each time, as far as its bytes go: what follows the end of a JPEG is not looked at.
      return { name: `${index}.jpg`, bytes: Buffer.concat([bytes, Buffer.from(`${index}`)]) };
    });
    const taken = await growth(async () => {
      for (const files of [[dense], [shot], many, papers(5, 11_900_000)]) {
        const { status, body } = await send(files);
        expect([files[0]?.name, status, body.slice(0, 200)]).toEqual([files[0]?.name, 303, '']);
      }
    });
    console.log(
      `a photo cut off: +${halfAlone.together.toFixed(0)} MB with the decoder; refused: +${refused.server.toFixed(0)} MB, with the decoder +${refused.together.toFixed(0)} MB; ` +
        `taken: +${taken.server.toFixed(0)} MB, with the decoder +${taken.together.toFixed(0)} MB`,
    );
    expect(halfAlone.together).toBeLessThan(MOST_MB);
    expect(refused.server).toBeLessThan(MOST_MB);
    expect(taken.server).toBeLessThan(MOST_MB);
    expect(decoderMb).toBeGreaterThan(20);
    expect(decoderMb).toBeLessThan(MOST_DECODER_MB);
    const db = openDb(join(folder, 'ledger.sqlite'));
    expect(db.sqlite.prepare('select count(*) from attachment').pluck().get()).toBe(1 + 1 + 10 + 5);
    expect(checkLedger(openLedger(db, clock)).filter(({ found }) => found.length > 0)).toEqual([]);
    db.close();
  }, 120_000);
});
