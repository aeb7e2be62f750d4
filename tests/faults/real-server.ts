import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { COOKIE } from '../../server/access/visitor.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { systemClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { formFields, TOKENS } from './demo-site.ts';
import { encoded } from './hostile.ts';

// The server as it is started, a process of its own on a ledger file, and requests over real sockets.

const root = fileURLToPath(new URL('../..', import.meta.url));

export interface RealServer {
  readonly folder: string;
  readonly origin: string;
  readonly port: number;
  readonly process: ChildProcess;
  /** What it wrote to its standard error so far. */
  complained(): string;
  /** Ends it and removes its ledger. @returns what it ended with */
  stop(): Promise<number | null>;
}

/** Starts a server on a ledger with this content. */
export async function startServer(fill: (ledger: Ledger) => void): Promise<RealServer> {
  const folder = mkdtempSync(join(tmpdir(), 'tarebook-real-'));
  withLedgerIn(folder, fill);
  const env = { ...process.env, TAREBOOK_DATA: folder, TAREBOOK_PORT: '0', TAREBOOK_HOST: '127.0.0.1' };
  const child = spawn(process.execPath, [join(root, 'server/main.ts')], { cwd: folder, env });
  let complaints = '';
  child.stderr.on('data', (data) => {
    complaints += data;
  });
  const port = await new Promise<number>((resolve, reject) => {
    child.stdout.on('data', (data) => {
      const found = /http:\/\/127\.0\.0\.1:(\d+)\//.exec(String(data))?.[1];
      if (found !== undefined) resolve(Number(found));
    });
    child.once('exit', () => reject(new Error(`the server did not start: ${complaints}`)));
  });
  return {
    folder,
    origin: `http://127.0.0.1:${port}`,
    port,
    process: child,
    complained: () => complaints,
    async stop() {
      const ended = new Promise<number | null>((resolve) => child.once('exit', (code) => resolve(code)));
      const isRunning = child.exitCode === null && child.signalCode === null;
      if (isRunning) child.kill('SIGTERM');
      const code = isRunning ? await ended : child.exitCode;
      rmSync(folder, { recursive: true, force: true });
      return code;
    },
  };
}

/** Opens the ledger of a folder beside its server, does something with it, and closes it. */
export function withLedgerIn<Result>(folder: string, act: (ledger: Ledger) => Result): Result {
  const db = openDb(join(folder, 'ledger.sqlite'));
  try {
    return act(openLedger(db, systemClock));
  } finally {
    db.close();
  }
}

export const brokenIn = ({ folder }: RealServer): string[] =>
  withLedgerIn(folder, (ledger) =>
    checkLedger(ledger).flatMap(({ name, found }) => (found.length > 0 ? [`${name}: ${found.slice(0, 3)}`] : [])),
  );

/** One number that a query gives, from the ledger's file. */
export const numberIn = (server: RealServer, sql: string): number =>
  withLedgerIn(server.folder, ({ db }) => db.sqlite.prepare(sql).pluck().get() as number);

const cookie = `${COOKIE}=${TOKENS.own}`;

export interface RealAnswer {
  status: number;
  location: string;
  body: string;
}

/** Asks for a page, or posts what a form sent, as a browser does. */
export async function ask(
  { origin }: RealServer,
  path: string,
  form?: { body: string | Uint8Array<ArrayBuffer>; type: string },
): Promise<RealAnswer> {
  const headers: Record<string, string> = { cookie, ...(form && { origin, 'content-type': form.type }) };
  const post = form === undefined ? {} : { method: 'POST', body: form.body };
  const response = await fetch(origin + path, { ...post, headers, redirect: 'manual' });
  return { status: response.status, location: response.headers.get('location') ?? '', body: await response.text() };
}

/** A form's body as a browser writes it, with its token. */
export const formBody = (pairs: readonly (readonly [string, string])[]) => ({
  body: encoded([...formFields('own'), ...pairs]),
  type: 'application/x-www-form-urlencoded',
});

/** Runs a command as a process of its own on a server's ledger. */
export function startCommand(
  { folder }: RealServer,
  name: string,
  ...args: string[]
): Promise<{ status: number | null; said: string }> {
  const env = { ...process.env, TAREBOOK_DATA: folder };
  const child = spawn(process.execPath, [join(root, 'server/commands', `${name}.ts`), ...args], { cwd: folder, env });
  let said = '';
  for (const stream of [child.stdout, child.stderr]) {
    stream.on('data', (data) => {
      if (said.length < 2000) said += data;
    });
  }
  return new Promise((resolve) => child.once('exit', (status) => resolve({ status, said })));
}
