import SqliteDatabase from 'better-sqlite3';
import { parse as parseCsv } from 'csv-parse/sync';
import type { FastifyInstance } from 'fastify';
import type { DefaultTreeAdapterTypes } from 'parse5';
import { beforeAll, describe, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { Db } from '../../server/db/database.ts';
import { openDb } from '../../server/db/open.ts';
import { importFile } from '../../server/files/acts.ts';
import { ledgerExports, reportExports, writeExport } from '../../server/files/exports/names.ts';
import { findImportKind } from '../../server/files/imports/kinds.ts';
import { LOOKED_AT } from '../browser/pages.ts';
import { DEMO_CLOCK, fullDemo } from '../full-demo.ts';
import { get, post } from '../helper.ts';
import { postFiles } from '../multipart.ts';
import { elementsOf, freeTextColumns, HARMLESS, intruders, MARK, POISONS, poison, RAN, skeletonOf } from '../poison.ts';

// Whatever is typed, printed on a page or paper or written into a file, stays text. Pages are read with parse5, which
// builds the tree that browsers build (WHATWG HTML Standard).

let plain: Buffer;
beforeAll(async () => {
  plain = (await fullDemo()).db.sqlite.serialize();
});

/** A copy of the demo of its own. */
const copy = (): Ledger => openLedger(new Db(new SqliteDatabase(plain)), DEMO_CLOCK);

async function withApp<Result>(ledger: Ledger, act: (app: FastifyInstance) => Promise<Result>): Promise<Result> {
  const app = await buildApp({ db: ledger.db, clock: DEMO_CLOCK, homeUrls: () => ['http://192.168.7.20:4870'] });
  try {
    return await act(app);
  } finally {
    await app.close();
    ledger.db.close();
  }
}

/** A load of the demo's manifest 25, which is a draft. */
const LINE_OF_DRAFT = 83;

/** Parts of pages, and what else shows what is in the ledger. */
const PARTS = [
  '/weigh-in/understood?bin=CU2&gross=3&unit=lb',
  '/manifests/new/bins?yard=1',
  `/manifests/25/lines/${LINE_OF_DRAFT}/understood?gross=3`,
  '/find?q=lb',
  '/in-weights?page=2',
  '/trail?page=2',
];
const ADDRESSES = [...Object.values(LOOKED_AT).flat(), ...PARTS];
/** A bin's code is in its address, so that is another one when the code is. */
const addressIn = (address: string, before: string): string =>
  address.replace(/\b(CU2|CW2|PCB)\b/g, (code) => encodeURIComponent(before + code));

/** Every page of a ledger in which this text stands before every word. */
async function pagesWith(text: string): Promise<Map<string, string>> {
  const ledger = copy();
  poison(ledger.db, text);
  return withApp(ledger, async (app) => {
    const pages = new Map<string, string>();
    for (const address of ADDRESSES) {
      const { body, statusCode } = await get(app, addressIn(address, text));
      expect([address, statusCode]).toEqual([address, 200]);
      pages.set(address, body);
    }
    return pages;
  });
}

test('every kind of word in the ledger is tried', () => {
  const { db } = copy();
  const columns = freeTextColumns(db).map(({ table, column }) => `${table}.${column}`);
  expect(columns).toEqual(
    expect.arrayContaining([
      'attachment.file_name',
      'attachment_caption.caption',
      'bin.code',
      'bin.place',
      'bin_transfer.note',
      'container.name',
      'device.name',
      'event.detail',
      'event.who',
      'grade.code',
      'grade.name',
      'grade.recognise',
      'grade.spoiled_by',
      'in_weight.correction_reason',
      'in_weight.note',
      'load_return.reason',
      'manifest.note',
      'manifest.number',
      'manifest_line.label',
      'quote.seen_where',
      'recount.note',
      'scale.name',
      'scale_check.note',
      'ticket.note',
      'ticket.number',
      'ticket.replace_reason',
      'ticket_line.description',
      'yard.name',
      'yard.notes',
      'yard_grade.name',
      'yard_scale.name',
    ]),
  );
  db.close();
});

test('what looks for intruders finds them', () => {
  const within = (inside: string) => intruders(`<!doctype html><p title="${inside}">${inside}</p>`);
  const found = POISONS.filter((text) => within(text).length > 0);
  // The others are only something in an address, in an attribute without quotes, or in a template.
  expect(found.length).toBeGreaterThanOrEqual(9);
  for (const inside of [
    `<a href="javascript:${RAN}=1">`,
    '<script>x</script>',
    '<b onclick=x>',
    '<a href=//x.example>',
  ]) {
    expect(intruders(inside)).not.toEqual([]);
  }
});

describe('in the ledger', { timeout: 120_000 }, () => {
  let harmless: Map<string, string>;
  beforeAll(async () => {
    harmless = await pagesWith(HARMLESS);
  });

  test.for(POISONS.map((text) => [JSON.stringify(text).slice(0, 50), text] as const))('%s', async ([, text]) => {
    let shown = 0;
    for (const [address, page] of await pagesWith(text)) {
      const elements = elementsOf(page);
      expect([address, intruders(elements)]).toEqual([address, []]);
      const same = harmless.get(address) ?? '';
      if (skeletonOf(elements) !== skeletonOf(elementsOf(same)))
        throw new Error(`${address} has another shape with it`);
      if (page !== same) shown += 1;
    }
    // Nearly every page shows something of it, so that there was something to find.
    expect(shown).toBeGreaterThan(ADDRESSES.length * 0.7);
  });
});

type Element = DefaultTreeAdapterTypes.Element;
const attribute = ({ attrs }: Element, name: string): string | undefined =>
  attrs.find((each) => each.name === name)?.value;

interface Form {
  action: string;
  fields: { name: string; value: string; isText: boolean; isFigure: boolean }[];
}

/** Every form of a page that posts, with its fields as they stand there. */
function formsOf(page: string): Form[] {
  return elementsOf(page)
    .filter((element) => element.tagName === 'form' && attribute(element, 'method') === 'post')
    .map((form) => ({ action: attribute(form, 'action') ?? '', fields: fieldsOf(form) }));
}

function fieldsOf(form: Element): Form['fields'] {
  const inside = elementsIn(form);
  return inside.flatMap((element) => {
    const name = attribute(element, 'name') ?? '';
    const type = attribute(element, 'type') ?? 'text';
    const isFigure = attribute(element, 'inputmode') === 'decimal';
    if (name === '' || type === 'file' || type === 'submit') return [];
    if (element.tagName === 'textarea') return [{ name, value: textOf(element), isText: true, isFigure }];
    if (element.tagName === 'select') return [{ name, value: chosenIn(element), isText: false, isFigure }];
    if (element.tagName !== 'input') return [];
    const isOff = (type === 'checkbox' || type === 'radio') && attribute(element, 'checked') === undefined;
    if (isOff) return [];
    const isText = ['text', 'search', 'password', 'date'].includes(type);
    return [{ name, value: attribute(element, 'value') ?? '', isText, isFigure: isFigure || type === 'date' }];
  });
}

const elementsIn = (parent: Element): Element[] =>
  parent.childNodes.flatMap((child) => ('tagName' in child ? [child, ...elementsIn(child)] : []));
const textOf = (element: Element): string =>
  element.childNodes.map((child) => ('value' in child ? child.value : '')).join('');
function chosenIn(select: Element): string {
  const options = elementsIn(select).filter(({ tagName }) => tagName === 'option');
  const chosen = options.find((option) => attribute(option, 'selected') !== undefined) ?? options[0];
  return chosen === undefined ? '' : (attribute(chosen, 'value') ?? textOf(chosen));
}

/** Ways to fill a form: every field, every text, or only those that take any words, the figures as a person types them. */
const FILLINGS = ['everything', 'every text', 'only words'] as const;

function filled({ fields }: Form, how: (typeof FILLINGS)[number], text: string): Record<string, string> {
  const typed: Record<string, string> = {};
  for (const { name, value, isText, isFigure } of fields) {
    // The form's own token says where it comes from, its key that it is another one.
    if (name === 'formToken') continue;
    if (name === 'requestKey') typed[name] = `${value}-${how.length}`.slice(0, 80);
    else if (how === 'everything' || (how === 'every text' && isText) || (isText && !isFigure)) typed[name] = text;
    else typed[name] = value === '' && isText && !/date/i.test(name) ? '10' : value;
  }
  return typed;
}

test('in every field of every form: what comes back is text, and so is what was kept', {
  timeout: 120_000,
}, async () => {
  const ledger = copy();
  const counts = { forms: 0, kept: 0, refused: 0 };
  await withApp(ledger, async (app) => {
    const seen = new Set<string>();
    const pages = ADDRESSES.filter((address) => !PARTS.includes(address));
    for (const [index, address] of pages.entries()) {
      for (const form of formsOf((await get(app, address)).body)) {
        const kind = form.action.replace(/\d+/g, '1') + form.fields.map(({ name }) => name.replace(/\d+/g, '1')).sort();
        if (form.action.startsWith('/setup/devices/passphrase') || seen.has(kind)) continue;
        seen.add(kind);
        counts.forms += 1;
        for (const [way, how] of FILLINGS.entries()) {
          const text = POISONS[(index + way * 4) % POISONS.length] ?? '';
          const answer = await post(
            app,
            form.action,
            filled(form, how, how === 'only words' ? text.slice(0, 38) : text),
          );
          expect([form.action, how, answer.statusCode < 500]).toEqual([form.action, how, true]);
          expect([form.action, how, intruders(answer.body)]).toEqual([form.action, how, []]);
          if (answer.statusCode === 303) counts.kept += 1;
          else counts.refused += 1;
        }
      }
    }
    for (const address of ADDRESSES) {
      const { body } = await get(app, address);
      expect([address, intruders(body)]).toEqual([address, []]);
    }
  });
  expect(counts.forms).toBeGreaterThan(45);
  expect(counts.kept).toBeGreaterThan(30);
  expect(counts.refused).toBeGreaterThan(60);
});

test('in every question of every page', async () => {
  const QUESTIONS = [
    'q',
    'bin',
    'yard',
    'grade',
    'from',
    'to',
    'split',
    'page',
    'kind',
    'rows',
    'trail',
    'document',
    'manifest',
    'done',
    'bins',
    'chosen',
    'unit',
    'gross',
    'who',
    'device',
    'act',
    'period',
    'photosPage',
    'photosKept',
    'checked',
    'undone',
    'number',
  ];
  await withApp(copy(), async (app) => {
    for (const [index, address] of [...ADDRESSES, '/sign-in', '/pair/x', '/no-such-page'].entries()) {
      const [path = ''] = address.split('?');
      for (const text of [0, 5, 10].map((way) => POISONS[(index + way) % POISONS.length] ?? '')) {
        const { body, statusCode } = await get(
          app,
          `${path}?${new URLSearchParams(Object.fromEntries(QUESTIONS.map((name) => [name, text])))}`,
        );
        expect([address, statusCode < 500]).toEqual([address, true]);
        expect([address, intruders(body)]).toEqual([address, []]);
      }
    }
    for (const text of POISONS) {
      const { body } = await get(app, `/${encodeURIComponent(text)}`);
      expect(intruders(body)).toEqual([]);
    }
  });
}, 120_000);

test('in the name of a photo', { timeout: 120_000 }, async () => {
  await withApp(copy(), async (app) => {
    for (const [index, text] of POISONS.entries()) {
      const name = `${text.replace(/["\r\n]/g, '')}.pdf`;
      const paper = `%PDF-1.7\n${index}\n%%EOF\n`;
      expect((await postFiles(app, '/tickets/6/photos', {}, [{ name, bytes: paper }])).statusCode).toBe(303);
      // Taken off, a paper without a caption goes by its file's name.
      expect((await post(app, `/photos/${index + 2}/removal`, {})).statusCode).toBe(303);
      const refused = await postFiles(app, '/tickets/6/photos', { caption: text }, [{ name, bytes: 'no photo' }]);
      expect(refused.statusCode).toBe(422);
      expect(intruders(refused.body)).toEqual([]);
    }
    const last = { name: '<script>.pdf', bytes: '%PDF-1.7\nlast\n%%EOF\n' };
    await postFiles(app, '/tickets/6/photos', { caption: POISONS[0] ?? '' }, [last]);
    for (const address of ['/tickets/6', `/photos/${POISONS.length + 2}`]) {
      const { body } = await get(app, address);
      expect([address, intruders(body)]).toEqual([address, []]);
      expect([address, body.includes(`&lt;script&gt;${RAN}`)]).toEqual([address, true]);
    }
  });
});

describe('in files', { timeout: 120_000 }, () => {
  const files = [...ledgerExports, ...reportExports];
  const cellsOf = (text: string) => parseCsv(text) as string[][];

  test.for(POISONS.map((text) => [JSON.stringify(text).slice(0, 50), text] as const))('%s', ([, text]) => {
    const [poisoned, before] = [copy(), copy()];
    poison(poisoned.db, text);
    for (const file of files) {
      const [cells, plainCells] = [poisoned, before].map((ledger) => cellsOf(writeExport(ledger, file, {})));
      // As many rows and cells as without it: nothing ends a cell or a line.
      expect([file.name, cells?.map((row) => row.length)]).toEqual([file.name, plainCells?.map((row) => row.length)]);
      expect([file.name, cells?.some((row) => row.some((cell) => cell.includes(MARK) || cell.includes(RAN)))]).toEqual([
        file.name,
        true,
      ]);
    }
    poisoned.db.close();
    before.db.close();
  });

  /** What a spreadsheet takes for a formula (OWASP, CSV Injection); a figure may begin with its sign. */
  const FORMULA = /^[=+\-@\t\r]/;
  const FIGURE = /^-?\d+(\.\d+)?$/;

  test.for(['=', '+', '-', '@', '\t=', '\r=', "'=", '=cmd|x!A1,', '="a"&"b"\r\n=', '-1+1\n@'])(
    'no cell is a formula where every word begins with %j',
    (sign) => {
      const ledger = copy();
      poison(ledger.db, sign);
      for (const file of files) {
        const rows = cellsOf(writeExport(ledger, file, {})).slice(1);
        expect([file.name, rows.length > 0]).toEqual([file.name, true]);
        const formulas = rows.flat().filter((cell) => FORMULA.test(cell) && !FIGURE.test(cell));
        expect([file.name, formulas.slice(0, 3)]).toEqual([file.name, []]);
      }
      ledger.db.close();
    },
  );

  test.for(['=', '+', '-', '@', "'=", "''-", "'"])(
    'words that begin with %j come back the same from the files',
    (sign) => {
      const ledger = copy();
      poison(ledger.db, sign);
      // A bin's code has letters and digits only, so no form lets these in.
      ledger.db.sqlite.prepare('update bin set code = substr(code, ?)').run(sign.length + 1);
      const back = openLedger(openDb(':memory:'), DEMO_CLOCK);
      for (const file of ledgerExports) {
        const kind = findImportKind(file.name);
        if (kind === undefined) throw new Error(`${file.name} cannot be brought in`);
        const report = importFile(back, kind, Buffer.from(writeExport(ledger, file, {})), false);
        expect([file.name, report.problems.slice(0, 3)]).toEqual([file.name, []]);
      }
      for (const file of ledgerExports) {
        expect([file.name, writeExport(back, file, {})]).toEqual([file.name, writeExport(ledger, file, {})]);
      }
      const names = (of: Ledger) => of.db.sqlite.prepare('select name from yard order by name').pluck().all();
      expect(names(back)).toEqual(names(ledger));
      expect(String(names(back)[0])).toMatch(new RegExp(`^${RegExp.escape(sign)}`));
      ledger.db.close();
      back.db.close();
    },
  );
});
