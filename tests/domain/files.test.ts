import fc from 'fast-check';
import { beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { importFile, LARGEST_FILE_BYTES } from '../../server/files/acts.ts';
import { neutralise, readCsv, withoutApostrophe, writeCsv } from '../../server/files/csv.ts';
import { findExport, writeExport } from '../../server/files/exports/names.ts';
import { findImportKind } from '../../server/files/imports/kinds.ts';
import { undoInWeight } from '../../server/ledger/acts.ts';
import { findBinByCode, updateBin } from '../../server/ledger/queries.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { undoCheck } from '../../server/scales/acts.ts';
import { changeSettings, closeBin, saveContainer } from '../../server/setup/acts.ts';
import { returnLoad } from '../../server/tickets/acts.ts';
import { BAD_FIGURES, binId, lb, massIn, newLedger, newYard, setUpWorkedExample, weighIn } from '../helper.ts';

const bytes = (text: string) => Buffer.from(text, 'utf8');
const csv = (...lines: string[]) => lines.map((line) => `${line}\r\n`).join('');

describe('reading CSV', () => {
  const cells = (text: string) => readCsv(bytes(text)).rows.map(({ line, cells: own }) => [line, ...own]);

  test('counts lines as an editor shows them, through quoted line breaks and blank lines', () => {
    expect(cells('a,b\r\n1,2\r\n\r\n"x\r\ny",3\r\n4,5\r\n')).toEqual([
      [2, '1', '2'],
      [4, 'x\r\ny', '3'],
      [6, '4', '5'],
    ]);
  });

  test('takes lines that end with LF, CR or CRLF, a byte order mark, and no line end at the end', () => {
    for (const text of ['a,b\n1,2', 'a,b\r1,2\r', '\uFEFFa,b\r\n1,2\r\n']) {
      expect([readCsv(bytes(text)).header?.cells, cells(text)]).toEqual([['a', 'b'], [[2, '1', '2']]]);
    }
  });

  test.each([
    ['a quote that is never closed', 'a,b\n1,"2\n3,4\n', 'no quote closes it', 2],
    ['a quote in the middle of a cell', 'a,b\n1,2\n3,4"5\n', 'in the middle of a cell', 3],
    ['something after a closing quote', 'a,b\n1,"2"3\n', 'follows the closing quote', 2],
    ['a quote that opens after a line break in quotes', 'a,b\r\n"x\r\nÿ",3\r\n1,"2\r\n', 'no quote closes it', 4],
  ])('%s is one problem with its line', (_, text, sentence, line) => {
    const { problems } = readCsv(bytes(text));
    expect(problems).toHaveLength(1);
    expect(problems[0]?.sentence).toContain(sentence);
    expect(problems[0]?.line).toBe(line);
  });

  test('a file that is not UTF-8 is said to be so', () => {
    expect(readCsv(Buffer.from([0x61, 0xff, 0x0a])).problems[0]?.sentence).toContain('not UTF-8');
  });
});

describe('writing CSV', () => {
  // Source: RFC 4180, section 2: CRLF ends every line; cells with commas, quotes or line breaks are quoted, quotes doubled.
  test('quotes what must be quoted and ends lines with CRLF', () => {
    const rows = [
      ['plain', 'a,b'],
      ['say "x"', 'two\nlines'],
      ['', 'é'],
    ];
    expect(writeCsv(['p', 'q'], rows)).toBe('p,q\r\nplain,"a,b"\r\n"say ""x""","two\nlines"\r\n,é\r\n');
  });

  test('a text that a spreadsheet would run is neutralised, and every text comes back', () => {
    // Source: OWASP, CSV Injection: = + - @, tab and carriage return at the start of a cell.
    expect(['=1', '+1', '-1', '@x', '\tx', '\rx', "'=1", "''-1", "'x", 'x', ''].map(neutralise)).toEqual([
      "'=1",
      "'+1",
      "'-1",
      "'@x",
      "'\tx",
      "'\rx",
      "''=1",
      "'''-1",
      "'x",
      'x',
      '',
    ]);
    const text = fc.stringMatching(/^['=+\-@a]{0,6}$/);
    fc.assert(
      fc.property(fc.oneof(text, fc.string()), (any) => {
        expect(withoutApostrophe(neutralise(any))).toBe(any);
        expect(neutralise(any)).not.toMatch(/^[=+\-@\t\r]/);
      }),
    );
  });
});

let ledger: Ledger;
beforeEach(() => {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  newYard(ledger, 'Demo Yard South');
});

function bringIn(name: string, text: string | Uint8Array, dryRun = false) {
  const kind = findImportKind(name);
  if (kind === undefined) throw new Error(`no kind ${name}`);
  return importFile(ledger, kind, typeof text === 'string' ? bytes(text) : text, dryRun);
}
const takeOut = (name: string, typed: Record<string, string> = {}) => {
  const file = findExport(name);
  if (file === undefined) throw new Error(`no export ${name}`);
  return writeExport(ledger, file, typed);
};
const said = ({ problems }: ReturnType<typeof bringIn>) =>
  problems.map(({ line, column, sentence }) => `${line} ${column}: ${sentence}`);
const rowCount = (table: string) => ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get() as number;
const everything = () =>
  [
    'grade',
    'bin',
    'yard',
    'yard_scale',
    'yard_scale_family',
    'scale',
    'scale_check',
    'quote',
    'in_weight',
    'manifest',
    'transfer',
    'ticket',
    'ticket_total',
    'event',
    'request',
  ]
    .map(rowCount)
    .join();

const IN_WEIGHTS = 'occurred_on,bin,gross,tare,unit,scale,item,note';
const LOADS = 'yard,manifest,loaded_on,load,bin,net,unit,quoted_price,quoted_per';
const LINES = 'yard,ticket,manifest,sold_on,line,loads,paid_as,gross,tare,deduction,net,unit,price,per,amount';
const TOTALS = 'yard,ticket,charges,tax,cash_rounding,total,paid_by';
const NORTH = 'Demo Yard North';

describe('the shape of a file', () => {
  test('columns come in any order, and those that may be left out may be left out', () => {
    expect(bringIn('in-weights', csv('unit,bin,GROSS,occurred_on', 'lb,CU2,3 lb 7 oz,2025-03-01')).problems).toEqual(
      [],
    );
    expect(massIn(ledger, 'CU2')).toBe(lb('3.4375'));
  });

  test('unknown, missing, repeated and nameless columns are all named at once', () => {
    expect(said(bringIn('quotes', csv('yard,grade,grade,colour,,per', 'x,x,x,x,x,x')))).toEqual([
      '1 colour: There is no column “colour” here. The columns of quotes are yard, grade, price, per, seen_on.',
      '1 : A column has no name.',
      '1 grade: Column “grade” is there twice.',
      '1 price: Column “price” is missing.',
      '1 seen_on: Column “seen_on” is missing.',
    ]);
  });

  test.each([
    ['an empty file', '', 'The file is empty. Its first line names its columns'],
    ['blank lines only', '\r\n\r\n', 'The file is empty.'],
    ['semicolons', csv('name;family;quoted_per', 'a;copper;lb'), 'not parted by commas'],
    ['a file above the limit', 'x'.repeat(LARGEST_FILE_BYTES + 1), 'at most 2 MB'],
    ['bytes that are no text', new Uint8Array([0xff, 0xfe, 0x61]), 'not UTF-8'],
  ])('%s is refused in one sentence', (_, text, sentence) => {
    const problems = said(bringIn('grades', text));
    expect(problems).toHaveLength(1);
    expect(problems[0]).toContain(sentence);
  });

  test('a line with too many or too few cells is named, and the other lines are still checked', () => {
    const file = csv('name,family,quoted_per', 'Lead,lead and zinc', 'Zinc,metal,lb', 'Tin,precious,lb,x,y');
    expect(said(bringIn('grades', file))).toEqual([
      '2 : This line has 2 cells, the first line names 3 columns.',
      expect.stringContaining('3 family: Choose a family: copper, '),
      '4 : This line has 5 cells, the first line names 3 columns.',
    ]);
  });

  test('a header without rows is nothing to do, as often as one likes', () => {
    for (const _ of [1, 2]) expect(bringIn('scales', csv('name,unit'))).toMatchObject({ rows: 0, problems: [] });
    expect(rowCount('request')).toBe(0);
  });

  test('the same file twice is refused with the day it was imported on', () => {
    const file = csv('name,unit', 'bench,lb');
    expect(bringIn('scales', file)).toMatchObject({ counted: '1 scale', problems: [] });
    expect(said(bringIn('scales', file))).toEqual(['0 : This file was already imported on 20 Mar 2025.']);
    expect(said(bringIn('scales', file, true))).toEqual(['0 : This file was already imported on 20 Mar 2025.']);
  });
});

describe('all or nothing', () => {
  const file = csv(
    IN_WEIGHTS,
    '2025-03-01,CU2,10,1,lb,,,fine',
    '2025-02-30,CU2,10,1,lb,,,',
    '2025-03-01,CU9,ten,1,stone,,,',
    '2025-03-01,CU2,2,3,lb,,Fan 12,',
    '2026-03-01,CU2,2,1,lb,shed,,',
  );

  test('every problem of every row is said with its line and column, and nothing is stored', () => {
    const before = everything();
    expect(said(bringIn('in-weights', file)).map((text) => text.split('. ')[0])).toEqual([
      '3 occurred_on: 2025-02-30 is not a day: Feb 2025 has 28 days.',
      '4 bin: There is no bin “CU9” in the ledger',
      '4 gross: This reading has to be a number',
      expect.stringContaining('4 unit: Choose a unit of weight'),
      '5 item: Write the number of the item, like 12',
      '6 scale: There is no scale “shed” in the ledger',
    ]);
    expect(everything()).toBe(before);
  });

  test('what the act refuses is a problem of its row too', () => {
    expect(
      said(bringIn('in-weights', csv(IN_WEIGHTS, '2025-03-01,CU2,2,3,lb,,,', '2026-03-01,CU2,2,1,lb,,,'))),
    ).toEqual([
      '2 gross: The tare (3.00 lb) is not below the reading (2.00 lb).',
      '3 occurred_on: This day has not come yet. Check the year.',
    ]);
  });

  test('a dry run tries everything and leaves nothing, and the file can then be imported', () => {
    const before = everything();
    const good = csv(IN_WEIGHTS, '2025-03-01,CU2,10,1,lb,,,');
    expect(bringIn('in-weights', good, true)).toMatchObject({ counted: '1 in-weight', problems: [] });
    expect(everything()).toBe(before);
    expect(bringIn('in-weights', good).problems).toEqual([]);
    expect(massIn(ledger, 'CU2')).toBe(lb('9'));
  });
});

describe('rows that are in the ledger already', () => {
  const notesOf = (name: string, text: string) =>
    bringIn(name, text, true).notes.map(({ line, sentence }) => [line, sentence]);

  test('in-weights are noted by line, whatever the unit and however the figure is written', () => {
    bringIn('in-weights', csv(IN_WEIGHTS, '2025-03-01,CU2,10.5,1,lb,,,', '2025-03-02,YB1,3 lb 7 oz,,lb,,,'));
    const rows = [
      '2025-03-01,CU2,10.500,1.0,lb,,,again',
      '2025-03-02,YB1,1.559224,,kg,,,',
      // Another day, bin, gross or tare is another weighing.
      '2025-03-03,CU2,10.5,1,lb,,,',
      '2025-03-01,YB1,10.5,1,lb,,,',
      '2025-03-01,CU2,10.6,1,lb,,,',
      '2025-03-01,CU2,10.5,,lb,,,',
    ];
    const { problems, notes } = bringIn('in-weights', csv(IN_WEIGHTS, ...rows));
    expect(problems).toEqual([]);
    expect(notes).toEqual([
      { line: 2, sentence: 'The same weighing into CU2 on 1 Mar 2025 is in the ledger already.', isRepeat: true },
      { line: 3, sentence: 'The same weighing into YB1 on 2 Mar 2025 is in the ledger already.', isRepeat: true },
    ]);
    expect(rowCount('in_weight')).toBe(8);
  });

  test('rows that are the same within one file, and weighings that were taken back, are not noted', () => {
    const id = weighIn(ledger, 'CU2', '10', '2025-03-01');
    undoInWeight(ledger, id, false);
    const row = '2025-03-01,CU2,10,,lb,,,';
    expect(notesOf('in-weights', csv(IN_WEIGHTS, row, row))).toEqual([]);
  });

  test.each([
    [5, null],
    [6, null],
    [7, [7, 'This row and 1 more are in the ledger already, 7 in all.']],
    [42, [7, 'This row and 36 more are in the ledger already, 42 in all.']],
  ])('of %i repeats at most six are named, the rest counted', (count, last) => {
    for (let index = 1; index <= count; index += 1) weighIn(ledger, 'CU2', String(index));
    const notes = notesOf('in-weights', takeOut('in-weights'));
    if (last === null)
      expect(notes.map(([line]) => line)).toEqual(Array.from({ length: count }, (_, index) => index + 2));
    else expect([notes.length, notes.at(-1)]).toEqual([6, last]);
  });

  test('quotes are noted by yard, grade, price, unit and day', () => {
    const QUOTES = 'yard,grade,price,per,seen_on';
    bringIn('quotes', csv(QUOTES, `${NORTH},Yellow brass,2.4,lb,2025-03-01`));
    const rows = [
      `${NORTH},Yellow brass,2.40,lb,2025-03-01`,
      `Demo Yard South,Yellow brass,2.40,lb,2025-03-01`,
      `${NORTH},Light copper,2.40,lb,2025-03-01`,
      `${NORTH},Yellow brass,2.41,lb,2025-03-01`,
      `${NORTH},Yellow brass,2.40,kg,2025-03-01`,
      `${NORTH},Yellow brass,2.40,lb,2025-03-02`,
    ];
    expect(notesOf('quotes', csv(QUOTES, ...rows))).toEqual([
      [2, 'The same price of Demo Yard North for Yellow brass, seen 1 Mar 2025, is in the ledger already.'],
    ]);
  });
});

describe('bad cells', () => {
  const GOOD: Record<string, Record<string, string>> = {
    grades: { name: 'Tin', family: 'precious', quoted_per: 'lb', code: '' },
    bins: { code: 'SN1', grade: 'Yellow brass', place: '' },
    yards: { name: 'East', unit: 'lb', cash_step: '0.05', scale_division: '0.5', scale_class: 'III' },
    'yard-scales': {
      yard: NORTH,
      name: 'truck scale',
      division: '20',
      class: 'III L',
      families: 'ferrous; electronics',
    },
    scales: { name: 'bench', division: '0.05', unit: 'lb', class: 'III', tolerance: '0.1' },
    'scale-checks': {
      scale: 'Floor',
      checked_on: '2025-03-01',
      check_weight: '20',
      reading: '20.1',
      unit: 'lb',
      adjusted: 'yes',
      note: 'marked weight',
    },
    quotes: { yard: NORTH, grade: 'Yellow brass', price: '2.40', per: 'lb', seen_on: '2025-03-01' },
    'in-weights': {
      occurred_on: '2025-03-01',
      bin: 'YB1',
      gross: '5',
      tare: '1',
      unit: 'lb',
      scale: '',
      item: '',
      note: '',
    },
    loads: {
      yard: NORTH,
      manifest: 'M1',
      loaded_on: '2025-03-01',
      load: 'A',
      bin: 'YB1',
      net: '5',
      unit: 'lb',
      quoted_price: '2.40',
      quoted_per: 'lb',
    },
    'ticket-lines': {
      yard: NORTH,
      ticket: '1',
      manifest: 'W1',
      sold_on: '2025-03-08',
      line: '1',
      loads: 'A',
      paid_as: 'Yellow brass',
      gross: '5',
      tare: '0',
      deduction: '0',
      net: '5',
      unit: 'lb',
      price: '2.40',
      per: 'lb',
      amount: '12.00',
    },
    'ticket-totals': {
      yard: NORTH,
      ticket: '70011',
      charges: '1',
      tax: '0',
      cash_rounding: '0',
      total: '11',
      paid_by: 'cash',
    },
  };

  beforeEach(() => {
    bringIn('scales', csv('name,unit', 'floor,lb'));
    weighIn(ledger, 'YB1', '20', '2025-02-01');
    bringIn('loads', csv(LOADS, `${NORTH},W1,2025-03-01,A,YB1,5,lb,,`, `${NORTH},W1,2025-03-01,B,YB1,5,lb,,`));
    bringIn('ticket-lines', csv(LINES, `${NORTH},70011,W1,2025-03-08,1,B,Yellow brass,5,0,0,5,lb,2.40,lb,12.00`));
  });

  const fileWith = (kind: string, change: Record<string, string>) => {
    const row = { ...GOOD[kind], ...change };
    return writeCsv(Object.keys(row), [Object.values(row)]);
  };

  test.each(Object.keys(GOOD))('the good row of %s is good', (kind) => {
    expect(said(bringIn(kind, fileWith(kind, {}), true))).toEqual([]);
  });

  const FIGURES: [string, string][] = [
    ['yards', 'cash_step'],
    ['yards', 'scale_division'],
    ['scales', 'division'],
    ['yard-scales', 'division'],
    ['scales', 'tolerance'],
    ['scale-checks', 'check_weight'],
    ['scale-checks', 'reading'],
    ['quotes', 'price'],
    ['in-weights', 'gross'],
    ['in-weights', 'tare'],
    ['loads', 'net'],
    ['loads', 'quoted_price'],
    ['ticket-lines', 'line'],
    ['ticket-lines', 'gross'],
    ['ticket-lines', 'tare'],
    ['ticket-lines', 'deduction'],
    ['ticket-lines', 'net'],
    ['ticket-lines', 'price'],
    ['ticket-lines', 'amount'],
    ['ticket-totals', 'charges'],
    ['ticket-totals', 'total'],
  ];
  test.each(FIGURES)('%s: no bad figure is taken for %s', (kind, column) => {
    const before = everything();
    for (const figure of BAD_FIGURES) {
      const { problems } = bringIn(kind, fileWith(kind, { [column]: figure }));
      expect([figure.slice(0, 20), problems.map((problem) => [problem.line, problem.column])]).toEqual([
        figure.slice(0, 20),
        [[2, column]],
      ]);
      expect(problems[0]?.sentence.length).toBeLessThan(200);
    }
    expect(everything()).toBe(before);
  });

  const LONG = 'x'.repeat(10_000);
  test.each([
    ['grades', 'name', ['', LONG, 'No. 2 COPPER', 'a\u0007b']],
    ['grades', 'family', ['', 'metal', LONG]],
    ['grades', 'quoted_per', ['', 'ton', 'parsec']],
    ['bins', 'code', ['', LONG, 'cu2', 'a b']],
    ['bins', 'grade', ['', 'Gold', LONG]],
    ['yards', 'name', ['', LONG, 'demo yard north']],
    ['yards', 'unit', ['', 'each', 'stone']],
    ['yards', 'cash_step', ['0', '0.001', '1000']],
    ['yards', 'scale_class', ['V', LONG]],
    ['yard-scales', 'yard', ['', 'West', LONG]],
    ['yard-scales', 'name', ['', LONG]],
    ['yard-scales', 'class', ['V', LONG]],
    ['yard-scales', 'families', ['gold', 'ferrous;gold', LONG]],
    ['scale-checks', 'scale', ['', 'shed', LONG]],
    ['scale-checks', 'checked_on', ['', '2025-02-30', '2025-03-21']],
    ['scale-checks', 'check_weight', ['', '0', '101 t']],
    ['scale-checks', 'reading', ['', '101 t']],
    ['scale-checks', 'unit', ['each', 'stone']],
    ['scale-checks', 'adjusted', ['maybe', LONG]],
    ['scale-checks', 'note', [LONG]],
    ['quotes', 'yard', ['', 'West', LONG]],
    ['quotes', 'grade', ['', 'Gold']],
    ['quotes', 'price', ['', '1.1234567', '9999999']],
    ['quotes', 'per', ['', 'bucket']],
    ['quotes', 'seen_on', ['', '2025-02-30', '01/03/2025', '2026-01-01', '２０２５-03-01']],
    ['in-weights', 'occurred_on', ['', '2025-13-01', '2025-3-1', '0000-00-00', '2025-03-21']],
    ['in-weights', 'bin', ['', 'nothing', LONG]],
    ['in-weights', 'gross', ['', '0', '1', '101 t', '5 stone']],
    ['in-weights', 'unit', ['', 'each', 'ton']],
    ['in-weights', 'scale', ['shed']],
    ['in-weights', 'note', [LONG]],
    ['loads', 'yard', ['', 'West']],
    ['loads', 'manifest', ['', 'w1', LONG]],
    ['loads', 'loaded_on', ['', '2025-02-29', '2025-03-21']],
    ['loads', 'load', ['', 'A;B', 'A,B', LONG]],
    ['loads', 'bin', ['', 'XX']],
    ['loads', 'net', ['', '0']],
    ['loads', 'unit', ['', 'each']],
    ['loads', 'quoted_price', ['']],
    ['loads', 'quoted_per', ['', 'bucket']],
    ['ticket-lines', 'ticket', ['', '70011', LONG]],
    ['ticket-lines', 'manifest', ['', 'W2', LONG]],
    ['ticket-lines', 'sold_on', ['', '2025-02-29']],
    ['ticket-lines', 'line', ['', '0', '1.5', '10000']],
    ['ticket-lines', 'loads', ['C', 'A;A', 'A;C', 'B', 'a']],
    ['ticket-lines', 'paid_as', ['', 'Gold']],
    ['ticket-lines', 'tare', ['6']],
    ['ticket-lines', 'deduction', ['6', '101%']],
    ['ticket-lines', 'unit', ['', 'bucket']],
    ['ticket-lines', 'price', ['']],
    ['ticket-lines', 'per', ['', 'bucket']],
    ['ticket-totals', 'ticket', ['', '70012']],
    ['ticket-totals', 'tax', ['one', '1e9']],
    ['ticket-totals', 'cash_rounding', ['0.001', '--1']],
    ['ticket-totals', 'total', ['']],
    ['ticket-totals', 'paid_by', ['', 'barter']],
  ] as [string, string, string[]][])('%s: a wrong %s is said at its cell', (kind, column, wrong) => {
    const before = everything();
    for (const cell of wrong) {
      const { problems } = bringIn(kind, fileWith(kind, { [column]: cell }));
      const found = problems.map((problem) => [problem.line, problem.column]);
      expect([cell.slice(0, 20), found]).toEqual([cell.slice(0, 20), [[2, column]]]);
    }
    expect(everything()).toBe(before);
  });

  test('a name that is twice in one file is said at the second, with the line of the first', () => {
    const file = csv('name,family,quoted_per', 'Tin,precious,lb', 'Zinc,precious,lb', 'TIN,precious,lb');
    expect(said(bringIn('grades', file))).toEqual(['4 name: “TIN” is on line 2 of this file already.']);
  });

  test('nothing goes into or out of a bin that is closed', () => {
    closeBin(ledger, binId(ledger, 'CU2'));
    for (const kind of ['in-weights', 'loads']) {
      expect(said(bringIn(kind, fileWith(kind, { bin: 'CU2' })))[0]).toMatch(/^2 bin: CU2 is closed/);
    }
  });
});

describe('loads', () => {
  test('what the bin does not hold is booked as a count difference, and said at its line', () => {
    weighIn(ledger, 'CU2', '58.20', '2025-02-01');
    const { problems, notes } = bringIn('loads', csv(LOADS, `${NORTH},W1,2025-03-08,A,CU2,61.40,lb,3.60,lb`));
    expect(problems).toEqual([]);
    expect(notes).toEqual([
      { line: 2, sentence: '3.20 lb more than the book has in CU2: booked as a count difference.' },
    ]);
    expect(massIn(ledger, 'CU2')).toBe(0);
  });

  test('a microgram that the pounds do not show is no difference worth a note', () => {
    for (const gross of ['1.02', '1.02']) weighIn(ledger, 'CU2', gross, '2025-02-01');
    expect(bringIn('loads', csv(LOADS, `${NORTH},W1,2025-03-08,A,CU2,2.04,lb,,`)).notes).toEqual([]);
  });

  test('a manifest whose rows disagree is said at each of them', () => {
    const file = csv(
      LOADS,
      `${NORTH},W1,2025-03-08,A,CU2,1,lb,,`,
      `${NORTH},w1,2025-03-09,B,YB1,1,lb,,`,
      `${NORTH},W1,2025-03-08,A,YB2,1,lb,,`,
    );
    expect(said(bringIn('loads', file))).toEqual([
      '3 loaded_on: Manifest W1 was loaded on another day on line 2.',
      '4 load: Load A of this manifest is on line 2 already.',
    ]);
  });

  test('without a price a load has the quote of its day, and with `none` it has no price', () => {
    bringIn('quotes', csv('yard,grade,price,per,seen_on', `${NORTH},No. 2 copper,3.60,lb,2025-03-01`));
    bringIn('loads', csv(LOADS, `${NORTH},W1,2025-03-08,A,CU2,1,lb,,`, `${NORTH},W1,2025-03-08,B,CU2,1,lb,none,`));
    expect(takeOut('loads').split('\r\n').slice(1, 3)).toEqual([
      `${NORTH},W1,2025-03-08,A,CU2,1.0000,lb,3.60,lb`,
      `${NORTH},W1,2025-03-08,B,CU2,1.0000,lb,none,`,
    ]);
  });

  test('drafts and loads that came back are not taken out', () => {
    bringIn('loads', csv(LOADS, `${NORTH},W1,2025-03-08,A,CU2,1,lb,,`, `${NORTH},W1,2025-03-08,B,YB1,1,lb,,`));
    draftManifest(ledger, { yardId: 1, binIds: [binId(ledger, 'YB2')], note: '' });
    returnLoad(ledger, 1, ledger.clock.today(), 'refused');
    expect(takeOut('loads').trim().split('\r\n')).toEqual([LOADS, `${NORTH},W1,2025-03-08,B,YB1,1.0000,lb,,`]);
  });
});

describe('tickets', () => {
  beforeEach(() => {
    bringIn('loads', csv(LOADS, `${NORTH},W1,2025-03-08,A,CU2,10,lb,3.60,lb`, `${NORTH},W1,2025-03-08,B,YB1,5,lb,,`));
  });
  const LINE = `${NORTH},70011,W1,2025-03-08`;

  test('a manifest of another yard is said to be that yard’s', () => {
    const file = csv(LINES, 'Demo Yard South,9,W1,2025-03-08,1,A,No. 2 copper,10,0,0,10,lb,3.60,lb,36.00');
    expect(said(bringIn('ticket-lines', file))).toEqual([
      '2 manifest: Manifest “W1” is not in the ledger for Demo Yard South: it was loaded for Demo Yard North.',
    ]);
  });

  test('a ticket whose rows disagree is said at each of them', () => {
    bringIn('loads', csv(LOADS, `${NORTH},W2,2025-03-08,A,CU2,1,lb,,`));
    const file = csv(
      LINES,
      `${LINE},1,A,No. 2 copper,10,0,0,10,lb,3.60,lb,36.00`,
      `${NORTH},70011,W2,2025-03-09,1,A,No. 2 copper,10,0,0,10,lb,3.60,lb,36.00`,
    );
    expect(said(bringIn('ticket-lines', file))).toEqual([
      '3 manifest: Ticket 70011 is for another manifest on line 2; it can be for one only.',
      '3 sold_on: Ticket 70011 has another day on line 2.',
      '3 line: Line 1 of this ticket is on line 2 of this file already.',
    ]);
  });

  test('a load that two tickets of one file pay for is said at the second', () => {
    const file = csv(
      LINES,
      `${LINE},1,A,No. 2 copper,10,0,0,10,lb,3.60,lb,36.00`,
      `${NORTH},70012,W1,2025-03-08,1,B,Yellow brass,5,0,0,5,lb,2.40,lb,12.00`,
      `${NORTH},70012,W1,2025-03-08,2,A,No. 2 copper,10,0,0,10,lb,3.60,lb,36.00`,
    );
    expect(said(bringIn('ticket-lines', file))).toEqual(['4 loads: Load A is already paid for by ticket 70011.']);
  });

  test('what the paper did not print is worked out, and slips of its arithmetic are notes', () => {
    const file = csv(
      LINES,
      `${LINE},2,B,Yellow brass,,,,5.0,lb,2.40,lb,`,
      `${LINE},1,A,No. 2 copper,10,0,0.5,9.4,lb,3.60,lb,34.20`,
    );
    const { problems, notes } = bringIn('ticket-lines', file);
    expect(problems).toEqual([]);
    expect(notes.map(({ line, sentence }) => `${line} ${sentence}`)).toEqual([
      "3 Ticket 70011: Line 1: gross 10 less tare 0 less deduction 0.5 is 9.5, the ticket says 9.4: $0.36 in the yard's favour.",
      expect.stringContaining('3 Ticket 70011: Line 1: 9.4 lb at $3.60 per lb is $33.84, the ticket says $34.20'),
    ]);
    expect(takeOut('ticket-lines').split('\r\n')[2]).toBe(`${LINE},2,B,Yellow brass,5.0,0,0,5.0,lb,2.40,lb,12.00`);
  });

  test('totals that do not add up are a note; the totals of a ticket come once', () => {
    bringIn('ticket-lines', csv(LINES, `${LINE},1,A,No. 2 copper,10,0,0,10,lb,3.60,lb,36.00`));
    const { problems, notes } = bringIn('ticket-totals', csv(TOTALS, `${NORTH},70011,2,0,0,35.00,cash`));
    expect([problems, notes.map(({ sentence }) => sentence)]).toEqual([
      [],
      ['Ticket 70011: its lines, charges, tax and rounding come to $34.00, its total says $35.00.'],
    ]);
    expect(said(bringIn('ticket-totals', csv(TOTALS, `${NORTH},70011,2,0,0,34.00,cash`)))).toEqual([
      '2 ticket: The totals of ticket 70011 are already in the ledger.',
    ]);
  });
});

describe('scales', () => {
  const CHECKS = 'scale,checked_on,check_weight,reading,unit,adjusted,note';
  const YARD_SCALES = 'yard,name,division,class,families';
  beforeEach(() => {
    bringIn('scales', csv('name,unit', 'bench,lb', 'pan,g'));
  });

  test('checks that stand are taken out by scale and day, in the unit their readings were typed in', () => {
    const rows = [
      'pan,2025-03-01,500,501,,,',
      'bench,2025-03-09,2 kg,4.4,lb,,marked weight',
      'bench,2025-03-02,10,10.1 lb,kg,YES,',
      'bench,2025-03-05,10,10,lb,,',
    ];
    expect(bringIn('scale-checks', csv(CHECKS, ...rows)).problems).toEqual([]);
    undoCheck(ledger, 4);
    expect(takeOut('scale-checks').trim().split('\r\n')).toEqual([
      CHECKS,
      'bench,2025-03-02,22.046226,10.1000,lb,yes,',
      'bench,2025-03-09,4.409245,4.4000,lb,,marked weight',
      'pan,2025-03-01,500.0000,501.0000,g,,',
    ]);
    expect(takeOut('scale-checks', { unit: 'kg' }).split('\r\n')[2]).toBe(
      'bench,2025-03-09,2.0000,1.995806,kg,,marked weight',
    );
  });

  test('a reading that a form would ask about is taken, and said at its line', () => {
    const file = csv(CHECKS, 'bench,2025-03-01,10,0,lb,,', 'bench,2025-03-01,10,11,lb,,');
    const { problems, notes } = bringIn('scale-checks', file);
    expect([problems, notes.map(({ line }) => line)]).toEqual([[], [2]]);
    expect(notes[0]?.sentence).toContain('far from the check weight');
  });

  test('checks that are in the ledger already are noted, whatever their unit', () => {
    bringIn('scale-checks', csv(CHECKS, 'bench,2025-03-01,2 kg,4.42,lb,,'));
    const again = csv(CHECKS, 'bench,2025-03-01,2000,2004.878 g,g,,', 'bench,2025-03-02,2 kg,4.42,lb,,');
    expect(bringIn('scale-checks', again, true).notes.map(({ line, sentence }) => [line, sentence])).toEqual([
      [2, 'The same check of bench on 1 Mar 2025 is in the ledger already.'],
    ]);
  });

  test('further scales of yards come by yard, with their families in one cell', () => {
    const rows = [
      `Demo Yard South,truck scale,20 kg,III L,Ferrous;motors and units`,
      `${NORTH},truck scale,20,III L,motors and units; ferrous`,
      `${NORTH},shed scale,,,`,
    ];
    expect(bringIn('yard-scales', csv(YARD_SCALES, ...rows)).problems).toEqual([]);
    expect(takeOut('yard-scales').trim().split('\r\n')).toEqual([
      YARD_SCALES,
      `${NORTH},truck scale,20,III L,ferrous;motors and units`,
      `${NORTH},shed scale,,,`,
      'Demo Yard South,truck scale,20 kg,III L,ferrous;motors and units',
    ]);
  });

  test('a name or a family that is twice at one yard is said at the second', () => {
    const rows = [`${NORTH},truck,20,,ferrous`, `${NORTH},TRUCK,20,,`, `${NORTH},floor,1,,copper;ferrous`];
    expect(said(bringIn('yard-scales', csv(YARD_SCALES, ...rows)))).toEqual([
      '3 name: “TRUCK” of Demo Yard North is on line 2 of this file already.',
      '4 families: ferrous goes over another scale on line 2 of this file already.',
    ]);
  });

  test('a family that the ledger has over another scale moves, and this is said', () => {
    bringIn('yard-scales', csv(YARD_SCALES, `${NORTH},truck,20,,ferrous`));
    const { problems, notes } = bringIn('yard-scales', csv(YARD_SCALES, `${NORTH},floor,1,,ferrous`));
    expect([problems, notes]).toEqual([
      [],
      [{ line: 2, sentence: 'floor: ferrous goes over it and no longer over truck.' }],
    ]);
    expect(said(bringIn('yard-scales', csv(YARD_SCALES, `${NORTH},Truck,,,`)))).toEqual([
      '2 name: “Truck” is already in the ledger. Choose another name.',
    ]);
  });
});

describe('what a file of a ledger says', () => {
  test('weights stay in the unit they were typed in, unless another is asked for', () => {
    bringIn('in-weights', csv(IN_WEIGHTS, '2025-03-01,CU2,12.4 kg,0,lb,,,', '2025-03-02,CU2,3 lb 7 oz,1,lb,,,'));
    expect(takeOut('in-weights').trim().split('\r\n').slice(1)).toEqual([
      '2025-03-01,CU2,12.4000,0.0000,kg,,,',
      '2025-03-02,CU2,3.4375,1.0000,lb,,,',
    ]);
    expect(takeOut('in-weights', { unit: 'g' }).trim().split('\r\n').slice(1)).toEqual([
      '2025-03-01,CU2,12400.0000,0.0000,g,,,',
      '2025-03-02,CU2,1559.223772,453.59237,g,,,',
    ]);
  });

  test('a ledger with a comma as its mark takes and gives the same files, and its forms show commas', () => {
    changeSettings(ledger, { ...ledger.settings, decimalMark: ',' });
    ledger = { ...ledger, settings: { ...ledger.settings, decimalMark: ',' } };
    bringIn('in-weights', csv(IN_WEIGHTS, '2025-03-01,CU2,1.204,0.5,kg,,,'));
    expect(takeOut('in-weights').split('\r\n')[1]).toBe('2025-03-01,CU2,1.2040,0.5000,kg,,,');
    expect(ledger.db.sqlite.prepare('select gross_typed from in_weight').pluck().get()).toBe('1,204');
  });

  test('an in-weight from a file leaves the container that the bench keeps with the bin', () => {
    const id = saveContainer(ledger, null, { name: 'bucket', tare_typed: '2', tare_ug: lb('2') });
    updateBin(ledger.db, binId(ledger, 'CU2'), { container_id: id });
    bringIn('in-weights', csv(IN_WEIGHTS, '2025-03-01,CU2,5,1,lb,,,'));
    expect(findBinByCode(ledger.db, 'CU2')?.container_id).toBe(id);
  });

  test('on-hand gives every open bin with its value at the best quote', () => {
    bringIn('quotes', csv('yard,grade,price,per,seen_on', `${NORTH},No. 2 copper,3.60,lb,2025-03-01`));
    weighIn(ledger, 'CU2', '10', '2025-02-01');
    closeBin(ledger, binId(ledger, 'FE1'));
    expect(takeOut('on-hand', { unit: 'kg' }).trim().split('\r\n')).toEqual([
      'bin,grade,net,unit,value,oldest_on',
      'CU2,No. 2 copper,4.5359,kg,36.00,2025-02-01',
      'WLO,"Insulated wire, low recovery",0.0000,kg,,',
      'YB1,Yellow brass,0.0000,kg,,',
      'YB2,Yellow brass,0.0000,kg,,',
    ]);
  });
});
