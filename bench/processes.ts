import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { fileURLToPath } from 'node:url';

/** Runs a script of the bench to its end. @returns the figures that it prints; throws what it says when it fails */
export function figuresOf(script: URL, args: readonly string[]): number[] {
  const run = spawnSync(process.execPath, [fileURLToPath(script), ...args], { encoding: 'utf8' });
  if (run.status !== 0) throw new Error(`${script} failed: ${run.stderr}`);
  return run.stdout.split(/\s+/).filter(Boolean).map(Number);
}

/** A server in a process of its own. */
export interface Served {
  port: string;
  process: ChildProcess;
  stop(): Promise<void>;
}

/**
 * Starts a script that says which port it listens on, and waits until it does.
 * @param flags for Node
 */
export async function serve(
  script: URL,
  args: readonly string[],
  { flags = [], env = {} }: { flags?: readonly string[]; env?: Readonly<Record<string, string>> } = {},
): Promise<Served> {
  const child = spawn(process.execPath, [...flags, fileURLToPath(script), ...args], {
    stdio: ['ignore', 'pipe', 'inherit'],
    env: { ...process.env, ...env },
  });
  const ended = once(child, 'exit');
  const heard = async (): Promise<string> => {
    for await (const text of child.stdout) {
      const port = /(?:127\.0\.0\.1:|^)(\d+)/.exec(String(text))?.[1];
      if (port !== undefined) return port;
    }
    throw new Error(`${script} ended`);
  };
  const port = await heard();
  child.stdout.resume();
  const stop = async () => {
    child.kill('SIGTERM');
    await ended;
  };
  return { port, process: child, stop };
}
