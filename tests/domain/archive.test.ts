import { createWriteStream, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pipeline } from 'node:stream/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { fromBufferPromise } from 'yauzl';
import { ZipFile } from 'yazl';
import { letIn, setFirstPassphrase } from '../../server/access/acts.ts';
import { passphraseHash } from '../../server/access/queries.ts';
import { keepFiles } from '../../server/attachments/acts.ts';
import { writeArchive } from '../../server/backups/archive.ts';
import { prepareRestore, putInPlace } from '../../server/backups/restoring.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { readCsv } from '../../server/files/csv.ts';
import { ledgerExports, writeExport } from '../../server/files/exports/names.ts';
import { binId, clock, massIn, setUpWorkedExample, weighIn } from '../helper.ts';

// One file with everything: what is in it, what is not, and what a hostile one cannot do.

let folder: string;
let file: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-archive-'));
  file = join(folder, 'ledger.sqlite');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const archive = () => join(folder, 'archive.zip');
const make = () => writeArchive(file, join(folder, 'archiving-0-x.sqlite'), () => createWriteStream(archive()));

async function entriesOf(path: string): Promise<Map<string, Buffer>> {
  const zip = await fromBufferPromise(readFileSync(path), { lazyEntries: true });
  const entries = new Map<string, Buffer>();
  for await (const entry of zip.eachEntry()) {
    const parts: Buffer[] = [];
    for await (const part of await zip.openReadStreamPromise(entry)) parts.push(part as Buffer);
    entries.set(entry.fileName, Buffer.concat(parts));
  }
  return entries;
}

const PDF = Buffer.from('%PDF-1.4 invented');
const JPEG = Buffer.from([0xff, 0xd8, 0xff, 0xe0, 1, 2, 3]);

function begin(): Ledger {
  const ledger = openLedger(openDb(file), clock);
  setUpWorkedExample(ledger);
  weighIn(ledger, 'CU2', '10', '2025-03-01', { note: '=1+1 from the washer' });
  const kept = (content: 'pdf' | 'photo', name: string, bytes: Buffer) => ({
    content,
    name,
    sha256: (content === 'pdf' ? 'a' : 'b').repeat(64),
    width: content === 'pdf' ? null : 10,
    height: content === 'pdf' ? null : 10,
    whole: () => bytes,
    preview: content === 'pdf' ? null : JPEG,
  });
  const bin = { kind: 'bin', ids: [binId(ledger, 'CU2')] } as const;
  keepFiles(ledger, bin, [kept('pdf', 'paper.pdf', PDF), kept('photo', '../../evil.jpg', JPEG)], 'Motor, =wound');
  setFirstPassphrase(ledger, 'scrypt$SECRETSALT$SECRETHASH');
  letIn(ledger, 'Phone', 'pairing');
  return ledger;
}

describe('an archive', () => {
  test('has the lists as they are exported, every table, the photos as files, and words that explain them', async () => {
    const ledger = begin();
    const verdict = await make();
    expect(verdict.found).toEqual([]);
    const entries = await entriesOf(archive());
    for (const each of ledgerExports) {
      expect(entries.get(`lists/${each.name}.csv`)?.toString('utf8')).toBe(writeExport(ledger, each, {}));
    }
    const tables = ledger.db.sqlite
      .prepare("select name from sqlite_master where type = 'table'")
      .pluck()
      .all() as string[];
    const left = tables.filter((name) => !entries.has(`tables/${name}.csv`)).sort();
    expect(left.filter((name) => !/^found/.test(name))).toEqual([
      'attachment_bytes',
      'attachment_preview',
      'device',
      'home_address',
      'passphrase',
      'request',
    ]);
    const weighings = readCsv(entries.get('tables/in_weight.csv') ?? new Uint8Array());
    expect(weighings.rows).toHaveLength(1);
    expect(weighings.rows[0]?.cells[weighings.header?.cells.indexOf('note') ?? -1]).toBe('=1+1 from the washer');
    expect(entries.get('tables/in_weight.csv')?.toString()).toContain("'=1+1");
    const photos = [...entries.keys()].filter((name) => name.startsWith('photos/')).sort();
    expect(photos).toEqual([
      'photos/bin CU2, 2025-03-20, 1.pdf',
      'photos/bin CU2, 2025-03-20, 2.jpg',
      'photos/index.csv',
    ]);
    expect(entries.get(photos[0] ?? '')).toEqual(PDF);
    expect(entries.get(photos[1] ?? '')).toEqual(JPEG);
    expect(entries.get('photos/index.csv')?.toString()).toContain('Motor');
    expect(entries.get('README.txt')?.toString()).toContain('1 weighing and 2 photos and papers');
    ledger.db.close();
    expect(readdirSync(folder).filter((name) => name.startsWith('archiving'))).toEqual([]);
  });

  test('a table of many rows comes whole, in order', async () => {
    const ledger = begin();
    ledger.db.transaction(() => {
      for (let count = 0; count < 1203; count += 1) weighIn(ledger, 'YB1', '1', '2025-03-02', { note: `n${count}` });
    });
    ledger.db.close();
    await make();
    const { rows, header } = readCsv((await entriesOf(archive())).get('tables/in_weight.csv') ?? new Uint8Array());
    const note = header?.cells.indexOf('note') ?? -1;
    expect(rows.slice(1).map(({ cells }) => cells[note])).toEqual(
      Array.from({ length: 1203 }, (_, count) => `n${count}`),
    );
  });

  test('has nothing of who gets in, not even what is left of it in the file', async () => {
    begin().db.close();
    await make();
    for (const [name, bytes] of await entriesOf(archive())) {
      expect([name, bytes.includes('SECRETHASH')]).toEqual([name, false]);
    }
  });

  test('restores the ledger with its photos; who gets in stays as it is here', async () => {
    begin().db.close();
    await make();
    const here = openLedger(openDb(file), clock);
    weighIn(here, 'CU2', '3');
    here.db.close();
    const plan = { source: archive(), ledger: file, dataFolder: folder };
    const prepared = await prepareRestore(plan);
    expect(prepared).toMatchObject({ isOther: false, beyond: { count: 1, since: clock.now() } });
    await putInPlace(prepared, plan);
    const after = openLedger(openDb(file), clock);
    expect(massIn(after, 'CU2')).toBe(4_535_923_700);
    expect(passphraseHash(after.db)).toContain('SECRETHASH');
    expect(checkLedger(after).flatMap(({ found }) => found)).toEqual([]);
    expect(after.db.sqlite.prepare('select bytes from attachment_bytes where attachment_id = 1').pluck().get()).toEqual(
      PDF,
    );
    after.db.close();
  });

  test('on another computer, nobody is let in by it, and there is no passphrase', async () => {
    begin().db.close();
    await make();
    rmSync(file);
    const plan = { source: archive(), ledger: file, dataFolder: folder };
    await putInPlace(await prepareRestore(plan), plan);
    const db = openDb(file);
    expect(passphraseHash(db)).toBeUndefined();
    expect(db.sqlite.prepare('select count(*) from device').pluck().get()).toBe(0);
    db.close();
  });
});

describe('a hostile archive is refused in one sentence, and writes nothing', () => {
  const zipOf = async (entries: readonly (readonly [string, Buffer])[]): Promise<string> => {
    const zip = new ZipFile();
    for (const [name, bytes] of entries) zip.addBuffer(bytes, name);
    zip.end();
    await pipeline(zip.outputStream, createWriteStream(archive()));
    return archive();
  };
  /** Gives an entry another name of the same length, in both places where it stands. */
  const rename = (from: string, to: string): void => {
    expect(to).toHaveLength(from.length);
    writeFileSync(archive(), Buffer.from(readFileSync(archive(), 'latin1').replaceAll(from, to), 'latin1'));
  };
  const refused = async (): Promise<string> => {
    const before = existsSync(file) ? readFileSync(file) : null;
    const names = readdirSync(folder).sort();
    const why = await prepareRestore({ source: archive(), ledger: file, dataFolder: folder }).then(
      () => 'taken',
      (error: Error) => error.message,
    );
    expect(readdirSync(folder).sort()).toEqual(names);
    if (before !== null) expect(readFileSync(file)).toEqual(before);
    return why;
  };
  const whole = (): Buffer => {
    begin().db.close();
    const db = openDb(file);
    db.sqlite.pragma('journal_mode = DELETE');
    db.close();
    return readFileSync(file);
  };
  const UNREADABLE = 'This archive is damaged or was made by another program, so nothing of it was taken.';

  test('without a ledger, and with a ledger in another folder', async () => {
    await zipOf([['README.txt', Buffer.from('hello')]]);
    expect(await refused()).toBe('This archive has no ledger in it, so there is nothing to restore from it.');
    await zipOf([['other/ledger.sqlite', whole()]]);
    expect(await refused()).toBe('This archive has no ledger in it, so there is nothing to restore from it.');
  });

  test.for([
    ['ledger.sqlite', 'LEDGER.SQLITE'],
    ['ledger.sqlite', 'b/ledger.sqlite'],
    ['ledger.sqlite', 'other.sqlite'],
  ])('with two ledgers: %s and %s', async ([one, other]) => {
    const bytes = whole();
    await zipOf([
      [one ?? '', bytes],
      [other ?? '', bytes],
    ]);
    expect(await refused()).toBe('This archive has more than one ledger in it, so none was taken.');
  });

  test.for([
    ['a/b/ledger.sqlite', '../../ledgr.sqlit'],
    ['a/b/ledger.sqlite', '/etc/ledgr.sqlite'],
    ['a/b/ledger.sqlite', '..\\..\\ledgr.sqlit'],
    ['a/b/ledger.sqlite', 'c:/x/ledgr.sqlite'],
  ] as const)('with a name that leads out of its folder: %s as %s', async ([from, to]) => {
    await zipOf([
      [from, Buffer.from('x')],
      ['ledger.sqlite', whole()],
    ]);
    rename(from, to);
    expect(await refused()).toBe(UNREADABLE);
    expect(readdirSync(join(folder, '..')).filter((name) => /ledgr/.test(name))).toEqual([]);
  });

  test('that unfolds to more than it says, or to zeros without end', async () => {
    await zipOf([['ledger.sqlite', Buffer.alloc(200_000_000)]]);
    expect(readFileSync(archive()).length).toBeLessThan(300_000);
    expect(await refused()).toBe(UNREADABLE);
    const bytes = whole();
    await zipOf([['ledger.sqlite', Buffer.concat([bytes, Buffer.alloc(50_000_000)])]]);
    expect(await refused()).toBe(UNREADABLE);
    // A size that no disk has.
    await zipOf([['ledger.sqlite', bytes]]);
    const zip = readFileSync(archive());
    zip.writeUInt32LE(0xffff_fff0, zip.indexOf(Buffer.from('PK\x01\x02', 'latin1')) + 24);
    writeFileSync(archive(), zip);
    expect(await refused()).toMatch(/^(This archive is damaged|There is no room on the disk)/);
  });

  test('cut short at any place, or with bytes changed', async () => {
    await zipOf([['ledger.sqlite', whole()]]);
    const bytes = readFileSync(archive());
    for (const share of [0.1, 0.5, 0.9, 0.999]) {
      writeFileSync(archive(), bytes.subarray(0, Math.floor(bytes.length * share)));
      expect(await refused()).toBe(UNREADABLE);
    }
    for (const share of [0.2, 0.4, 0.6]) {
      const changed = Buffer.from(bytes);
      changed.fill(0x55, Math.floor(bytes.length * share), Math.floor(bytes.length * share) + 40);
      writeFileSync(archive(), changed);
      expect(await refused()).toMatch(/damaged|does not hold/);
    }
  });

  test.for([
    ['', 'This file is damaged or not a ledger of Tarebook.'],
    ['PK', UNREADABLE],
    ['hello, this is a letter', 'This file is damaged or not a ledger of Tarebook.'],
    ['SQLite format 3\0 and then nothing', 'This file is damaged or not a ledger of Tarebook.'],
  ] as const)('a file that is none: “%s”', async ([text, sentence]) => {
    begin().db.close();
    writeFileSync(archive(), text);
    expect(await refused()).toBe(sentence);
  });
});
