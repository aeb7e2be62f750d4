import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { OWN_FIELDS, OWN_POST } from '../helper.ts';
import { MULTIPART, multipartBody } from '../multipart.ts';

// The real server and the real commands, each in a process of its own, as a person starts them.

const root = fileURLToPath(new URL('../..', import.meta.url));

export interface Running {
  readonly url: string;
  readonly child: ChildProcess;
  /** From the start of the process until GET /health answered. */
  readonly readyMs: number;
  /** Everything that it said so far. */
  said(): string;
  /** What of it went to its error output. */
  errors(): string;
  /** `kill -9`, or another signal; resolves once the process is gone, with its exit code. */
  end(signal?: NodeJS.Signals): Promise<number | null>;
}

export interface StartOptions {
  env?: Record<string, string>;
  /** Before the script: `--import` of something that disturbs. */
  nodeArgs?: readonly string[];
}

/** Starts server/main.ts on the ledger of a folder, on a free port. Throws with what it said when it ends instead. */
export async function startServer(folder: string, { env = {}, nodeArgs = [] }: StartOptions = {}): Promise<Running> {
  const began = performance.now();
  const child = spawn(process.execPath, [...nodeArgs, join(root, 'server/main.ts')], {
    env: { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  let errors = '';
  child.stderr.on('data', (text) => {
    errors += text;
  });
  const gone = new Promise<number | null>((resolve) => child.once('exit', resolve));
  let said = '';
  const url = await new Promise<string>((resolve, reject) => {
    child.stdout.on('data', (text) => {
      said += text;
      const found = /(http:\/\/127\.0\.0\.1:\d+)\//.exec(said)?.[1];
      if (found !== undefined) resolve(found);
    });
    child.once('close', (code) => reject(new Error(`the server ended with ${code}: ${errors}`)));
  });
  const end = (signal: NodeJS.Signals = 'SIGKILL') => {
    child.kill(signal);
    return gone;
  };
  if ((await fetch(`${url}/health`)).status !== 200) throw new Error('the server is not well');
  const readyMs = performance.now() - began;
  return { url, child, readyMs, said: () => said + errors, errors: () => errors, end };
}

export interface Ran {
  status: number | null;
  out: string;
  err: string;
}

/** Runs a command, or the server where it is to end by itself, on the ledger of a folder. */
export function run(
  script: string,
  folder: string,
  args: readonly string[] = [],
  { env = {}, nodeArgs = [] }: StartOptions = {},
): Ran {
  const { status, stdout, stderr } = spawnSync(process.execPath, [...nodeArgs, join(root, 'server', script), ...args], {
    env: { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', ...env },
    encoding: 'utf8',
    timeout: 60_000,
  });
  return { status, out: stdout, err: stderr };
}

export interface Answer {
  status: number;
  location: string;
  body: string;
}

const HEADERS = { cookie: OWN_POST.cookie };

const answerOf = async (response: Response): Promise<Answer> => ({
  status: response.status,
  location: response.headers.get('location') ?? '',
  body: await response.text(),
});

/** Asks for a page as the browser of this computer does. */
export const ask = async (url: string, path: string): Promise<Answer> =>
  answerOf(await fetch(url + path, { headers: HEADERS, redirect: 'manual' }));

/** Posts a form as the browser of this computer does. Rejects when there is no answer. */
export const send = async (url: string, path: string, fields: Readonly<Record<string, string>>): Promise<Answer> =>
  answerOf(
    await fetch(url + path, {
      method: 'POST',
      headers: { ...HEADERS, origin: url, 'content-type': 'application/x-www-form-urlencoded' },
      body: new URLSearchParams({ ...OWN_FIELDS, ...fields }).toString(),
      redirect: 'manual',
    }),
  );

/** Posts a form with one PDF, which is kept as it is sent. */
export const sendPaper = async (
  url: string,
  path: string,
  fields: Readonly<Record<string, string>>,
  bytes: Uint8Array,
): Promise<Answer> =>
  answerOf(
    await fetch(url + path, {
      method: 'POST',
      headers: { ...HEADERS, origin: url, 'content-type': MULTIPART },
      body: new Uint8Array(multipartBody(fields, [{ name: 'paper.pdf', bytes }])),
      redirect: 'manual',
    }),
  );

/** A stream of numbers from 0 up to 1 that is the same at every run (mulberry32, public domain, from memory). */
export function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
}

export const later = (ms: number): Promise<void> => new Promise((resolve) => setTimeout(resolve, ms));

/** Middle and largest of some figures. */
export const middleAndMost = (figures: readonly number[]): [number, number] => {
  const sorted = figures.toSorted((a, b) => a - b);
  return [sorted[Math.floor(sorted.length / 2)] ?? 0, sorted.at(-1) ?? 0];
};
