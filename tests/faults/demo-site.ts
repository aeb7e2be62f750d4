import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import type { FastifyInstance, InjectOptions } from 'fastify';
import { demoToday, fillDemo } from '../../seed/demo.ts';
import { FORM_TOKEN, formTokenOf } from '../../server/access/token.ts';
import { COOKIE } from '../../server/access/visitor.ts';
import { buildApp } from '../../server/app.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';

// The real app on a ledger file that is put back as often as wanted, and is watched by a connection of its own.

export const CLOCK = fixedClock(demoToday);
const HOME = 'http://192.168.7.20:4870';

/** Whom a request comes from: the browser that is let in wherever somebody is, or one that nobody knows. */
export type Who = 'own' | 'stranger';
export const TOKENS: Readonly<Record<Who, string>> = {
  own: 'fuzz-own-'.padEnd(43, '0'),
  stranger: 'fuzz-stranger-'.padEnd(43, '0'),
};

/** What every form of a browser carries. */
export const formFields = (who: Who): [string, string][] => [[FORM_TOKEN, formTokenOf(TOKENS[who])]];

export interface Answer {
  status: number;
  body: string;
  location: string;
  /** What the thread that answers everybody worked for it. */
  workedMs: number;
  /** Whether anything was written down in the ledger's file. */
  isChanged: boolean;
}

export interface Site {
  readonly app: FastifyInstance;
  readonly ledger: Ledger;
  send(request: InjectOptions, who?: Who): Promise<Answer>;
  get(url: string, who?: Who): Promise<Answer>;
  /** Keeps a copy of the ledger as it is now, under a name; at first there is one called "first". */
  keepAs(name: string): void;
  putBack(name?: string): void;
  /** Changes whenever anything is written down in the ledger's file. */
  version(): unknown;
  /** The checks that do not hold. */
  broken(): string[];
  close(): Promise<void>;
}

/** @param fill makes the ledger's content */
export async function openSite(fill: (ledger: Ledger) => void | Promise<void>): Promise<Site> {
  const folder = mkdtempSync(join(tmpdir(), 'tarebook-fuzz-'));
  const file = join(folder, 'ledger.sqlite');
  const kept = (name: string) => join(folder, `${name}.sqlite`);
  let ledger = openLedger(openDb(file), CLOCK);
  await fill(ledger);
  const app = await buildApp({
    db: ledger.db,
    clock: CLOCK,
    homeUrls: () => [HOME],
    openDemo: async () => 'http://127.0.0.1:9/',
  });
  await app.ready();
  let watching = new SqliteDatabase(file, { readonly: true });
  const version = () => watching.pragma('data_version', { simple: true });
  const keepAs = (name: string): void => {
    ledger.db.sqlite.prepare('vacuum into ?').run(kept(name));
  };
  keepAs('first');
  const letGo = () => {
    watching.close();
    ledger.db.close();
  };
  const send = async (request: InjectOptions, who: Who = 'own'): Promise<Answer> => {
    const headers = { host: '127.0.0.1', origin: 'http://127.0.0.1', cookie: `${COOKIE}=${TOKENS[who]}` };
    const before = version();
    const from = process.threadCpuUsage();
    const answer = await app.inject({ ...request, headers: { ...headers, ...request.headers } });
    const { user, system } = process.threadCpuUsage(from);
    return {
      status: answer.statusCode,
      body: answer.body,
      location: String(answer.headers.location ?? ''),
      workedMs: (user + system) / 1000,
      isChanged: version() !== before,
    };
  };
  return {
    app,
    get ledger() {
      return ledger;
    },
    send,
    get: (url, who) => send({ method: 'GET', url }, who),
    keepAs,
    version,
    putBack(name = 'first') {
      letGo();
      copyFileSync(kept(name), file);
      ledger = openLedger(openDb(file), CLOCK);
      app.tarebook.db = ledger.db;
      watching = new SqliteDatabase(file, { readonly: true });
    },
    broken: () =>
      checkLedger(ledger).flatMap(({ name, found }) => (found.length > 0 ? [`${name}: ${found.slice(0, 3)}`] : [])),
    async close() {
      await app.close();
      letGo();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

export const fillWithDemo = ({ db }: Ledger): void => fillDemo(db);
