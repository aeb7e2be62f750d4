import type { DurableRates } from './durable.ts';
import type { ImportRates } from './imports.ts';
import type { LayerTimes } from './layers.ts';
import type { SocketRates } from './over-sockets.ts';
import type { PageTimes } from './pages.ts';
import type { StartFigures } from './start.ts';

/** Largest growth from the usual ledger to one with fifty times its rows, of the two pages that are asked for most. */
const MOST_GROWTH_OFTEN = 1.2;
const MOST_GROWTH = 1.5;
const LEAST_SHARE_OF_CONSTANT = 0.25;
const LEAST_SHARE_OF_COMMITS = 0.6;
const LEAST_SHARE_OF_INSERTS = 0.4;
const MOST_START_MS = 400;
const MOST_MEMORY_MB = 150;

export const say = (line: string): void => console.log(line);
export const figure = (value: number, decimals = 2): string => value.toFixed(decimals);
const grouped = new Intl.NumberFormat('en-US', { maximumFractionDigits: 0 });
export const whole = (value: number): string => grouped.format(value);
const verdict = (isMet: boolean): string => (isMet ? 'met' : 'MISSED');
const padded = (...texts: readonly string[]): string =>
  texts.map((text, index) => (index === 0 ? text.padEnd(40) : text.padStart(10))).join('');

export async function stopwatch<Result>(what: string, act: () => Result | Promise<Result>): Promise<Result> {
  const begun = performance.now();
  const result = await act();
  say(`${what}: ${figure((performance.now() - begun) / 1000, 1)} s`);
  return result;
}

export function saySockets(rates: readonly SocketRates[]): boolean {
  say(`\n${padded('answers a second, over sockets', 'constant', 'unchanged', 'share', 'changed', 'share')}`);
  const met = rates.map(({ path, constant, changed, unchanged, changedShare, unchangedShare }) => {
    const figures = [whole(constant), whole(unchanged), figure(unchangedShare), whole(changed), figure(changedShare)];
    const isMet = unchangedShare >= LEAST_SHARE_OF_CONSTANT;
    say(`${padded(path, ...figures)}  unchanged at least ${LEAST_SHARE_OF_CONSTANT}: ${verdict(isMet)}`);
    return isMet;
  });
  return met.every(Boolean);
}

const isAskedOften = (name: string): boolean => name === '/' || name.startsWith('/weigh-in');

/** @param times how many times the large ledger holds the usual one */
export function sayPages(pages: readonly PageTimes[], times: number): boolean {
  say(`\n${padded('page made anew, ms in the server', 'usual', 'p95', `× ${times}`, 'p95', 'growth')}`);
  const met = pages.map(({ name, small, big }) => {
    const most = isAskedOften(name) ? MOST_GROWTH_OFTEN : MOST_GROWTH;
    const growth = big.median / small.median;
    const figures = [small.median, small.p95, big.median, big.p95, growth].map((value) => figure(value));
    say(`${padded(name, ...figures)}  at most ${most}: ${verdict(growth <= most)}`);
    return growth <= most;
  });
  return met.every(Boolean);
}

/** @param times how many times the large ledger holds the usual one */
export function sayLayers(acts: readonly LayerTimes[], times: number): boolean {
  say(`\n${padded('what moves layers, ms', 'usual', `× ${times}`, 'growth')}`);
  const met = acts.map(({ name, small, big }) => {
    const growth = big / small;
    const figures = [small, big, growth].map((value) => figure(value));
    say(`${padded(name, ...figures)}  at most ${MOST_GROWTH}: ${verdict(growth <= MOST_GROWTH)}`);
    return growth <= MOST_GROWTH;
  });
  return met.every(Boolean);
}

export function sayDurable({ weighInsPerSecond, bareCommitsPerSecond }: DurableRates): boolean {
  const share = weighInsPerSecond / bareCommitsPerSecond;
  const isMet = share >= LEAST_SHARE_OF_COMMITS;
  say('\ndurable, on disk before the answer');
  say(padded('weigh-ins per second', whole(weighInsPerSecond)));
  say(padded('bare commits of one row per second', whole(bareCommitsPerSecond)));
  say(`${padded('share of the bare commits', figure(share))}  at least ${LEAST_SHARE_OF_COMMITS}: ${verdict(isMet)}`);
  return isMet;
}

export function sayImports(imports: readonly ImportRates[]): boolean {
  say(`\n${padded('imports, ms', 'rows', 'import', 'bare', 'share')}`);
  const met = imports.map(({ kind, rows, importMs, bareMs, share }) => {
    const isMet = share >= LEAST_SHARE_OF_INSERTS;
    const figures = [whole(rows), whole(importMs), whole(bareMs), figure(share)];
    say(`${padded(kind, ...figures)}  at least ${LEAST_SHARE_OF_INSERTS}: ${verdict(isMet)}`);
    return isMet;
  });
  return met.every(Boolean);
}

/** Something that reads a whole ledger: how many rows, how long, and the memory of its process at most. */
export interface WholeFigures {
  name: string;
  rows: number;
  ms: number;
  megabytes: number;
}

export function sayWhole(ledger: string, figures: readonly WholeFigures[]): void {
  say(`\n${padded(`the whole ledger, ${ledger}`, 'rows', 'seconds', 'rows/s', 'MB')}`);
  for (const { name, rows, ms, megabytes } of figures) {
    say(padded(name, whole(rows), figure(ms / 1000), whole((rows * 1000) / ms), whole(megabytes)));
  }
}

export function sayStart({ startMs, restingMb, askedMb }: StartFigures): boolean {
  const isQuick = startMs <= MOST_START_MS;
  const isSmall = askedMb <= MOST_MEMORY_MB;
  say('\nthe server on the large ledger, as npm start starts it');
  say(`${padded('start to listening, ms', whole(startMs))}  at most ${MOST_START_MS}: ${verdict(isQuick)}`);
  say(padded('memory as it listens, MB', whole(restingMb)));
  const asked = padded('memory after ten times each page, MB', whole(askedMb));
  say(`${asked}  at most ${MOST_MEMORY_MB}: ${verdict(isSmall)}`);
  return isQuick && isSmall;
}
