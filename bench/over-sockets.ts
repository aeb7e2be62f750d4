import { median } from './pages.ts';
import { figuresOf, type Served, serve } from './processes.ts';

const ROUNDS = 5;
const ROUND_MS = 1000;

/** Answers in a second of one page, as medians of some rounds, and what part of the constant's each is. */
export interface SocketRates {
  path: string;
  constant: number;
  /** The page made anew for every answer, as after something was written. */
  changed: number;
  /** The page while nothing is written. */
  unchanged: number;
  changedShare: number;
  unchangedShare: number;
}

const LOAD = new URL('./load.ts', import.meta.url);
const CONSTANT = new URL('./constant.ts', import.meta.url);
const SERVED = new URL('./served.ts', import.meta.url);

const rate = ({ port }: Served, path: string): number =>
  figuresOf(LOAD, [port, path, String(ROUND_MS)])[0] ?? Number.NaN;

/** The three in turn, so that whatever slows the machine hits all of them; the share is that within a round. */
async function timeOne(changed: Served, unchanged: Served, path: string): Promise<SocketRates> {
  const page = await fetch(`http://127.0.0.1:${unchanged.port}${path}`);
  const constant = await serve(CONSTANT, [String((await page.text()).length)]);
  const rounds = Array.from({ length: ROUNDS }, () => ({
    constant: rate(constant, '/'),
    changed: rate(changed, path),
    unchanged: rate(unchanged, path),
  }));
  await constant.stop();
  const mid = (figure: (round: Omit<SocketRates, 'path' | 'changedShare' | 'unchangedShare'>) => number) =>
    median(rounds.map(figure));
  return {
    path,
    constant: mid((round) => round.constant),
    changed: mid((round) => round.changed),
    unchanged: mid((round) => round.unchanged),
    changedShare: mid((round) => round.changed / round.constant),
    unchangedShare: mid((round) => round.unchanged / round.constant),
  };
}

/** What is asked for most, over real sockets, beside a bare server that sends as many characters. */
export async function timeOverSockets(file: string, paths: readonly string[]): Promise<SocketRates[]> {
  const changed = await serve(SERVED, [file, 'changed']);
  const unchanged = await serve(SERVED, [file, 'unchanged']);
  const rates: SocketRates[] = [];
  for (const path of paths) rates.push(await timeOne(changed, unchanged, path));
  await changed.stop();
  await unchanged.stop();
  return rates;
}
