import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type BackupName,
  backupsToDelete,
  holdingsMore,
  KEPT,
  notGoodName,
  readBackupName,
  safeEntryName,
  sortNewestFirst,
  stemOf,
  writeHoldings,
  writeSize,
} from '../../server/backups/compute.ts';
import { type Day, day } from '../../server/units/day.ts';

const TODAY = day('2026-11-25');
const A_DAY_MS = 86_400_000;

const dayAfter = (from: Day, days: number): Day =>
  new Date(Date.parse(`${from}T00:00:00Z`) + days * A_DAY_MS).toISOString().slice(0, 10) as Day;

const named = (fileName: string): BackupName => {
  const read = readBackupName(fileName);
  if (read === null) throw new Error(fileName);
  return read;
};
const onDay = (on: Day, time = '12:00'): BackupName => named(`${stemOf({ day: on, time })}.sqlite`);
const left = (all: readonly BackupName[], today: Day): BackupName[] => {
  const gone = new Set(backupsToDelete(all, today));
  return sortNewestFirst(all.filter((backup) => !gone.has(backup)));
};

describe('names', () => {
  test('say when a backup was made and what it is', () => {
    expect(named('tarebook-2026-11-25-1757.sqlite')).toMatchObject({ day: TODAY, time: '17:57', isGood: true });
    expect(named('tarebook-2026-11-25-1757-before-0007.sqlite').beforeFormat).toBe(7);
    expect(named('tarebook-2026-11-25-1757-before-0007-2.sqlite').beforeFormat).toBe(7);
    expect(named('tarebook-2026-11-25-1757-3.sqlite')).toMatchObject({ beforeFormat: null, isGood: true });
    expect(named(notGoodName('tarebook-2026-11-25-1757.sqlite')).isGood).toBe(false);
  });

  test.for([
    'ledger.sqlite',
    'tarebook-2026-11-25-1757.sqlite.123.part',
    'tarebook-2026-02-30-1757.sqlite',
    'tarebook-2026-11-25-1757 (1).sqlite',
    'my-tarebook-2026-11-25-1757.sqlite',
    'tarebook-2026-11-25-1757-before-0007.sqlite.bak',
    'tarebook-2026-11-25-1757-kept by me.sqlite',
  ])('%s is not ours, and so is never deleted', (name) => {
    expect(readBackupName(name)).toBeNull();
  });
});

describe('what is kept', () => {
  test('of two years with one each day: 7 days, 5 weeks and 12 months, each by its newest', () => {
    const all = Array.from({ length: 730 }, (_, ago) => onDay(dayAfter(TODAY, -ago)));
    expect(left(all, TODAY).map((each) => each.day)).toEqual([
      '2026-11-25',
      '2026-11-24',
      '2026-11-23',
      '2026-11-22',
      '2026-11-21',
      '2026-11-20',
      '2026-11-19',
      // Sundays of the weeks before.
      '2026-11-15',
      '2026-11-08',
      '2026-11-01',
      // Last days of the months before.
      '2026-10-31',
      '2026-09-30',
      '2026-08-31',
      '2026-07-31',
      '2026-06-30',
      '2026-05-31',
      '2026-04-30',
      '2026-03-31',
      '2026-02-28',
      '2026-01-31',
      '2025-12-31',
    ]);
  });

  test('of one day, the newest', () => {
    const all = ['08:00', '17:57', '12:00'].map((time) => onDay(TODAY, time));
    expect(left(all, TODAY).map(({ time }) => time)).toEqual(['17:57']);
  });

  test('of one minute, the one that was made last', () => {
    const stem = stemOf({ day: TODAY, time: '17:57' });
    const all = ['', '-2', '-10'].map((count) => named(`${stem}${count}.sqlite`));
    expect(left(all, TODAY).map(({ fileName }) => fileName)).toEqual([`${stem}-10.sqlite`]);
  });

  /** Some hundred days around today, in any order, of any kind. */
  const anyBackups = fc
    .uniqueArray(
      fc.record({
        ago: fc.integer({ min: -900, max: 900 }),
        minute: fc.integer({ min: 0, max: 59 }),
        kind: fc.constantFrom('', '', '', '', '-before-0007', '-not-good'),
      }),
      { maxLength: 150, selector: ({ ago, minute, kind }) => `${ago} ${minute} ${kind}` },
    )
    .map((made) =>
      made.map(({ ago, minute, kind }) =>
        named(`${stemOf({ day: dayAfter(TODAY, -ago), time: `12:${String(minute).padStart(2, '0')}` })}${kind}.sqlite`),
      ),
    );
  const inTurn = (all: readonly BackupName[]) => all.filter((each) => each.isGood && each.beforeFormat === null);
  const most = KEPT.days + KEPT.weeks + KEPT.months;

  test('whatever there is: the newest good one, every one from before an upgrade, and never more than 24 others', () => {
    fc.assert(
      fc.property(anyBackups, (all) => {
        const kept = left(all, TODAY);
        const past = inTurn(kept).filter((each) => each.day <= TODAY);
        expect(past.length).toBeLessThanOrEqual(most);
        expect(inTurn(kept).length - past.length).toBeLessThanOrEqual(most);
        const [newest] = inTurn(sortNewestFirst(all));
        const [newestByToday] = inTurn(sortNewestFirst(all)).filter((each) => each.day <= TODAY);
        for (const each of [newest, newestByToday]) if (each !== undefined) expect(kept).toContain(each);
        for (const each of all) if (each.isGood && each.beforeFormat !== null) expect(kept).toContain(each);
        expect(left(kept, TODAY)).toEqual(kept);
      }),
      { numRuns: 500 },
    );
  });

  test('those that do not hold push no good one out', () => {
    fc.assert(
      fc.property(anyBackups, (all) => {
        const good = all.filter(({ isGood }) => isGood);
        expect(left(all, TODAY).filter(({ isGood }) => isGood)).toEqual(left(good, TODAY));
        expect(left(all, TODAY).filter(({ isGood }) => !isGood).length).toBeLessThanOrEqual(5);
      }),
    );
  });

  test('a clock that is wrong for a while costs no good one that a right clock would have kept', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(-1, 1),
        fc.integer({ min: 800, max: 4000 }),
        fc.integer({ min: 1, max: 60 }),
        (way, far, length) => {
          const off = way * far;
          // A year of backups, then some days under a wrong clock, then the right one again for a day.
          let kept: BackupName[] = [];
          const make = (on: Day) => {
            kept = left([...kept.filter(({ fileName }) => fileName !== onDay(on).fileName), onDay(on)], on);
          };
          for (let ago = 400; ago > length; ago -= 1) make(dayAfter(TODAY, -ago));
          const before = kept;
          for (let ago = length; ago > 0; ago -= 1) make(dayAfter(TODAY, -ago + off));
          make(TODAY);
          const names = new Set(kept.map(({ fileName }) => fileName));
          expect(names).toContain(onDay(TODAY).fileName);
          // Sixty days under a wrong clock take the place of three months at most; the newest is that of the right clock.
          const ofMonths = new Map(before.toReversed().map((each) => [each.day.slice(0, 7), each.fileName]));
          for (const fileName of [...ofMonths.values()].slice(-9, -1)) expect(names).toContain(fileName);
        },
      ),
      { numRuns: 60 },
    );
  });
});

describe('words', () => {
  const none = {
    weighings: 0,
    'recounts and moves': 0,
    prices: 0,
    manifests: 0,
    tickets: 0,
    'scale checks': 0,
    'photos and papers': 0,
  };

  test('what a ledger holds, and what one has beyond another', () => {
    expect(writeHoldings(none)).toBe('no weighings or tickets yet');
    expect(writeHoldings({ ...none, weighings: 1204, tickets: 1 })).toBe('1,204 weighings and 1 ticket');
    const more = holdingsMore({ ...none, weighings: 5, prices: 2, tickets: 1 }, { ...none, weighings: 3, prices: 4 });
    expect(writeHoldings(more)).toBe('2 weighings and 1 ticket');
    expect(writeHoldings({ ...none, weighings: 2, tickets: 3, prices: 4 })).toBe('2 weighings, 4 prices and 3 tickets');
  });

  test('sizes', () => {
    expect([0, 999, 25_300, 4_321_000, 123_456_789, 2_500_000_000].map(writeSize)).toEqual([
      '0 bytes',
      '999 bytes',
      '25 kB',
      '4.3 MB',
      '123 MB',
      '2.5 GB',
    ]);
  });
});

test('names within an archive stay in their folder, whatever a ticket is called', () => {
  expect(safeEntryName('ticket 70011, 2025-03-08, 12.jpg')).toBe('ticket 70011, 2025-03-08, 12.jpg');
  expect(safeEntryName('ticket ../../etc/passwd, 1.jpg')).toBe('ticket .._.._etc_passwd, 1.jpg');
  expect(safeEntryName('..')).toBe('file');
  fc.assert(
    fc.property(fc.string({ unit: 'binary', maxLength: 300 }), (typed) => {
      const name = safeEntryName(`${typed}.jpg`);
      expect(name).not.toMatch(/[/\\:*?"<>|\p{C}]/u);
      expect(name).toMatch(/^[^. ].*\.jpg$|^file\.jpg$|^.\.jpg$/u);
      expect(Array.from(name).length).toBeLessThanOrEqual(124);
    }),
  );
});
