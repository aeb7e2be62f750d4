import { type Day, daysBetween, monthOf, readDay } from '../units/day.ts';

/** A backup as its file's name tells of it. */
export interface BackupName {
  fileName: string;
  day: Day;
  /** "17:57", where this computer is. */
  time: string;
  /** The format that the ledger was brought to right after it, where it was made for that; else null. */
  beforeFormat: number | null;
  /** False for one that was looked at and did not hold. */
  isGood: boolean;
}

const NAME = /^tarebook-(\d{4}-\d{2}-\d{2})-(\d{2})(\d{2})(?:-before-(\d{4}))?(?:-\d{1,3})?(-not-good)?\.sqlite$/;
const NOT_GOOD = '-not-good';

/** Reads a file's name; null for a file that is none of ours. */
export function readBackupName(fileName: string): BackupName | null {
  const [, written = '', hours = '', minutes = '', before, bad] = NAME.exec(fileName) ?? [];
  const day = readDay(written);
  if (!day.ok) return null;
  const beforeFormat = before === undefined ? null : Number.parseInt(before, 10);
  return { fileName, day: day.value, time: `${hours}:${minutes}`, beforeFormat, isGood: bad === undefined };
}

/** The beginning of a backup's name: "tarebook-2026-11-25-1757-before-0007". */
export function stemOf({ day, time }: { day: Day; time: string }, beforeFormat: number | null = null): string {
  const before = beforeFormat === null ? '' : `-before-${String(beforeFormat).padStart(4, '0')}`;
  return `tarebook-${day}-${time.replace(':', '')}${before}`;
}

/** The name of the same file once it is known not to hold. */
export const notGoodName = (fileName: string): string => fileName.replace(/\.sqlite$/, `${NOT_GOOD}.sqlite`);

/** How many of the newest days, weeks and months keep a backup. */
export const KEPT = { days: 7, weeks: 5, months: 12 } as const;
/** How many that did not hold are kept: they count as none, and push none out. */
const NOT_GOOD_KEPT = 5;

const MONDAY = '1990-01-01' as Day;
const weekOf = (day: Day): string => String(Math.floor(daysBetween(MONDAY, day) / 7));

/** The later first; on one day and minute the later name. */
const newestFirst = (a: BackupName, b: BackupName): number => {
  const [one, other] = [a, b].map(({ day, time, fileName }) => `${day} ${time} ${fileName.length} ${fileName}`);
  return (one ?? '') < (other ?? '') ? 1 : -1;
};
export const sortNewestFirst = (backups: readonly BackupName[]): BackupName[] => [...backups].sort(newestFirst);

/** The newest of each of the newest periods. Periods without a backup do not count, so that a long break loses nothing. */
function newestOfEach(sorted: readonly BackupName[], periodOf: (day: Day) => string, count: number): BackupName[] {
  const newest = new Map<string, BackupName>();
  for (const backup of sorted) {
    const period = periodOf(backup.day);
    if (!newest.has(period)) newest.set(period, backup);
  }
  return [...newest.values()].slice(0, count);
}

const keptOf = (sorted: readonly BackupName[]): BackupName[] => [
  ...newestOfEach(sorted, (day) => day, KEPT.days),
  ...newestOfEach(sorted, weekOf, KEPT.weeks),
  ...newestOfEach(sorted, monthOf, KEPT.months),
];

/**
 * Which backups may be deleted: those that are good and neither the newest of one of the last 7 days that have one, nor
 * of the last 5 such weeks, nor of the last 12 such months. One made before an upgrade is never among them. Those with
 * a day after today are judged by themselves: either the clock was wrong then or it is wrong now, and the ones must not
 * push the others out.
 */
export function backupsToDelete(backups: readonly BackupName[], today: Day): BackupName[] {
  const sorted = sortNewestFirst(backups);
  const inTurn = sorted.filter(({ isGood, beforeFormat }) => isGood && beforeFormat === null);
  const kept = new Set([
    ...keptOf(inTurn.filter(({ day }) => day <= today)),
    ...keptOf(inTurn.filter(({ day }) => day > today)),
  ]);
  const notGood = sorted.filter(({ isGood, beforeFormat }) => !isGood && beforeFormat === null);
  return [...inTurn.filter((backup) => !kept.has(backup)), ...notGood.slice(NOT_GOOD_KEPT)];
}

/** Days without a good backup after which the first page speaks of it. */
export const DAYS_WITHOUT = 3;

const SIZES = ['bytes', 'kB', 'MB', 'GB'] as const;

/** A file's size for people, in steps of a thousand as file managers write it: "25 MB". */
export function writeSize(bytes: number): string {
  let [size, step] = [bytes, 0];
  while (size >= 1000 && step < SIZES.length - 1) [size, step] = [size / 1000, step + 1];
  return `${size < 10 && step > 1 ? size.toFixed(1) : Math.round(size)} ${SIZES[step]}`;
}

/** What a ledger holds, by kind of document. */
export type Holdings = Readonly<Record<HoldingKind, number>>;
export const holdingKinds = [
  'weighings',
  'recounts and moves',
  'prices',
  'manifests',
  'tickets',
  'scale checks',
  'photos and papers',
] as const;
export type HoldingKind = (typeof holdingKinds)[number];

const ONE: Readonly<Record<HoldingKind, string>> = {
  weighings: 'weighing',
  'recounts and moves': 'recount or move',
  prices: 'price',
  manifests: 'manifest',
  tickets: 'ticket',
  'scale checks': 'scale check',
  'photos and papers': 'photo or paper',
};

/** "12 weighings, 1 ticket and 3 photos and papers"; "no weighings or tickets yet". */
export function writeHoldings(holdings: Holdings): string {
  const parts = holdingKinds
    .filter((kind) => holdings[kind] > 0)
    .map((kind) => `${writeCount(holdings[kind])} ${holdings[kind] === 1 ? ONE[kind] : kind}`);
  if (parts.length < 2) return parts[0] ?? 'no weighings or tickets yet';
  return `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`;
}

const writeCount = (count: number): string => String(count).replace(/\B(?=(\d{3})+$)/g, ',');

/** What one ledger has more of than another, by kind. */
export const holdingsMore = (one: Holdings, other: Holdings): Holdings =>
  Object.fromEntries(holdingKinds.map((kind) => [kind, Math.max(0, one[kind] - other[kind])])) as Holdings;

export const documentsIn = (holdings: Holdings): number => holdingKinds.reduce((sum, kind) => sum + holdings[kind], 0);

const LONGEST_ENTRY = 120;

/**
 * A name that every system can write and that stays in its folder: no signs that are part of a path or that Windows
 * refuses, none that cannot be seen, no dot or space at its ends.
 */
export function safeEntryName(name: string): string {
  const [, stem = '', ending = ''] = /^(.*?)(\.[a-z0-9]{1,5})?$/s.exec(name) ?? [];
  const clean = stem
    .normalize('NFC')
    .replace(/[\p{C}\p{Zl}\p{Zp}/\\:*?"<>|]/gu, '_')
    .replace(/\s+/g, ' ');
  const short = Array.from(clean)
    .slice(0, LONGEST_ENTRY)
    .join('')
    .replace(/^[. ]+|[. ]+$/g, '');
  return `${short === '' ? 'file' : short}${ending}`;
}
