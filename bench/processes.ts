import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';

const scriptOf = (name: string): string => fileURLToPath(new URL(name, import.meta.url));

/** Runs a script of the bench to its end. @returns the figure that it prints; throws what it says when it fails */
export function figureOf(name: string, args: readonly string[]): number {
  const run = spawnSync(process.execPath, [scriptOf(name), ...args], { encoding: 'utf8' });
  if (run.status !== 0) throw new Error(`${name} failed: ${run.stderr}`);
  return Number.parseFloat(run.stdout);
}

/** A server of the bench in a process of its own. */
export interface Served {
  port: string;
  process: ChildProcess;
  stop(): Promise<void>;
}

/** Starts a script that prints the port it listens on. */
export async function serve(name: string, args: readonly string[]): Promise<Served> {
  const child = spawn(process.execPath, [scriptOf(name), ...args], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = once(child, 'exit');
  const said: Promise<unknown[]> = once(child.stdout, 'data');
  const [first] = await Promise.race([said, ended.then(() => Promise.reject(new Error(`${name} ended`)))]);
  const stop = async () => {
    child.kill('SIGTERM');
    await ended;
  };
  return { port: String(first).trim(), process: child, stop };
}
