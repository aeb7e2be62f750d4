import { createHash } from 'node:crypto';
import type { Typed } from '../reading.ts';
import { loadFields } from './compute.ts';

/** A load as a draft's form was made from it: what of it can be changed, each part as a short fingerprint. */
export interface LoadVersion {
  lineId: number;
  /** A line's id may come again for another bin once the line is removed. */
  binId: number;
  label: string;
  /** The reading with its tare, unit and scale: one without the others says nothing, so they change as one. */
  weighing: string;
  empties: string;
}

/** The parts of a load as fields hold them. What was typed and what is stored give the same for the same text. */
export function partsTyped(typed: Typed, lineId: number): Pick<LoadVersion, 'weighing' | 'empties'> {
  const fields = loadFields(lineId);
  const texts = [fields.gross, fields.tare, fields.container, fields.unit, fields.scale].map((name) =>
    (typed[name] ?? '').trim(),
  );
  const weighing = createHash('sha256').update(JSON.stringify(texts)).digest('hex').slice(0, 16);
  return { weighing, empties: ['1', 'on'].includes(typed[fields.empties] ?? '') ? '1' : '0' };
}

/** The version of a draft as its form carries it along. */
export const writeVersion = (loads: readonly LoadVersion[]): string =>
  ['1', ...loads.map((load) => [load.lineId, load.binId, load.label, load.weighing, load.empties].join('.'))].join(' ');

const LOAD = /^(\d{1,15})\.(\d{1,15})\.([A-Z]{1,6})\.([0-9a-f]{16})\.([01])$/;

/** Null when there is none: then nothing can be told of what was changed meanwhile. */
export function readVersion(text: string): LoadVersion[] | null {
  const [mark, ...loads] = text.trim().split(' ');
  if (mark !== '1') return null;
  const read = loads.map((load) => LOAD.exec(load));
  if (read.some((match) => match === null)) return null;
  return read.map((match) => {
    const [, lineId = '', binId = '', label = '', weighing = '', empties = ''] = match ?? [];
    return { lineId: Number.parseInt(lineId, 10), binId: Number.parseInt(binId, 10), label, weighing, empties };
  });
}

export interface DraftChanges<Stored> {
  /** Loads that somebody else weighed otherwise since the form was made. */
  changed: Stored[];
  added: Stored[];
  removed: LoadVersion[];
}

/** What is different in the ledger from what the form was made of. */
export function changesSince<Stored extends LoadVersion>(
  base: readonly LoadVersion[],
  stored: readonly Stored[],
): DraftChanges<Stored> {
  const same = (a: LoadVersion, b: LoadVersion) => a.lineId === b.lineId && a.binId === b.binId;
  return {
    changed: stored.filter((now) =>
      base.some((then) => same(then, now) && (then.weighing !== now.weighing || then.empties !== now.empties)),
    ),
    added: stored.filter((now) => !base.some((then) => same(then, now))),
    removed: base.filter((then) => !stored.some((now) => same(then, now))),
  };
}
