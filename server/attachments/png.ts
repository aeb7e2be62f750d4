import { Readable } from 'node:stream';
import { createInflate, inflateSync } from 'node:zlib';
import type { PictureSize } from './picture-size.ts';

/** Bytes of what stands before the first chunk, and of a chunk besides its data: length, type, checksum. */
const SIGNATURE_BYTES = 8;
const FRAME_BYTES = 12;
/** Samples of a pixel by colour type (W3C PNG, 11.2.1): grey, true colour, palette, grey and true colour with alpha. */
const SAMPLES: Readonly<Record<number, number>> = { 0: 1, 2: 3, 3: 1, 4: 2, 6: 4 };
/** A picture of 12 MB has some thousand chunks; a million empty ones would each cost memory to look at. */
const MOST_CHUNKS = 20_000;
const PALETTE = 3;
/** What all texts and the colour profile of a picture may come to once they are inflated. */
const MOST_INFLATED_BYTES = 4_000_000;

interface Chunk {
  type: string;
  data: Uint8Array;
}

/** The chunks of a PNG up to and with its end; null when they do not lead there. */
function chunksOf(bytes: Uint8Array): Chunk[] | null {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const chunks: Chunk[] = [];
  let at = SIGNATURE_BYTES;
  while (at + FRAME_BYTES <= bytes.length && chunks.length < MOST_CHUNKS) {
    const end = at + FRAME_BYTES + view.getUint32(at);
    if (end > bytes.length) return null;
    const type = String.fromCharCode(...bytes.subarray(at + 4, at + 8));
    chunks.push({ type, data: bytes.subarray(at + 8, end - 4) });
    if (type === 'IEND') return chunks;
    at = end;
  }
  return null;
}

interface Head extends PictureSize {
  bitsPerPixel: number;
}

function readHead(chunks: readonly Chunk[] | null): Head | null {
  const [head, ...rest] = chunks ?? [];
  if (head === undefined || head.type !== 'IHDR' || head.data.length !== 13) return null;
  // A decoder may go by the last head, and only the first is measured here.
  if (rest.some(({ type }) => type === 'IHDR')) return null;
  const view = new DataView(head.data.buffer, head.data.byteOffset, head.data.byteLength);
  const [width, height, depth, colour] = [view.getUint32(0), view.getUint32(4), view.getUint8(8), view.getUint8(9)];
  const bitsPerPixel = depth * (SAMPLES[colour] ?? 0);
  if (width === 0 || height === 0 || bitsPerPixel === 0) return null;
  // A palette or few bits become whole bytes, and a palette becomes colours, as the picture is read.
  const heldPerPixel = Math.max(colour === PALETTE ? 4 : (SAMPLES[colour] ?? 0), bitsPerPixel / 8);
  const isInterlaced = view.getUint8(12) !== 0;
  return { width, height, bitsPerPixel, heldBytes: isInterlaced ? width * height * heldPerPixel : 0 };
}

/**
 * The size of a PNG, read from its header before anything is decoded; null when its chunks do not hold together. An
 * interlaced picture is held whole while it is decoded.
 */
export const pngSize = (bytes: Uint8Array): PictureSize | null => readHead(chunksOf(bytes));

/** Whether the pixels of a PNG, inflated, are no more than its header says; they are counted and not kept. */
export async function pixelsFit(bytes: Uint8Array): Promise<boolean> {
  const chunks = chunksOf(bytes) ?? [];
  const head = readHead(chunks);
  if (head === null) return false;
  // Each row has a byte before it and one it may not fill, and the seven passes of an interlaced picture twice the rows.
  let room = (head.width * head.height * head.bitsPerPixel) / 8 + 4 * head.height + 64;
  const inflate = Readable.from(chunks.filter(({ type }) => type === 'IDAT').map(({ data }) => data)).pipe(
    createInflate(),
  );
  for await (const inflated of inflate as AsyncIterable<Uint8Array>) {
    room -= inflated.length;
    if (room < 0) return false;
  }
  return true;
}

/**
 * Whether the texts and the colour profile of a PNG stay small when they are inflated. A thousandth of their size can
 * hold them, and a decoder would inflate every one of them.
 */
export function hasModestTexts(bytes: Uint8Array): boolean {
  let room = MOST_INFLATED_BYTES;
  for (const chunk of chunksOf(bytes) ?? []) {
    const deflated = deflatedIn(chunk);
    if (deflated === null) continue;
    const size = inflatedSize(deflated, room);
    if (size === null) return false;
    room -= size;
  }
  return true;
}

/** @returns bytes, or null when there are more than `most` or they cannot be inflated */
function inflatedSize(deflated: Uint8Array, most: number): number | null {
  try {
    return inflateSync(deflated, { maxOutputLength: Math.max(1, most) }).length;
  } catch {
    return null;
  }
}

/** The deflated part of a chunk (W3C PNG, 11.3): after a name and a method, or for iTXt after two more names. */
function deflatedIn({ type, data }: Chunk): Uint8Array | null {
  const name = data.indexOf(0);
  if (name < 0) return null;
  if (type === 'zTXt' || type === 'iCCP') return data.subarray(name + 2);
  if (type !== 'iTXt' || data[name + 1] !== 1) return null;
  const language = data.indexOf(0, name + 3);
  const keyword = language < 0 ? -1 : data.indexOf(0, language + 1);
  return keyword < 0 ? null : data.subarray(keyword + 1);
}
