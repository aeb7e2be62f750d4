import { accepted, type Read, refused } from '../units/result.ts';

export interface PictureSize {
  /** Pixels, as they are stored: before the picture is turned. */
  width: number;
  height: number;
  /** Bytes of the whole picture that a decoder keeps at once; 0 where it goes through line by line. */
  heldBytes: number;
}

/**
 * Line by line a picture of any size costs little memory, so this bounds time: 64 megapixels, more than the cameras of
 * most phones give, took 0.3 s as JPEG and 1 to 2 s as PNG when it was measured.
 */
const MOST_PIXELS = 64_000_000;
/** A picture that must be held whole costs memory by its size: 16 megapixels of an ordinary progressive JPEG. */
const MOST_HELD_BYTES = 48_000_000;

/** Whether a picture may be decoded, or the rest of a sentence that begins with the file's name. */
export function decodable(size: PictureSize | null): Read<PictureSize> {
  if (size === null) return refused(DAMAGED);
  const { width, height, heldBytes } = size;
  const megapixels = Math.round((width * height) / 1e6);
  if (width * height > MOST_PIXELS) {
    return refused(`has ${megapixels} million points; at most 64 million can be kept here. Make it smaller first.`);
  }
  if (heldBytes > MOST_HELD_BYTES) {
    return refused(
      `is stored in a way that takes too much memory to open at ${megapixels} million points. Save it as an ordinary JPEG, or make it smaller first.`,
    );
  }
  return accepted(size);
}

/** The rest of a sentence about a picture whose bytes do not hold together. */
export const DAMAGED = 'is damaged or did not arrive whole, so it cannot be opened. Send it once more.';
