import type { PictureSize } from './picture-size.ts';

// Markers of ITU-T T.81, table B.1.
const START_OF_IMAGE = 0xd8;
const START_OF_SCAN = 0xda;
/** Frames by Huffman coding: baseline, extended, progressive. No phone or camera writes other ones. */
const FRAMES = [0xc0, 0xc1, 0xc2];
const PROGRESSIVE = 0xc2;
/** Markers that stand alone, without a length: temporary, restarts, the start. */
const isAlone = (marker: number): boolean => marker === 0x01 || (marker >= 0xd0 && marker <= START_OF_IMAGE);

interface Frame {
  width: number;
  height: number;
  components: number;
  isProgressive: boolean;
  /** What its coefficients take, at 16 bits each. */
  coefficientBytes: number;
}

/**
 * The size of a JPEG, read from its headers before anything is decoded; null when they cannot be followed. A picture
 * that comes in several passes (progressive, or one pass for each colour) is held whole while it is decoded.
 */
export function jpegSize(bytes: Uint8Array): PictureSize | null {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let frame: Frame | null = null;
  let at = 2;
  while (at + 4 <= bytes.length && bytes[at] === 0xff) {
    const marker = view.getUint8(at + 1);
    if (marker === 0xff || isAlone(marker)) {
      // Any number of 0xff may stand before a marker.
      at += marker === 0xff ? 1 : 2;
      continue;
    }
    const end = at + 2 + view.getUint16(at + 2);
    if (end < at + 4 || end > bytes.length) return null;
    if (marker === START_OF_SCAN) return frame === null ? null : sizeOf(frame, bytes[at + 4] ?? 0);
    if (FRAMES.includes(marker)) {
      // A second frame would be another picture than the one that was measured.
      if (frame !== null) return null;
      frame = readFrame(bytes.subarray(at + 4, end), marker);
      if (frame === null) return null;
    }
    at = end;
  }
  return null;
}

/** Reads precision, height, width and for each component its number, sampling and table (T.81, B.2.2). */
function readFrame(bytes: Uint8Array, marker: number): Frame | null {
  const components = bytes[5] ?? 0;
  if (components === 0 || bytes.length < 6 + 3 * components) return null;
  const two = (at: number) => (bytes[at] ?? 0) * 256 + (bytes[at + 1] ?? 0);
  const [height, width] = [two(1), two(3)];
  if (width === 0 || height === 0) return null;
  const samplings = Array.from({ length: components }, (_, index) => bytes[7 + 3 * index] ?? 0);
  const across = samplings.map((sampling) => sampling >> 4);
  const down = samplings.map((sampling) => sampling & 15);
  const densest = Math.max(...across) * Math.max(...down);
  if (densest === 0) return null;
  const samples = across.reduce((sum, each, index) => sum + each * (down[index] ?? 0), 0) / densest;
  const coefficientBytes = Math.ceil(width * height * samples) * 2;
  return { width, height, components, isProgressive: marker === PROGRESSIVE, coefficientBytes };
}

/** @param scanned how many components the first pass brings */
function sizeOf({ width, height, components, isProgressive, coefficientBytes }: Frame, scanned: number): PictureSize {
  const isInPasses = isProgressive || scanned < components;
  return { width, height, heldBytes: isInPasses ? coefficientBytes : 0 };
}
