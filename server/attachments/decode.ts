import { buffer } from 'node:stream/consumers';
import type { Sharp, SharpInput, SharpOptions } from 'sharp';
import { NO_DECODER_EXIT, PREVIEW_SIDE } from './compute.ts';
import { pixelsFit } from './png.ts';

// A process of its own for one photo: the bytes come in on standard input, what is kept goes out on standard output.
// A decoder is what bytes from outside are likeliest to break, and in a process that stays it leaves the memory in
// pieces: 200 MB after some dozen photos. Here both end with the photo.

const DAMAGED_EXIT = 2;

/** What is written before the bytes: a line of JSON. The photo follows, then its preview. */
export interface DecodedHead {
  /** Pixels of the photo as it is kept. */
  width: number;
  height: number;
  wholeBytes: number;
}

/** Enough to read the small print of a ticket, at about half a megabyte. */
const LONGEST_SIDE = 2400;

/** What shows through becomes white, as on paper. */
const shrunk = (picture: Sharp, longest: number): Sharp =>
  picture.resize(longest, longest, { fit: 'inside', withoutEnlargement: true }).flatten({ background: '#ffffff' });

async function decode(open: (input: SharpInput, options: SharpOptions) => Sharp, bytes: Buffer): Promise<void> {
  const [, , kind, pixels] = process.argv;
  if (kind === 'png' && !(await pixelsFit(bytes))) process.exit(DAMAGED_EXIT);
  // A photo that was cut off is refused; what a decoder only warns of, as with many phones' JPEGs, is let pass.
  const upright = open(bytes, { limitInputPixels: Number(pixels), failOn: 'error' }).autoOrient();
  const whole = await shrunk(upright, LONGEST_SIDE).jpeg({ quality: 82 }).toBuffer({ resolveWithObject: true });
  const preview = await shrunk(open(whole.data, {}), PREVIEW_SIDE).jpeg({ quality: 75 }).toBuffer();
  const { width, height } = whole.info;
  const head: DecodedHead = { width, height, wholeBytes: whole.data.length };
  process.stdout.write(Buffer.concat([Buffer.from(`${JSON.stringify(head)}\n`), whole.data, preview]));
}

const decoder = await import('sharp').catch(() => process.exit(NO_DECODER_EXIT));
decoder.default.concurrency(1);
decoder.default.cache(false);
await decode(decoder.default, await buffer(process.stdin)).catch(() => process.exit(DAMAGED_EXIT));
