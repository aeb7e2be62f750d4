import fc from 'fast-check';
import { beforeAll, expect, test } from 'vitest';
import { jpegSize } from '../../server/attachments/jpeg.ts';
import { kindOf } from '../../server/attachments/kinds.ts';
import { readPhoto } from '../../server/attachments/photo.ts';
import { decodable } from '../../server/attachments/picture-size.ts';
import { hasModestTexts, pixelsFit, pngSize } from '../../server/attachments/png.ts';
import { greyRows, phonePhoto, plainJpeg, plainPng, pngChunk, pngOf, somePdf, vastPng } from '../pictures.ts';
import { measured, trials } from './trials.ts';

// The readers of a picture's headers, which see every byte that is sent before a decoder does, and the decoder in its own
// process: whatever the bytes, an answer in good time.

let pictures: Buffer[];
beforeAll(async () => {
  const texts = ['zTXt', 'iTXt', 'iCCP'].map((type) =>
    pngChunk(type, Buffer.from('Comment\0\0x\x9c\x03\0\0\0\0\x01', 'latin1')),
  );
  pictures = [
    await phonePhoto(),
    await plainJpeg(64, 48),
    await plainJpeg(64, 48, '#123456', true),
    await plainPng(40, 30),
    await plainPng(40, 30, true),
    pngOf(20, 20, greyRows(20, 20), ...texts),
    vastPng(),
    somePdf('x', 2000),
  ];
}, 60_000);

type Change = { at: number; how: 'byte' | 'length' | 'cut' | 'repeat' | 'insert'; value: number; bytes: Uint8Array };

const change: fc.Arbitrary<Change> = fc.record({
  // The headers stand at the beginning, so most changes are made there.
  at: fc.oneof({ arbitrary: fc.nat(400), weight: 3 }, { arbitrary: fc.nat(), weight: 1 }),
  how: fc.constantFrom('byte', 'byte', 'byte', 'length', 'cut', 'repeat', 'insert'),
  value: fc.oneof(fc.constantFrom(0, 1, 0xff, 0xd8, 0xda, 0xc0, 0xc2, 0xd9, 0x7f), fc.nat(255)),
  bytes: fc.uint8Array({ maxLength: 20 }),
});

/** Two bytes or four that say a length become nothing, or as much as can be. */
const LENGTHS = [
  Buffer.of(0, 0),
  Buffer.of(0, 1),
  Buffer.of(0xff, 0xff),
  Buffer.of(0, 0, 0, 0),
  Buffer.of(0xff, 0xff, 0xff, 0xff),
  Buffer.of(0x7f, 0xff, 0xff, 0xff),
];

function changed(bytes: Buffer, { at, how, value, bytes: more }: Change): Buffer {
  const where = at % (bytes.length + 1);
  const [before, after] = [bytes.subarray(0, where), bytes.subarray(where)];
  if (how === 'cut') return before;
  if (how === 'insert') return Buffer.concat([before, more, after]);
  if (how === 'repeat')
    return Buffer.concat([before, ...Array.from({ length: 1 + (value % 200) }, () => after.subarray(0, 40)), after]);
  const put = how === 'byte' ? Buffer.of(value) : (LENGTHS[value % LENGTHS.length] as Buffer);
  return Buffer.concat([before, put, after.subarray(put.length)]);
}

const broken = (): fc.Arbitrary<Buffer> =>
  fc
    .tuple(fc.constantFrom(...pictures), fc.array(change, { maxLength: 5 }))
    .map(([bytes, changes]) => changes.reduce(changed, bytes));

const MOST_MS = 200;
const TRIES = 3;

/** The work of this thread for something, the least of a few tries when it was much. */
function workedMs(act: () => unknown): number {
  const once = () => {
    const from = process.threadCpuUsage();
    act();
    const { user, system } = process.threadCpuUsage(from);
    return (user + system) / 1000;
  };
  let ms = once();
  for (let tries = 0; ms > MOST_MS && tries < TRIES; tries++) ms = Math.min(ms, once());
  return ms;
}

test('the headers of a picture are read or refused, whatever their bytes, and quickly', () => {
  let [tried, longest] = [0, 0];
  fc.assert(
    fc.property(broken(), (bytes) => {
      tried += 1;
      const ms = workedMs(() => {
        const kind = kindOf(bytes);
        for (const size of [jpegSize(bytes), pngSize(bytes)]) {
          if (size === null) continue;
          expect(
            [size.width, size.height, size.heldBytes].every(
              (figure) => Number.isSafeInteger(Math.ceil(figure)) && figure >= 0,
            ),
          ).toBe(true);
          expect(typeof decodable(size).ok).toBe('boolean');
        }
        expect(typeof kind.ok).toBe('boolean');
        hasModestTexts(bytes);
      });
      expect(ms).toBeLessThan(MOST_MS);
      longest = Math.max(longest, ms);
    }),
    { numRuns: trials(300, 3000), seed: 20251125 },
  );
  measured('Headers of pictures', `${tried} files with broken bytes, at most ${Math.round(longest)} ms each`);
});

test('the pixels of a picture are counted or found broken', async () => {
  await fc.assert(
    fc.asyncProperty(broken(), async (bytes) => {
      const fits = await pixelsFit(bytes).catch((error: Error & { code?: string }) => error.code ?? String(error));
      expect([true, false]).toContain(typeof fits === 'string' ? /^(Z_|ERR_)/.test(fits) : fits);
    }),
    { numRuns: trials(40, 400), seed: 20251125 },
  );
});

test('a decoder that meets broken bytes ends with a photo or a sentence', async () => {
  let [tried, read] = [0, 0];
  await fc.assert(
    fc.asyncProperty(broken(), async (bytes) => {
      const kind = kindOf(bytes);
      if (!kind.ok || kind.value === 'pdf') return;
      tried += 1;
      const photo = await readPhoto(bytes, kind.value);
      if (photo.ok) read += 1;
      else expect(photo.refusal.length).toBeGreaterThan(10);
    }),
    { numRuns: trials(6, 150), seed: 20251125 },
  );
  measured('Photos with broken bytes', `${tried} sent to a decoder, ${read} could be read all the same`);
});
