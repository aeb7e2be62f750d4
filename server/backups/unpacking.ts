import { createWriteStream } from 'node:fs';
import { statfs } from 'node:fs/promises';
import { dirname } from 'node:path';
import { Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { type Entry, openPromise, type ZipFile } from 'yauzl';
import { RestoreError } from './restore-error.ts';

/** The ledger's name within an archive. */
export const LEDGER_ENTRY = 'ledger.sqlite';

const HEAD_BYTES = 100;
const FILE_MARK = 'SQLite format 3\0';
/** An archive with more files than this is none of ours. */
const MOST_ENTRIES = 1_000_000;
/** Stays free on the disk beside what is unpacked. */
const SPARE_BYTES = 50_000_000;

/**
 * Takes the ledger out of an archive, and nothing else: whatever names its other files have, none of them is written.
 * The file is believed by none of its own figures: what comes out has to begin as a ledger of exactly the announced
 * size, which has to fit on the disk.
 * @param target a file that is not there yet
 * @throws RestoreError
 */
export async function unpackLedger(archive: string, target: string): Promise<void> {
  const zip = await openPromise(archive, { autoClose: false, strictFileNames: true }).catch(() => {
    throw new RestoreError(UNREADABLE);
  });
  try {
    const entry = await findLedger(zip);
    await refuseTooLarge(entry, target);
    const stream = await zip.openReadStreamPromise(entry);
    await pipeline(stream, onlyALedger(entry.uncompressedSize), createWriteStream(target, { flags: 'wx' }));
  } catch (error) {
    throw error instanceof RestoreError || isOfDisk(error) ? error : new RestoreError(UNREADABLE);
  } finally {
    zip.close();
  }
}

const UNREADABLE = 'This archive is damaged or was made by another program, so nothing of it was taken.';

/** Errors of the disk that is written to come with a system's code; those of a damaged archive without. */
const isOfDisk = (error: unknown): boolean =>
  error instanceof Error && 'syscall' in error && 'code' in error && typeof error.code === 'string';

/** Looks through all names before anything is unpacked; one that leads out of its folder makes the archive unreadable. */
async function findLedger(zip: ZipFile): Promise<Entry> {
  if (zip.entryCount > MOST_ENTRIES) throw new RestoreError(UNREADABLE);
  const found: Entry[] = [];
  for await (const entry of zip.eachEntry()) if (/\.sqlite$/i.test(entry.fileName)) found.push(entry);
  const [entry, other] = found;
  if (entry === undefined || (other === undefined && entry.fileName !== LEDGER_ENTRY)) {
    throw new RestoreError('This archive has no ledger in it, so there is nothing to restore from it.');
  }
  if (other !== undefined) throw new RestoreError('This archive has more than one ledger in it, so none was taken.');
  if (entry.isEncrypted()) throw new RestoreError('The ledger in this archive is locked by a password.');
  return entry;
}

async function refuseTooLarge({ uncompressedSize }: Entry, target: string): Promise<void> {
  const { bavail, bsize } = await statfs(dirname(target));
  if (uncompressedSize + SPARE_BYTES <= bavail * bsize) return;
  throw new RestoreError(
    'There is no room on the disk for the ledger in this archive. Make some room, then try again.',
  );
}

/** Lets a ledger through whose own head says the size that the archive announced, and refuses anything else at once. */
function onlyALedger(size: number): Transform {
  let head = Buffer.alloc(0);
  let isKnown = false;
  return new Transform({
    transform(chunk: Buffer, _encoding, done) {
      if (isKnown) return done(null, chunk);
      head = Buffer.concat([head, chunk]);
      if (head.length < HEAD_BYTES) return done();
      isKnown = sizeInHead(head) === size;
      return isKnown ? done(null, head) : done(new RestoreError(UNREADABLE));
    },
    flush: (done) => done(isKnown ? null : new RestoreError(UNREADABLE)),
  });
}

/** Bytes that a ledger file has by its own head (file format of SQLite 3, section 1.3); 0 for anything else. */
function sizeInHead(head: Buffer): number {
  if (head.toString('latin1', 0, FILE_MARK.length) !== FILE_MARK) return 0;
  const pageSize = head.readUInt16BE(16);
  return (pageSize === 1 ? 65_536 : pageSize) * head.readUInt32BE(28);
}
