import { Readable, type Writable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import SqliteDatabase from 'better-sqlite3';
import { ZipFile } from 'yazl';
import { outgoingName } from '../attachments/names.ts';
import { type Attachment, allAttachments, documentName, wholeOf } from '../attachments/queries.ts';
import { localTime, systemClock } from '../clock.ts';
import { type Ledger, openLedger } from '../context.ts';
import { Db } from '../db/database.ts';
import { neutralise, writeCsv } from '../files/csv.ts';
import { ledgerExports, reportExports, writeExport } from '../files/exports/names.ts';
import { safeEntryName, writeHoldings } from './compute.ts';
import { copyLedger, makePlain } from './copy.ts';
import { examine, type Verdict } from './examining.ts';
import { removeWithHelpers } from './files.ts';
import { forgetWhoGetsIn, rowsOfTable, tablesForPeople } from './queries.ts';
import { LEDGER_ENTRY } from './unpacking.ts';

const ROWS_AT_ONCE = 500;

/**
 * Writes everything of a ledger into one zip file, as it is at one moment: plain text and photos for people, and the
 * ledger itself, from which Tarebook can be restored. Nothing is held in memory but the part that is being written.
 * @param work a file for the copy that it is made from; removed at the end
 * @param open what it is written to; opened once there is something to write
 * @returns what the checks found in that copy
 */
export async function writeArchive(ledger: string, work: string, open: () => Writable): Promise<Verdict> {
  try {
    await copyLedger(ledger, work);
    const copy = new Db(new SqliteDatabase(work));
    forgetWhoGetsIn(copy);
    copy.close();
    makePlain(work);
    const verdict = examine(work, `${work}-older`);
    const db = new Db(new SqliteDatabase(work, { readonly: true }));
    try {
      const zip = new ZipFile();
      const failed = new Promise<never>((_resolve, reject) => zip.on('error', reject));
      addAll(zip, openLedger(db, systemClock), verdict);
      // Most of it is photos, which grow no smaller by more effort.
      zip.addFile(work, LEDGER_ENTRY, { compressionLevel: 1 });
      zip.end();
      await Promise.race([pipeline(zip.outputStream, open()), failed]);
    } finally {
      db.close();
    }
    return verdict;
  } finally {
    removeWithHelpers(work);
  }
}

function addAll(zip: ZipFile, ledger: Ledger, verdict: Verdict): void {
  const text = (name: string, write: () => Iterable<string>) =>
    zip.addReadStreamLazy(name, {}, (take) => take(null, Readable.from(encoded(write()))));
  text('README.txt', () => [readMe(verdict)]);
  for (const file of [...ledgerExports, ...reportExports]) {
    text(`lists/${file.name}.csv`, () => [writeExport(ledger, file, {})]);
  }
  for (const table of tablesForPeople(ledger.db)) text(`tables/${table}.csv`, () => tableText(ledger.db, table));
  const photos = allAttachments(ledger.db).map((photo) => ({ photo, file: photoName(ledger.db, photo) }));
  text('photos/index.csv', () => [photoIndex(ledger.db, photos)]);
  for (const { photo, file } of photos) {
    const options = { compress: false, mtime: new Date(photo.recorded_at) };
    zip.addReadStreamLazy(`photos/${file}`, options, (take) =>
      take(null, Readable.from([Buffer.from(wholeOf(ledger.db, photo.id) ?? new Uint8Array())])),
    );
  }
}

/** Bytes, because a stream of texts would be taken for objects. An empty one ends the stream, so there is none. */
function* encoded(texts: Iterable<string>): Iterable<Buffer> {
  for (const text of texts) if (text !== '') yield Buffer.from(text, 'utf8');
}

/** A table as it stands in the ledger, some rows at a time. */
function* tableText(db: Db, table: string): Iterable<string> {
  const { columns, rows } = rowsOfTable(db, table);
  yield writeCsv(columns, []);
  let some: string[][] = [];
  const written = () => writeCsv(some[0] ?? [], some.slice(1));
  for (const row of rows) {
    some.push(row.map((cell) => (typeof cell === 'string' ? neutralise(cell) : cell === null ? '' : String(cell))));
    if (some.length < ROWS_AT_ONCE) continue;
    yield written();
    some = [];
  }
  if (some.length > 0) yield written();
}

/** "ticket 70011, 2025-03-08, 12.jpg": whose it is, when it was kept, and its number, which no other has. */
function photoName(db: Db, { id, document_kind, document_id, content, kept_on }: Attachment): string {
  const whose = documentName(db, document_kind, document_id)?.name ?? document_kind;
  return safeEntryName(outgoingName(`${whose}, ${kept_on}, ${id}.x`, content));
}

const INDEX = ['file', 'document', 'caption', 'name', 'kept_on', 'kept_by', 'taken_off'] as const;

const photoIndex = (db: Db, photos: readonly { photo: Attachment; file: string }[]): string =>
  writeCsv(
    INDEX,
    photos.map(({ photo, file }) => [
      neutralise(file),
      neutralise(documentName(db, photo.document_kind, photo.document_id)?.name ?? photo.document_kind),
      neutralise(photo.caption),
      neutralise(photo.file_name),
      photo.kept_on,
      neutralise(photo.who),
      photo.is_kept === 1 ? '' : 'yes',
    ]),
  );

function readMe({ found, holdings, lastAt }: Verdict): string {
  const { day, time } = localTime(systemClock.now());
  const last = lastAt === null ? null : localTime(lastAt);
  const lines = [
    'TAREBOOK: EVERYTHING IN THIS LEDGER',
    '',
    `Made on ${day} at ${time}. It holds ${holdings === null ? 'what could be read' : writeHoldings(holdings)}.`,
    ...(last === null ? [] : [`The last entry is of ${last.day}, ${last.time}.`]),
    ...(found.length === 0 ? [] : ['', 'ATTENTION. When this was made, the ledger was not as it should be:', ...found]),
    '',
    'You need no Tarebook to read this. The files that end in .csv open in any spreadsheet or text editor.',
    '',
    'lists/    What stands, for people: grades, bins, yards, prices, weighings, loads, tickets, and the reports.',
    'tables/   The whole ledger, table by table as it is kept: also what was corrected, replaced or taken back, the',
    '          trail of who did what and when, captions and notes. Columns whose names end in _ug are weights in',
    '          millionths of a gram, those in _minor are amounts in cents (or the smallest coin of the currency),',
    '          those in _at are moments in UTC, those in _on are days.',
    'photos/   Photos and PDFs. index.csv says what each belongs to, its caption, and whether it was taken off.',
    `${LEDGER_ENTRY}   The ledger itself, from which Tarebook restores everything. Other programs open it as a`,
    '          SQLite 3 database. The passphrase and the signed-in devices are not in it.',
    '',
    'To have it all back in Tarebook, put this file, as it is, on the computer and say in Tarebook’s folder:',
    '',
    '    npm run restore -- NAME-OF-THIS-FILE.zip',
    '',
    'A cell that begins with an apostrophe before = + - or @ is a text; the apostrophe keeps a spreadsheet from',
    'reckoning with it.',
    '',
  ];
  return lines.join('\r\n');
}
