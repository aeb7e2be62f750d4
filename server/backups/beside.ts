import { type ChildProcess, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import type { Said, Task } from './apart.ts';

const APART = fileURLToPath(new URL('./apart.ts', import.meta.url));
/** Small nurseries, as for photos: what is thrown away between two collections stays small. */
const NODE_FLAGS = ['--max-semi-space-size=4'];

/** Starts the process that works on copies. It needs nothing of the server's own settings. */
export function startApart(task: Task): ChildProcess {
  const { SystemRoot = '', TZ } = process.env;
  const env = { MALLOC_ARENA_MAX: '2', SystemRoot, ...(TZ === undefined ? {} : { TZ }) };
  const child = spawn(process.execPath, [...NODE_FLAGS, APART, JSON.stringify(task)], {
    env,
    stdio: ['ignore', 'pipe', 'pipe'],
    windowsHide: true,
  });
  // Where the system starts no more processes; whoever waits for it hears of its end.
  child.on('error', () => undefined);
  return child;
}

/**
 * Reads what the process says until it ends.
 * @param onSaid is told each line as it comes
 * @returns the last thing said; null when it ended without a word, because it was killed or the system had no room
 */
export async function lastSaid(child: ChildProcess, onSaid: (said: Said) => void): Promise<Said | null> {
  let last: Said | null = null;
  child.stderr?.resume();
  if (child.stdout === null) return null;
  // Read to its end also where the process could not even be started.
  const ended = new Promise<void>((resolve) => {
    child.once('close', () => resolve());
    child.once('error', () => resolve());
  });
  for await (const line of createInterface({ input: child.stdout })) {
    last = JSON.parse(line) as Said;
    onSaid(last);
  }
  await ended;
  return last;
}
