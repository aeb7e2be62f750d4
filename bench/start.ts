import { readFileSync } from 'node:fs';
import { dirname } from 'node:path';
import { COOKIE } from '../server/access/visitor.ts';
import { median } from './pages.ts';
import { type Served, serve } from './processes.ts';

const STARTS = 5;
const TIMES_EACH = 10;
const ROOT = new URL('..', import.meta.url);
const RUN = new URL('./scripts/run.mjs', ROOT);

export interface StartFigures {
  /** From `npm start`'s own script to the first line that says where it listens, packages installed. */
  startMs: number;
  /** Of the server's process as it listens, and once it has answered each page some times. */
  restingMb: number;
  askedMb: number;
}

/** The server's process: the one that the script started. */
function childOf(pid: number): number {
  const children = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim().split(' ');
  return Number.parseInt(children[0] ?? '', 10);
}

const residentMb = (pid: number): number =>
  Number(/VmRSS:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024;

async function start(file: string): Promise<{ served: Served; took: number }> {
  const begun = performance.now();
  const env = { TAREBOOK_DATA: dirname(file), TAREBOOK_PORT: '0', TAREBOOK_HOST: '127.0.0.1' };
  const served = await serve(RUN, ['server/main.ts'], { env });
  return { served, took: performance.now() - begun };
}

/**
 * Starts the server as a person does, on a ledger in a folder of its own under its usual name. The first start is not
 * counted: it fills the cache of what Node made of the source. Linux only, where a process's memory can be read.
 */
export async function timeStart(file: string, paths: readonly string[]): Promise<StartFigures> {
  await (await start(file)).served.stop();
  const took: number[] = [];
  for (let time = 1; time < STARTS; time += 1) {
    const each = await start(file);
    took.push(each.took);
    await each.served.stop();
  }
  const { served, took: last } = await start(file);
  const pid = childOf(served.process.pid ?? 0);
  const restingMb = residentMb(pid);
  const headers = { cookie: `${COOKIE}=${'bench-'.padEnd(43, '0')}` };
  for (const path of paths) {
    for (let time = 0; time < TIMES_EACH; time += 1) {
      await (await fetch(`http://127.0.0.1:${served.port}${path}`, { headers })).arrayBuffer();
    }
  }
  const askedMb = residentMb(pid);
  await served.stop();
  return { startMs: median([...took, last]), restingMb, askedMb };
}
