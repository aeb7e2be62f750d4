import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { fillDemo } from '../../seed/demo.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { importFile } from '../../server/files/acts.ts';
import { readCsv } from '../../server/files/csv.ts';
import { findExport, writeExport } from '../../server/files/exports/names.ts';
import { importKinds } from '../../server/files/imports/kinds.ts';
import type { ImportKind } from '../../server/files/imports/rows.ts';
import { CLOCK, openSite, type Site } from './demo-site.ts';
import { sendForm } from './discover.ts';
import { hostileText, mutated, someDay, someFigure } from './hostile.ts';
import { measured, trials } from './trials.ts';
import { slowest } from './watch.ts';

// The files that can be brought in, as the demo itself writes them, with anything wrong in them: never a fault, and what
// has a problem leaves nothing behind.

/** The demo's own files, by kind. */
let files: Map<string, string[][]>;
let site: Site;

const linesOf = (text: string): string[][] => {
  const { header, rows } = readCsv(Buffer.from(text));
  return [header, ...rows].map((row) => [...(row?.cells ?? [])]);
};

beforeAll(async () => {
  const demo = openLedger(openDb(':memory:'), CLOCK);
  fillDemo(demo.db);
  files = new Map(
    importKinds.map(({ name }) => {
      const file = findExport(name);
      return [name, file === undefined ? [] : linesOf(writeExport(demo, file, {}))];
    }),
  );
  demo.db.close();
  site = await openSite(() => undefined);
  // Before each kind comes a ledger that has everything which its rows name, and none of them.
  for (const kind of importKinds) {
    site.keepAs(kind.name);
    const text = written({ lines: files.get(kind.name) ?? [], mark: ',', end: '\r\n', quotes: 'needed' });
    expect(importFile(site.ledger, kind, Buffer.from(text), false).problems).toEqual([]);
  }
}, 120_000);
afterAll(() => site.close());

const someRows = (lines: readonly string[][]): fc.Arbitrary<string[][]> =>
  fc.tuple(fc.nat(), fc.integer({ min: 0, max: 25 }), fc.boolean()).map(([from, count, isFromStart]) => {
    const [header = [], ...rows] = lines;
    const start = isFromStart || rows.length === 0 ? 0 : from % rows.length;
    return [header, ...rows.slice(start, start + count)].map((row) => [...row]);
  });

interface CellChange {
  row: number;
  column: number;
  how: 'hostile' | 'mutated' | 'figure' | 'day' | 'copy' | 'drop' | 'add' | 'swap';
  text: string;
  other: number;
}

const cellParts = { row: fc.nat(), column: fc.nat(), text: hostileText, other: fc.nat() };
const cellChange: fc.Arbitrary<CellChange> = fc.record({
  ...cellParts,
  how: fc.constantFrom('hostile', 'hostile', 'mutated', 'figure', 'day', 'copy', 'drop', 'add', 'swap'),
});

/** One thing done to one cell, or to the columns of one line; line 0 is the header. */
function changeCell(lines: string[][], { row, column, how, text, other }: CellChange, typed: string): void {
  const cells = lines[row % lines.length] ?? [];
  const at = column % Math.max(1, cells.length);
  if (how === 'drop') cells.splice(at, 1);
  else if (how === 'add') cells.splice(at, 0, text);
  else if (how === 'copy') cells[at] = lines[other % lines.length]?.[at] ?? '';
  else if (how === 'swap')
    [cells[at], cells[other % cells.length]] = [cells[other % cells.length] ?? '', cells[at] ?? ''];
  else cells[at] = how === 'hostile' ? text : typed;
}

interface Writing {
  lines: readonly (readonly string[])[];
  mark: string;
  end: string;
  quotes: 'needed' | 'always' | 'never' | 'broken';
}

function written({ lines, mark, end, quotes }: Writing): string {
  const cell = (text: string): string => {
    const quoted = `"${text.replaceAll('"', '""')}"`;
    if (quotes === 'broken') return text.includes(' ') ? `"${text}` : text;
    if (quotes === 'never') return text;
    return quotes === 'always' || /[",\r\n]/.test(text) ? quoted : text;
  };
  return lines.map((cells) => cells.map(cell).join(mark) + end).join('');
}

const asWritten = (lines: fc.Arbitrary<string[][]>): fc.Arbitrary<string> =>
  fc
    .record({
      lines,
      mark: fc.constantFrom(',', ',', ',', ',', ',', ';', '\t', ', '),
      end: fc.constantFrom('\r\n', '\r\n', '\n', '\r', '\r\n\r\n', '\n\r', ''),
      quotes: fc.constantFrom('needed', 'needed', 'needed', 'always', 'never', 'broken'),
    })
    .map(written);

/** Lines that end in all ways in one file. */
const mixedEnds = (text: string): string => {
  let at = 0;
  return text.replace(/\r\n/g, () => ['\r\n', '\n', '\r'][at++ % 3] ?? '\n');
};

const utf16 = (text: string): Buffer => Buffer.from(`\ufeff${text}`, 'utf16le');

const asBytes = (text: fc.Arbitrary<string>): fc.Arbitrary<Buffer> =>
  fc
    .tuple(
      text,
      fc.constantFrom('utf8', 'utf8', 'utf8', 'bom', 'two boms', 'utf16', 'latin1', 'mixed ends', 'cut', 'torn'),
      fc.nat(),
      fc.uint8Array({ maxLength: 6 }),
    )
    .map(([whole, how, where, torn]) => {
      const bytes = Buffer.from(whole);
      const at = where % (bytes.length + 1);
      switch (how) {
        case 'bom':
          return Buffer.from(`\ufeff${whole}`);
        case 'two boms':
          return Buffer.from(`\ufeff\ufeff${whole}`);
        case 'utf16':
          return utf16(whole);
        case 'latin1':
          return Buffer.from(whole, 'latin1');
        case 'mixed ends':
          return Buffer.from(mixedEnds(whole));
        case 'cut':
          return bytes.subarray(0, at);
        case 'torn':
          return Buffer.concat([bytes.subarray(0, at), torn, bytes.subarray(at)]);
        default:
          return bytes;
      }
    });

/** A file of a kind with up to four things wrong in its cells, and perhaps in how it is written. */
function fileOf({ name }: ImportKind): fc.Arbitrary<Buffer> {
  const lines = files.get(name) ?? [];
  const typed = fc.oneof(someFigure, someDay, mutated(fc.constantFrom(...lines.slice(0, 30).flat())));
  const changes = fc.array(fc.tuple(cellChange, typed), { maxLength: 4 });
  const withChanges = ([rows, list]: [string[][], [CellChange, string][]]) => {
    for (const [one, text] of list) changeCell(rows, one, text);
    return rows;
  };
  const broken = fc.tuple(someRows(lines), changes).map(withChanges);
  const inPlace = fc.record({
    ...cellParts,
    how: fc.constantFrom('copy', 'figure', 'day', 'hostile'),
    row: fc.integer({ min: 1 }),
  });
  const nearly = fc.tuple(someRows(lines), fc.array(fc.tuple(inPlace, typed), { maxLength: 1 })).map(withChanges);
  const well = { mark: ',', end: '\r\n', quotes: 'needed' } as const;
  return fc.oneof(
    { arbitrary: nearly.map((rows) => Buffer.from(written({ lines: rows, ...well }))), weight: 3 },
    { arbitrary: asWritten(broken).map((text) => Buffer.from(text)), weight: 3 },
    { arbitrary: asBytes(asWritten(broken)), weight: 3 },
    { arbitrary: fc.uint8Array({ maxLength: 300 }).map((bytes) => Buffer.from(bytes)), weight: 1 },
  );
}

const CASES_A_LEDGER = 40;

/** What a small file can ask for without an end: it is refused, or read in a time that grows with its size only. */
test.each([
  ['blank lines', 'in-weights', 'occurred_on,bin,gross,unit\n', '\n', 1_900_000, /at most 50,000 lines/],
  ['lines of one cell', 'grades', 'name,family,quoted_per\r', 'x\r', 900_000, /at most 50,000 lines/],
  ['one double quote after the other', 'grades', 'name,family,quoted_per\n"', '""', 900_000, /no quote closes it/],
] as const)('%s to the end of a file keep nobody waiting', (_what, kind, header, line, times, sentence) => {
  const bytes = Buffer.from(header + line.repeat(times));
  const found = importKinds.find(({ name }) => name === kind) as ImportKind;
  const from = process.threadCpuUsage();
  const { problems } = importFile(site.ledger, found, bytes, true);
  const { user, system } = process.threadCpuUsage(from);
  expect(problems.map((problem) => problem.sentence)).toEqual([expect.stringMatching(sentence)]);
  expect((user + system) / 1000).toBeLessThan(1000);
});

test('thousands of loads of one manifest, and of its tickets, are refused', () => {
  const tryFile = (kind: string, header: string, rows: string[]) => {
    const found = importKinds.find(({ name }) => name === kind) as ImportKind;
    return importFile(site.ledger, found, Buffer.from([header, ...rows].join('\n')), true).problems;
  };
  site.putBack('ticket-lines');
  const loads = Array.from({ length: 2000 }, (_, row) => `Demo Yard North,9000,2025-06-01,L${row},CU1,1,lb`);
  const tooMany = tryFile('loads', 'yard,manifest,loaded_on,load,bin,net,unit', loads);
  expect(tooMany.map(({ sentence }) => sentence)).toEqual([
    'Manifest 9000 has 2000 loads here; one manifest can have at most 400.',
  ]);
  const header = 'yard,ticket,manifest,sold_on,line,loads,paid_as,gross,tare,deduction,net,unit,price,per,amount';
  const tickets = Array.from(
    { length: 60 },
    (_, row) => `Demo Yard North,T${row},1,2025-02-01,1,,No. 2 copper,5,0,0,5,lb,1,lb,5.00`,
  );
  const sentences = tryFile('ticket-lines', header, tickets).map(({ line, sentence }) => `${line} ${sentence}`);
  expect([sentences.length, sentences[0]]).toEqual([
    10,
    '52 Manifest 1 has 50 tickets already, more than a run can have.',
  ]);
});

test.each(importKinds.map((kind) => [kind.name, kind] as const))(
  'a file of %s with anything in it is taken whole or not at all',
  async (name, kind) => {
    const watch = slowest();
    let [tried, taken] = [0, 0];
    const tryFile = async (bytes: Buffer, isDry: boolean): Promise<void> => {
      const direct = await watch.once(`${name} ${JSON.stringify(bytes.toString('latin1', 0, 100))}`, async () => {
        const before = site.version();
        const from = process.threadCpuUsage();
        const report = importFile(site.ledger, kind, bytes, isDry);
        const { user, system } = process.threadCpuUsage(from);
        const isTaken = report.problems.length === 0;
        if (isTaken && !isDry) taken += 1;
        for (const { line, sentence } of report.problems) {
          expect([line >= 0 && line <= bytes.length + 1, sentence.length > 10, sentence.length < 1000]).toEqual([
            true,
            true,
            true,
          ]);
        }
        const isChanged = site.version() !== before;
        return { status: isTaken ? 200 : 422, body: '', location: '', workedMs: (user + system) / 1000, isChanged };
      });
      if (isDry || direct.status === 422) expect(direct.isChanged).toBe(false);
      else {
        expect(site.broken()).toEqual([]);
        // What was taken would be refused the next time.
        site.putBack(name);
      }
    };
    site.putBack(name);
    await fc.assert(
      fc.asyncProperty(fileOf(kind), fc.boolean(), fc.integer({ min: 0, max: 9 }), async (bytes, isDry, byPage) => {
        tried += 1;
        if (tried % CASES_A_LEDGER === 0) {
          expect(site.broken()).toEqual([]);
          site.putBack(name);
        }
        if (byPage > 0) return tryFile(bytes, isDry);
        const form = { url: '/import', who: 'own', isInParts: true } as const;
        const pairs = [['kind', name], ...(isDry ? [] : [['step', 'import']])] as [string, string][];
        const answer = await watch.once(`POST /import ${name}`, () =>
          sendForm(site, form, pairs, [{ field: 'file', name: 'file.csv', bytes }]),
        );
        expect([200, 303, 422]).toContain(answer.status);
        if (answer.status !== 303) expect(answer.isChanged).toBe(false);
      }),
      { numRuns: trials(25, 300), seed: 20251125 },
    );
    expect(site.broken()).toEqual([]);
    measured(`Files of ${name}`, `${tried} tried, ${taken} taken, ${watch.said()}`);
  },
);
