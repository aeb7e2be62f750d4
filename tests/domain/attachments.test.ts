import fc from 'fast-check';
import sharp, { type Sharp } from 'sharp';
import { describe, expect, test } from 'vitest';
import { doneQuery, doneSentence, previewSize } from '../../server/attachments/compute.ts';
import { jpegSize } from '../../server/attachments/jpeg.ts';
import { kindOf } from '../../server/attachments/kinds.ts';
import { cleanName, disposition, outgoingName } from '../../server/attachments/names.ts';
import { readPhoto } from '../../server/attachments/photo.ts';
import { decodable } from '../../server/attachments/picture-size.ts';
import { hasModestTexts, pixelsFit, pngSize } from '../../server/attachments/png.ts';
import * as pictures from '../pictures.ts';

describe('the kind of a file is told by its bytes', () => {
  test('a JPEG, a PNG and a PDF are what they are', async () => {
    expect(kindOf(await pictures.plainJpeg(8, 8))).toEqual({ ok: true, value: 'jpeg' });
    expect(kindOf(await pictures.plainPng(8, 8))).toEqual({ ok: true, value: 'png' });
    expect(kindOf(pictures.somePdf())).toEqual({ ok: true, value: 'pdf' });
  });

  test.each([
    ['nothing', Buffer.alloc(0), /^is empty\.$/],
    ['HEIC', pictures.heic(), /^is a HEIC photo.*JPEG/],
    ['SVG', pictures.svg(), /neither/],
    ['a zip', pictures.zip(), /neither/],
    ['a GIF', Buffer.from('GIF89a, and so on'), /neither/],
    ['WebP', Buffer.from('RIFF\0\0\0\0WEBPVP8 '), /neither/],
    ['a film', Buffer.from('\0\0\0\u0018ftypisom\0\0\0\0'), /neither/],
    ['half a signature', Buffer.from([0xff, 0xd8]), /neither/],
    ['a PDF whose end is missing', pictures.somePdf().subarray(0, 120), /end is missing/],
    ['a PDF that begins later', Buffer.concat([Buffer.from('<html>'), pictures.somePdf()]), /neither/],
  ])('%s is refused', (_, bytes, sentence) => {
    const read = kindOf(bytes);
    expect(read.ok ? 'accepted' : read.refusal).toMatch(sentence);
  });
});

describe('the size of a picture is read before it is decoded', () => {
  test('of a JPEG, and only one in passes is held whole', async () => {
    expect(jpegSize(await pictures.plainJpeg(40, 30))).toEqual({ width: 40, height: 30, heldBytes: 0 });
    // Two colour channels at a quarter of the points each: one and a half samples a point, two bytes each.
    const progressive = await pictures.plainJpeg(40, 30, '#123456', true);
    expect(jpegSize(progressive)).toEqual({ width: 40, height: 30, heldBytes: 40 * 30 * 1.5 * 2 });
  });

  test('a JPEG whose first pass brings one colour of three is held whole, although it is not progressive', async () => {
    const bytes = await pictures.plainJpeg(40, 30);
    const scan = bytes.indexOf(Buffer.from([0xff, 0xda]));
    bytes[scan + 4] = 1;
    expect(jpegSize(bytes)?.heldBytes).toBe(40 * 30 * 1.5 * 2);
  });

  test('a JPEG with a second frame is none that was measured', async () => {
    const bytes = await pictures.plainJpeg(40, 30);
    const frame = bytes.indexOf(Buffer.from([0xff, 0xc0]));
    const twice = Buffer.concat([bytes.subarray(0, frame), bytes.subarray(frame, frame + 19), bytes.subarray(frame)]);
    expect(jpegSize(twice)).toBeNull();
  });

  test('of a PNG, and only an interlaced one is held whole', async () => {
    expect(pngSize(await pictures.plainPng(40, 30))).toMatchObject({ width: 40, height: 30, heldBytes: 0 });
    expect(pngSize(await pictures.plainPng(40, 30, true))?.heldBytes).toBe(40 * 30 * 4);
  });

  test('64 megapixels may be opened, more may not, and fewer where they are held whole', () => {
    const of = (width: number, height: number, heldBytes = 0) => decodable({ width, height, heldBytes }).ok;
    expect([of(8000, 8000), of(8000, 8001), of(20_000, 20_000)]).toEqual([true, false, false]);
    expect([of(4000, 4000, 48_000_000), of(4000, 4001, 48_012_000)]).toEqual([true, false]);
    expect(decodable(null).ok).toBe(false);
  });

  test('whatever bytes come, nothing is thrown, and no size is nothing', () => {
    const marked = fc
      .tuple(fc.constantFrom([0xff, 0xd8, 0xff], [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]), fc.uint8Array())
      .map(([start, rest]) => Uint8Array.from([...start, ...rest]));
    fc.assert(
      fc.property(marked, (bytes) => {
        kindOf(bytes);
        hasModestTexts(bytes);
        for (const size of [jpegSize(bytes), pngSize(bytes)]) {
          if (size !== null) expect(size.width * size.height).toBeGreaterThan(0);
        }
      }),
    );
  });

  test('of a picture that is cut off anywhere the size is either right or none', async () => {
    const [jpeg, png] = [await pictures.plainJpeg(40, 30), await pictures.plainPng(40, 30)];
    for (let length = 0; length < jpeg.length; length += 1) {
      const size = jpegSize(jpeg.subarray(0, length));
      if (size !== null) expect(size).toEqual({ width: 40, height: 30, heldBytes: 0 });
    }
    for (let length = 0; length < png.length; length += 1) expect(pngSize(png.subarray(0, length))).toBeNull();
  });
});

describe('a PNG is looked over for what inflates', () => {
  test('ordinary texts pass, a gigabyte of them does not', () => {
    const note = pictures.pngChunk('zTXt', Buffer.concat([Buffer.from('Comment\0\0'), pictures.greyRows(100, 100)]));
    expect(hasModestTexts(pictures.pngOf(10, 10, pictures.greyRows(10, 10), note))).toBe(true);
    for (const [type, bytes] of Object.entries(pictures.textBombs()))
      expect([type, hasModestTexts(bytes)]).toEqual([type, false]);
  });

  test('many texts that are each modest are added up', () => {
    const text = pictures.pngChunk('zTXt', Buffer.concat([Buffer.from('Comment\0\0'), pictures.greyRows(1000, 1000)]));
    const withTexts = (count: number) =>
      pictures.pngOf(10, 10, pictures.greyRows(10, 10), ...Array.from({ length: count }, () => text));
    expect([hasModestTexts(withTexts(3)), hasModestTexts(withTexts(4))]).toEqual([true, false]);
  });

  test('a million empty chunks are none to look at', () => {
    const empty = pictures.pngChunk('tEXt', Buffer.alloc(0));
    const many = Buffer.concat(Array.from({ length: 25_000 }, () => empty));
    expect(pngSize(pictures.pngOf(10, 10, pictures.greyRows(10, 10), many))).toBeNull();
  });

  test('pixels that are more than the head says are found by counting them', async () => {
    expect(await pixelsFit(pictures.pngOf(100, 100, pictures.greyRows(100, 100)))).toBe(true);
    expect(await pixelsFit(await pictures.plainPng(100, 100, true))).toBe(true);
    expect(await pixelsFit(pictures.pixelBomb())).toBe(false);
  });
});

describe('names', () => {
  test.each([
    ['IMG_2041.jpg', 'IMG_2041.jpg'],
    ['C:\\Users\\me\\ticket 5.png', 'ticket 5.png'],
    ['../../etc/passwd', 'passwd'],
    ['fatura\u202Egnp.exe', 'faturagnp.exe'],
    ['a\u0000b\r\nc.jpg', 'abc.jpg'],
    ['', ''],
  ])('%j is shown as %j', (sent, shown) => {
    expect(cleanName(sent)).toBe(shown);
  });

  test('a clean name is short, has no folder and nothing that cannot be seen, and stays as it is', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary', maxLength: 300 }), (sent) => {
        const name = cleanName(sent);
        expect(Array.from(name).length).toBeLessThanOrEqual(80);
        expect(name).not.toMatch(/[/\\\p{C}]/u);
        expect(cleanName(name)).toBe(name);
      }),
    );
  });

  test('a photo goes out as the JPEG that it is by then', () => {
    expect([
      outgoingName('ticket.png', 'photo'),
      outgoingName('.png', 'photo'),
      outgoingName('proof.pdf', 'pdf'),
    ]).toEqual(['ticket.jpg', 'photo.jpg', 'proof.pdf']);
  });

  test('a header of any name is plain ASCII in one line, and the whole name can be read from it', () => {
    expect(disposition('inline', 'tíckét "5".jpg')).toBe(
      `inline; filename="t_ck_t _5_.jpg"; filename*=UTF-8''t%C3%ADck%C3%A9t%20%225%22.jpg`,
    );
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (sent) => {
        const name = outgoingName(cleanName(sent), 'pdf');
        const header = disposition('attachment', name);
        const [, plain = '', whole = ''] =
          /^attachment; filename="([\w .-]*)"; filename\*=UTF-8''([\w.~%-]*)$/.exec(header) ?? [];
        expect(plain).not.toBe('');
        expect(decodeURIComponent(whole)).toBe(name);
      }),
    );
  });
});

test('a preview keeps the shape of its photo and fits its square', () => {
  expect([previewSize({ width: 2400, height: 1800 }), previewSize({ width: 100, height: 50 })]).toEqual([
    [320, 240],
    [100, 50],
  ]);
  expect([previewSize({ width: null, height: null }), previewSize({ width: 2400, height: 1 })]).toEqual([
    null,
    [320, 1],
  ]);
});

test('what was done is said in sentences', () => {
  const said = (counts: { kept: number; known: number; back: number }) =>
    doneSentence(Object.fromEntries(new URLSearchParams(doneQuery(counts))));
  expect(said({ kept: 2, known: 1, back: 0 })).toBe('2 kept. 1 was kept here already and not stored twice.');
  expect(said({ kept: 0, known: 0, back: 1 })).toBe('1 put back.');
  expect(doneSentence({ photosOff: '1' })).toContain('Taken off.');
  expect(doneSentence({ photosKept: '<b>', photosKnown: '999' })).toBe('');
});

test('what is damaged without looking so is found when it is decoded', async () => {
  const photo = await pictures.busyJpeg(900, 600);
  for (const share of [0.3, 0.9, 0.999]) {
    const cut = photo.subarray(0, Math.floor(photo.length * share));
    expect([share, (await readPhoto(cut, 'jpeg')).ok]).toEqual([share, false]);
  }
  expect((await readPhoto(pictures.pngOf(50, 50, pictures.greyRows(50, 20)), 'png')).ok).toBe(false);
  expect((await readPhoto(photo, 'jpeg')).ok).toBe(true);
});

test.each([
  ['grey', 'jpeg', (picture: Sharp) => picture.toColourspace('b-w').jpeg()],
  ['in the colours of print', 'jpeg', (picture: Sharp) => picture.toColourspace('cmyk').jpeg()],
  ['with a wide colour profile', 'jpeg', (picture: Sharp) => picture.withIccProfile('p3').jpeg()],
  ['in passes', 'jpeg', (picture: Sharp) => picture.jpeg({ mozjpeg: true })],
  ['of 16 bits', 'png', (picture: Sharp) => picture.toColourspace('rgb16').png()],
  ['of a palette', 'png', (picture: Sharp) => picture.png({ palette: true })],
  ['interlaced', 'png', (picture: Sharp) => picture.png({ progressive: true })],
] as const)('a picture %s becomes an ordinary JPEG', async (_, kind, made) => {
  const picture = sharp({ create: { width: 300, height: 200, channels: 3, background: '#c04020' } });
  const read = await readPhoto(await made(picture).toBuffer(), kind);
  if (!read.ok) throw new Error(read.refusal);
  const { format, space, width, height, icc, isProgressive } = await sharp(read.value.whole).metadata();
  expect({ format, space, width, height, icc, isProgressive }).toEqual({
    format: 'jpeg',
    space: 'srgb',
    width: 300,
    height: 200,
    icc: undefined,
    isProgressive: false,
  });
  expect(await sharp(read.value.preview).metadata()).toMatchObject({ format: 'jpeg', width: 300, height: 200 });
});
