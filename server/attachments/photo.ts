import { execFile } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { accepted, type Read, refused } from '../units/result.ts';
import { NO_DECODER_EXIT } from './compute.ts';
import type { DecodedHead } from './decode.ts';
import { jpegSize } from './jpeg.ts';
import { DAMAGED, decodable, type PictureSize } from './picture-size.ts';
import { hasModestTexts, pngSize } from './png.ts';

/** A photo as it is kept: turned upright, as JPEG without anything that the camera wrote about it. */
export interface Photo {
  whole: Uint8Array;
  preview: Uint8Array;
  /** Pixels of the whole. */
  width: number;
  height: number;
}

/** Small nurseries: what the script throws away between two collections then stays at a megabyte or two. */
const NODE_FLAGS = ['--max-semi-space-size=1'];
const DECODE = fileURLToPath(new URL('./decode.ts', import.meta.url));
/** Of a photo of 2400 pixels, some times over. */
const MOST_OUTPUT_BYTES = 20_000_000;
/** Less than the time for which a silent connection is kept: the browser waits without a word meanwhile. */
const SLOWEST_MS = 15_000;

/**
 * Reads a JPEG or PNG and makes of it what is kept. Its size is looked up in its headers before anything is decoded, and
 * only one photo is decoded at a time. @returns the photo, or the rest of a sentence that begins with the file's name
 */
export async function readPhoto(bytes: Uint8Array, kind: 'jpeg' | 'png'): Promise<Read<Photo>> {
  const size = decodable(kind === 'jpeg' ? jpegSize(bytes) : pngSize(bytes));
  if (!size.ok) return size;
  if (kind === 'png' && !hasModestTexts(bytes)) {
    return refused('carries far more text or colour data than a picture needs. Save it once more as JPEG.');
  }
  return inTurn(() => decode(bytes, kind, size.value));
}

let last: Promise<unknown> = Promise.resolve();

/** Runs one piece of work after the other, in the whole server. */
function inTurn<Result>(work: () => Promise<Result>): Promise<Result> {
  const mine = last.then(work);
  last = mine.catch(() => undefined);
  return mine;
}

/** One photo in a process of its own, which ends with it or after SLOWEST_MS. */
function decode(bytes: Uint8Array, kind: string, { width, height }: PictureSize): Promise<Read<Photo>> {
  // Few arenas keep the allocator of Linux from setting memory aside for every thread. Nothing else of the server's own
  // settings is a decoder's business; Windows alone starts no process without knowing where it lies itself.
  const { SystemRoot = '' } = process.env;
  const env = { MALLOC_ARENA_MAX: '2', SystemRoot };
  const options = {
    encoding: 'buffer',
    env,
    maxBuffer: MOST_OUTPUT_BYTES,
    timeout: SLOWEST_MS,
    windowsHide: true,
  } as const;
  return new Promise((resolve) => {
    const child = execFile(
      process.execPath,
      [...NODE_FLAGS, DECODE, kind, String(width * height)],
      options,
      (error, output) => resolve(error === null ? photoIn(output) : refused(whyNot(error))),
    );
    // The process may end before it has read everything; then what it says by its end counts.
    child.stdin?.on('error', () => undefined);
    child.stdin?.end(bytes);
  });
}

function whyNot({ code, killed }: { code?: number | string | null; killed?: boolean }): string {
  if (code === NO_DECODER_EXIT) {
    return 'cannot be opened: the part of Tarebook that reads photos does not run on this computer. PDFs can be kept.';
  }
  return killed ? 'took too long to open. Make it smaller, or save it once more as JPEG.' : DAMAGED;
}

/** A line about the photo, its bytes, then those of its preview. */
function photoIn(output: Buffer): Read<Photo> {
  const from = output.indexOf('\n') + 1;
  const { width, height, wholeBytes } = JSON.parse(output.toString('utf8', 0, from)) as DecodedHead;
  const whole = output.subarray(from, from + wholeBytes);
  return accepted({ whole, preview: output.subarray(from + wholeBytes), width, height });
}
