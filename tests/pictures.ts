import { crc32, deflateRawSync, deflateSync } from 'node:zlib';
import sharp from 'sharp';

// Real pictures, made for each test, and files that only look like some.

/** A place as a phone writes it into a photo. */
const PLACE = {
  GPSLatitudeRef: 'N',
  GPSLatitude: '12/1 34/1 56/1',
  GPSLongitudeRef: 'E',
  GPSLongitude: '65/1 43/1 21/1',
};

/** A photo as a phone sends it: lying on its side with the note to turn it, the place, and the camera's name. */
export const phonePhoto = (width = 640, height = 480): Promise<Buffer> =>
  halves(width, height)
    .withMetadata({ orientation: 6 })
    .withExif({ IFD0: { Make: 'Secret Camera', Orientation: '6' }, IFD3: PLACE })
    .jpeg()
    .toBuffer();

/** Red on the left and blue on the right, so that a turn can be seen. */
const halves = (width: number, height: number) => {
  const half = { width: Math.floor(width / 2), height, channels: 3 as const };
  return sharp({ create: { ...half, width, background: '#0000ff' }, limitInputPixels: false }).composite([
    { input: { create: { ...half, background: '#ff0000' } }, left: 0, top: 0 },
  ]);
};

/** A picture of one colour in any size. */
export const plainJpeg = (width: number, height: number, colour = '#808080', progressive = false): Promise<Buffer> =>
  sharp({ create: { width, height, channels: 3, background: colour }, limitInputPixels: false })
    .jpeg({ progressive })
    .toBuffer();

export const plainPng = (width: number, height: number, progressive = false): Promise<Buffer> =>
  sharp({ create: { width, height, channels: 4, background: '#ffffff00' }, limitInputPixels: false })
    .png({ progressive })
    .toBuffer();

/** A photo full of detail, so that its bytes are many. */
export const busyJpeg = (width: number, height: number): Promise<Buffer> =>
  sharp({
    create: { width, height, channels: 3, background: '#000000', noise: { type: 'gaussian', mean: 128, sigma: 40 } },
  })
    .jpeg({ quality: 80 })
    .toBuffer();

const PNG_SIGNATURE = Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]);

export function pngChunk(type: string, data: Uint8Array): Buffer {
  const body = Buffer.concat([Buffer.from(type, 'latin1'), data]);
  const [length, sum] = [Buffer.alloc(4), Buffer.alloc(4)];
  length.writeUInt32BE(data.length);
  sum.writeUInt32BE(crc32(body));
  return Buffer.concat([length, body, sum]);
}

/** A PNG in greys of 8 bits, from its parts. */
export function pngOf(width: number, height: number, pixels: Uint8Array, ...extra: Buffer[]): Buffer {
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head.writeUInt8(8, 8);
  const end = pngChunk('IEND', Buffer.alloc(0));
  return Buffer.concat([PNG_SIGNATURE, pngChunk('IHDR', head), ...extra, pngChunk('IDAT', pixels), end]);
}

/** Rows of a grey PNG, each with its filter byte before it, deflated. */
export const greyRows = (width: number, height: number): Buffer => deflateSync(Buffer.alloc((width + 1) * height));

const PIECE_BYTES = 16_000_000;

/** A whole and true zlib stream of so many zeros that is itself some hundred kilobytes. */
export function deflatedZeros(pieces: number): Buffer {
  const piece = deflateRawSync(Buffer.alloc(PIECE_BYTES), { level: 9, finishFlush: 3 });
  const sum = Buffer.alloc(4);
  // Adler-32 of zeros: the first half stays 1, the second counts them.
  sum.writeUInt16BE((PIECE_BYTES * pieces) % 65_521, 0);
  sum.writeUInt16BE(1, 2);
  const last = deflateRawSync(Buffer.alloc(0));
  return Buffer.concat([Buffer.from([0x78, 0xda]), ...Array.from({ length: pieces }, () => piece), last, sum]);
}

/** Texts or a colour profile that inflate to a gigabyte, as the three chunks have them. */
export function textBombs(): Record<string, Buffer> {
  const gigabyte = deflatedZeros(63);
  const text = (type: string, head: string) => {
    const chunk = pngChunk(type, Buffer.concat([Buffer.from(head, 'latin1'), gigabyte]));
    return pngOf(10, 10, greyRows(10, 10), chunk);
  };
  return {
    zTXt: text('zTXt', 'Comment\0\0'),
    iTXt: text('iTXt', 'Comment\0\u0001\0en\0Comment\0'),
    iCCP: text('iCCP', 'profile\0\0'),
  };
}

/** A small head and pixels that inflate to a gigabyte. */
export const pixelBomb = (): Buffer => pngOf(100, 100, deflatedZeros(63));

/** A picture of 400 megapixels in a small file. */
export const vastPng = (): Buffer => pngOf(20_000, 20_000, deflatedZeros(25));

/** The same as JPEG: a real one whose frame says that it is larger. */
export async function vastJpeg(): Promise<Buffer> {
  const bytes = await plainJpeg(64, 64);
  const frame = bytes.indexOf(Buffer.from([0xff, 0xc0]));
  bytes.writeUInt16BE(20_000, frame + 5);
  bytes.writeUInt16BE(20_000, frame + 7);
  return bytes;
}

/** A PDF of one empty page, padded with a comment to about the bytes wanted. */
export const somePdf = (mark = '', bytes = 0): Buffer =>
  Buffer.from(`%PDF-1.4
1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj
2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj
3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 300 300]>>endobj
%${mark}${'x'.repeat(bytes)}
trailer<</Root 1 0 R>>
%%EOF
`);

/** The first bytes of a phone's high-efficiency photo. */
export const heic = (): Buffer =>
  Buffer.concat([
    Buffer.from([0, 0, 0, 0x18]),
    Buffer.from('ftypheic\0\0\0\0mif1heic', 'latin1'),
    Buffer.alloc(500, 7),
  ]);

export const svg = (): Buffer =>
  Buffer.from('<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><script>alert(1)</script></svg>');
export const zip = (): Buffer => Buffer.concat([Buffer.from([0x50, 0x4b, 3, 4]), Buffer.alloc(200)]);
