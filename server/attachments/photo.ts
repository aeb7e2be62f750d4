import type { Sharp, SharpOptions } from 'sharp';
import { accepted, type Read, refused } from '../units/result.ts';
import { PREVIEW_SIDE } from './compute.ts';
import { jpegSize } from './jpeg.ts';
import { DAMAGED, decodable } from './picture-size.ts';
import { hasModestTexts, pngSize } from './png.ts';

/** Enough to read the small print of a ticket, at about half a megabyte. */
const LONGEST_SIDE = 2400;
const SLOWEST_SECONDS = 15;

/** A photo as it is kept: turned upright, as JPEG without anything that the camera wrote about it. */
export interface Photo {
  whole: Uint8Array;
  preview: Uint8Array;
  /** Pixels of the whole. */
  width: number;
  height: number;
}

type OpenPicture = (bytes: Uint8Array, options: SharpOptions) => Sharp;

let opening: Promise<OpenPicture> | null = null;

/** The decoder takes 30 MB and a while to load, so it is loaded for the first photo and not with the server. */
function decoder(): Promise<OpenPicture> {
  opening ??= import('sharp').then(({ default: sharp }) => {
    // One thread and no cache: photos come seldom, and memory is scarcer than time.
    sharp.concurrency(1);
    sharp.cache(false);
    return sharp;
  });
  return opening;
}

let last: Promise<unknown> = Promise.resolve();

/** Runs one piece of work after the other, in the whole process. */
function inTurn<Result>(work: () => Promise<Result>): Promise<Result> {
  const mine = last.then(work);
  last = mine.catch(() => undefined);
  return mine;
}

/**
 * Reads a JPEG or PNG and makes of it what is kept. Its size is looked up in its headers first, and only one photo is
 * decoded at a time. @returns the photo, or the rest of a sentence that begins with the file's name
 */
export async function readPhoto(bytes: Uint8Array, kind: 'jpeg' | 'png'): Promise<Read<Photo>> {
  const size = decodable(kind === 'jpeg' ? jpegSize(bytes) : pngSize(bytes));
  if (!size.ok) return size;
  if (kind === 'png' && !hasModestTexts(bytes)) {
    return refused('carries far more text or colour data than a picture needs. Save it once more as JPEG.');
  }
  const open = await decoder().catch(() => null);
  if (open === null) {
    return refused(
      'cannot be opened: the part of Tarebook that reads photos does not run on this computer. PDFs can be kept.',
    );
  }
  return inTurn(() => decode(open, bytes, size.value.width * size.value.height));
}

async function decode(open: OpenPicture, bytes: Uint8Array, pixels: number): Promise<Read<Photo>> {
  try {
    // A photo that was cut off is refused; what a decoder only warns of, as with many phones' JPEGs, is let pass.
    const whole = await shrunk(open(bytes, { limitInputPixels: pixels, failOn: 'error' }).autoOrient(), LONGEST_SIDE)
      .jpeg({ quality: 82 })
      .timeout({ seconds: SLOWEST_SECONDS })
      .toBuffer({ resolveWithObject: true });
    const preview = await shrunk(open(whole.data, {}), PREVIEW_SIDE).jpeg({ quality: 75 }).toBuffer();
    const { width, height } = whole.info;
    return accepted({ whole: whole.data, preview, width, height });
  } catch {
    return refused(DAMAGED);
  }
}

/** What shows through becomes white, as on paper. */
const shrunk = (picture: Sharp, longest: number): Sharp =>
  picture.resize(longest, longest, { fit: 'inside', withoutEnlargement: true }).flatten({ background: '#ffffff' });
