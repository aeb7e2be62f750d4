import { createHash } from 'node:crypto';
import { existsSync, mkdtempSync, readdirSync, readlinkSync, rmSync } from 'node:fs';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import sharp from 'sharp';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { checkLedger } from '../../server/check/checks.ts';
import type { Ledger } from '../../server/context.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { replaceTicket } from '../../server/tickets/acts.ts';
import { binId, get, newApp, newLedger, OWN_POST, post, setUpWorkedExample, weighIn } from '../helper.ts';
import { type FormFile, MULTIPART, multipartBody, postBody, postFiles } from '../multipart.ts';
import * as pictures from '../pictures.ts';
import { type Sale, sell, ticketOf } from '../sales.ts';

// Files that wait are put into a folder for temporary files of this test alone, so that it can look into it.
let folder: string;
const usual = process.env.TMPDIR;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-attachments-'));
  process.env.TMPDIR = folder;
});
afterAll(() => {
  if (usual === undefined) delete process.env.TMPDIR;
  else process.env.TMPDIR = usual;
  rmSync(folder, { recursive: true, force: true });
});

let ledger: Ledger;
let app: FastifyInstance;
let sale: Sale;
let manifestId: number;
let ticketId: number;

beforeEach(async () => {
  ledger = newLedger();
  const { yardId } = setUpWorkedExample(ledger);
  weighIn(ledger, 'CU2', '80');
  sale = {
    yardId,
    number: '70011',
    on: '2025-03-08',
    loads: [{ code: 'CU2', net: '50', price: '3.40' }],
    lines: [
      { loads: [0], paidAs: 'No. 2 copper', gross: '50', deduction: '0', net: '50', price: '3.40', amount: '170.00' },
    ],
  };
  ({ manifestId, ticketId } = sell(ledger, sale));
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  expect(checkLedger(ledger).filter(({ found }) => found.length > 0)).toEqual([]);
  ledger.db.close();
});

let keys = 0;
const newKey = () => {
  keys += 1;
  return `photo-form-${keys}`;
};
const send = (url: string, files: FormFile[], fields: Record<string, string> = {}) =>
  postFiles(app, url, { requestKey: newKey(), ...fields }, files);
const ticketPhotos = () => `/tickets/${ticketId}/photos`;
const count = (table = 'attachment') => ledger.db.sqlite.prepare(`select count(*) from ${table}`).pluck().get();
const row = (id: number) => ledger.db.sqlite.prepare('select * from attachment where id = ?').get(id) as never;
const hash = (bytes: Uint8Array) => createHash('sha256').update(bytes).digest('hex');
const events = () => ledger.db.sqlite.prepare("select act from event where document_kind = 'attachment'").pluck().all();

/** The text of a page as a person reads it, in one line. */
const words = (body: string) =>
  body
    .replace(/<[^>]*>/g, ' ')
    .replaceAll('&#39;', "'")
    .replace(/\s+/g, ' ');

/** Mean colour at the top and at the foot of a picture. */
async function ends(bytes: Buffer): Promise<[top: number[], foot: number[]]> {
  const { width = 0, height = 0 } = await sharp(bytes).metadata();
  const mean = async (top: number) => {
    const strip = await sharp(bytes).extract({ left: 0, top, width, height: 10 }).toBuffer();
    return (await sharp(strip).stats()).channels.map(({ mean }) => Math.round(mean / 255));
  };
  return [await mean(0), await mean(height - 10)];
}

describe('a phone photo that is kept with a ticket', () => {
  test('is turned upright, without the place and the camera, small enough, and known by the bytes that were sent', async () => {
    const sent = await pictures.phonePhoto(4000, 3000);
    expect(sent.includes('Secret Camera')).toBe(true);
    const response = await send(ticketPhotos(), [{ name: 'IMG_2041.jpg', bytes: sent }], { caption: 'The ticket' });
    expect([response.statusCode, response.headers.location]).toEqual([
      303,
      `/tickets/${ticketId}?photosKept=1&photosKnown=0&photosBack=0#photos`,
    ]);
    expect(row(1)).toMatchObject({ sha256: hash(sent), width: 1800, height: 2400, file_name: 'IMG_2041.jpg' });
    for (const address of ['/files/1', '/files/1/preview']) {
      const bytes = (await get(app, address)).rawPayload;
      const told = await sharp(bytes).metadata();
      expect([address, told.format, told.orientation, told.exif, told.icc, told.xmp, told.iptc]).toEqual([
        address,
        'jpeg',
        ...Array(5),
      ]);
      expect(bytes.includes('Secret Camera')).toBe(false);
      // The camera lay on its side: its left, red, is at the top once the photo is upright.
      expect(await ends(bytes)).toEqual([
        [1, 0, 0],
        [0, 0, 1],
      ]);
    }
    const preview = await sharp((await get(app, '/files/1/preview')).rawPayload).metadata();
    expect([preview.width, preview.height]).toEqual([240, 320]);
  });

  test('is on the page with its caption, and one that is small keeps its size', async () => {
    await send(ticketPhotos(), [{ name: 'a.jpg', bytes: await pictures.plainJpeg(200, 100) }], { caption: 'Page <1>' });
    const { body } = await get(app, `/tickets/${ticketId}?photosKept=1`);
    expect(body).toContain('href="/photos/1"');
    expect(body).toMatch(
      /<img src="\/files\/1\/preview\?of=[0-9a-f]{16}" alt="" width="200" height="100" loading="lazy">/,
    );
    expect(body).toContain('<span>Page &lt;1&gt;</span>');
    expect(words(body)).toContain('1 kept.');
    expect(row(1)).toMatchObject({ width: 200, height: 100 });
  });

  test('goes out so that nothing in it can run, and a browser may keep it', async () => {
    await send(ticketPhotos(), [{ name: 'Tíckét #5.jpg', bytes: await pictures.plainJpeg(20, 10) }]);
    const { body } = await get(app, '/photos/1');
    const address = /href="(\/files\/1\?of=[^"]+)"/.exec(body)?.[1] ?? '';
    const { headers } = await get(app, address);
    expect(headers).toMatchObject({
      'content-type': 'image/jpeg',
      'x-content-type-options': 'nosniff',
      'content-security-policy': "default-src 'none'; sandbox",
      'cache-control': 'private, max-age=31536000, immutable',
    });
    expect(headers['content-disposition']).toBe(
      `inline; filename="T_ck_t _5.jpg"; filename*=UTF-8''T%C3%ADck%C3%A9t%20%235.jpg`,
    );
    const etag = String(headers.etag);
    const again = await app.inject({ url: address, headers: { host: '127.0.0.1', 'if-none-match': etag } });
    expect([again.statusCode, again.rawPayload.length]).toEqual([304, 0]);
    // Without the mark of its bytes an address may come to mean another photo, in another copy of the ledger.
    expect((await get(app, '/files/1')).headers['cache-control']).toBe('private, no-cache');
    expect((await get(app, '/files/1/preview?of=0000000000000000')).headers['cache-control']).toBe('private, no-cache');
  });

  test('may be a PNG with nothing behind it: what shows through is white', async () => {
    const response = await send(ticketPhotos(), [{ name: 'shot.png', bytes: await pictures.plainPng(60, 40) }]);
    expect(response.statusCode).toBe(303);
    const { rawPayload, headers } = await get(app, '/files/1');
    expect(headers['content-disposition']).toContain('filename="shot.jpg"');
    expect((await sharp(rawPayload).stats()).channels.map(({ min }) => min)).toEqual([255, 255, 255]);
  });
});

test('a PDF is kept as it came, and goes out to be saved and not shown', async () => {
  const sent = pictures.somePdf('proof');
  await send(`/manifests/${manifestId}/photos`, [{ name: 'proof of source.pdf', bytes: sent }], {
    caption: 'From whom',
  });
  const { rawPayload, headers } = await get(app, '/files/1');
  expect(rawPayload.equals(sent)).toBe(true);
  expect(headers).toMatchObject({
    'content-type': 'application/pdf',
    'x-content-type-options': 'nosniff',
    'content-security-policy': "default-src 'none'; sandbox",
    'content-disposition': `attachment; filename="proof of source.pdf"; filename*=UTF-8''proof%20of%20source.pdf`,
  });
  expect((await get(app, '/files/1/preview')).statusCode).toBe(404);
  expect(row(1)).toMatchObject({ sha256: hash(sent), byte_count: sent.length, width: null });
  expect((await get(app, `/manifests/${manifestId}`)).body).toContain(
    '<span class="photo-pdf" aria-hidden="true">PDF</span>',
  );
});

test('the ticket that was photographed at the yard and kept with its manifest is on the ticket’s page too', async () => {
  await send(`/manifests/${manifestId}/photos`, [{ name: 'ticket.pdf', bytes: pictures.somePdf('at the yard') }]);
  const { body } = await get(app, `/tickets/${ticketId}`);
  expect(body).toContain(`Kept with <a href="/manifests/${manifestId}">manifest`);
  expect(body).toContain('href="/photos/1"');
});

test('a bin, a draft and a loaded manifest each take photos and show them', async () => {
  const draft = draftManifest(ledger, { yardId: sale.yardId, binIds: [binId(ledger, 'CU2')], note: '' });
  const pages = ['/bins/CU2', `/manifests/${draft}`, `/manifests/${manifestId}`];
  for (const [index, page] of pages.entries()) {
    const bytes = await pictures.plainJpeg(30, 20, `#00000${index}`);
    const response = await send(`${page}/photos`, [{ name: 'a.jpg', bytes }], { caption: `of ${page}` });
    expect([page, response.statusCode]).toEqual([page, 303]);
    expect((await get(app, page)).body).toContain(`<span>of ${page}</span>`);
  }
});

test('what is on no document, and what names none, is not found', async () => {
  for (const address of ['/files/99', '/files/99/preview', '/photos/99', '/files/x', '/files/-1']) {
    expect([address, (await get(app, address)).statusCode]).toEqual([address, 404]);
  }
  const file = { name: 'a.pdf', bytes: pictures.somePdf() };
  for (const url of ['/tickets/99/photos', '/manifests/99/photos', '/bins/NONE/photos']) {
    expect([url, (await send(url, [file])).statusCode]).toEqual([url, 404]);
  }
  expect(count()).toBe(0);
});

describe('a form with something in it that cannot be kept comes back whole, and nothing of it is stored', () => {
  const good = { name: 'good.pdf', bytes: pictures.somePdf('good') };

  async function expectRefused(files: FormFile[], sentence: RegExp): Promise<void> {
    const response = await send(ticketPhotos(), files, { caption: 'Caption as typed' });
    expect([response.statusCode, words(response.body).match(sentence)?.[0]]).toEqual([422, expect.any(String)]);
    expect(response.body).toContain('value="Caption as typed"');
    expect(response.body).toContain('<details class="more" open>');
    expect([count(), count('attachment_bytes'), events()]).toEqual([0, 0, []]);
  }

  test.each([
    ['SVG', () => pictures.svg(), /“x\.jpg” is neither a photo in JPEG or PNG nor a PDF/],
    ['a zip', () => pictures.zip(), /“x\.jpg” is neither/],
    ['a page of HTML', () => Buffer.from('<!doctype html><script>1</script>'), /“x\.jpg” is neither/],
    ['an empty file', () => Buffer.alloc(0), /“x\.jpg” is empty/],
    ['HEIC', () => pictures.heic(), /“x\.jpg” is a HEIC photo.*JPEG/],
    ['400 megapixels as PNG', () => pictures.vastPng(), /“x\.jpg” has 400 million points/],
    ['400 megapixels as JPEG', () => pictures.vastJpeg(), /“x\.jpg” has 400 million points/],
    ['texts of a gigabyte', () => pictures.textBombs().iTXt as Buffer, /“x\.jpg” carries far more text/],
    ['a profile of a gigabyte', () => pictures.textBombs().iCCP as Buffer, /“x\.jpg” carries far more text/],
    ['pixels of a gigabyte', () => pictures.pixelBomb(), /“x\.jpg” is damaged or did not arrive whole/],
    ['30 megapixels in passes', () => pictures.plainJpeg(6000, 5000, '#888888', true), /takes too much memory to open/],
    ['more than 12 MB', () => pictures.somePdf('large', 12_000_000), /One of the files is larger than 12 MB/],
  ])('%s', async (_, bytes, sentence) => {
    await expectRefused([good, { name: 'x.jpg', type: 'image/jpeg', bytes: await bytes() }], sentence);
  });

  test('a photo that is cut off half-way', async () => {
    const photo = await pictures.busyJpeg(800, 600);
    await expectRefused([good, { name: 'x.jpg', bytes: photo.subarray(0, photo.length / 2) }], /“x\.jpg” is damaged/);
  });

  test('eleven files, files of more than 60 MB together, and none at all', async () => {
    const some = (files: number, bytes: number) =>
      Array.from({ length: files }, (_, index) => ({
        name: `${index}.pdf`,
        bytes: pictures.somePdf(`${index}`, bytes),
      }));
    await expectRefused(some(11, 0), /At most 10 files at a time/);
    await expectRefused(some(6, 11_000_000), /60 MB together/);
    await expectRefused([], /Choose a photo or a PDF first/);
    await expectRefused([{ name: '', bytes: '' }], /Choose a photo or a PDF first/);
  });

  test('a form that breaks off within a file', async () => {
    const body = multipartBody({ requestKey: newKey(), caption: 'Caption as typed' }, [good]);
    const response = await postBody(app, ticketPhotos(), body.subarray(0, body.length - 120));
    expect(response.statusCode).toBe(422);
    expect(response.body).toContain('did not arrive whole');
    expect(response.body).toContain('value="Caption as typed"');
    expect(count()).toBe(0);
  });

  test('a caption that is too long', async () => {
    const response = await send(ticketPhotos(), [good], { caption: 'x'.repeat(201) });
    expect([response.statusCode, count()]).toEqual([422, 0]);
    expect(response.body).toContain(`value="${'x'.repeat(201)}"`);
  });

  test('on the pages of manifests and bins alike', async () => {
    for (const page of [`/manifests/${manifestId}`, '/bins/CU2']) {
      const response = await send(`${page}/photos`, [{ name: 'x.svg', bytes: pictures.svg() }], {
        caption: 'As typed',
      });
      expect([response.statusCode, response.body.includes('value="As typed"')]).toEqual([422, true]);
      expect(words(response.body)).toContain('“x.svg” is neither');
    }
  });

  /** Files that wait have no name any more; Linux tells which are open. */
  const LINUX = '/proc/self/fd';
  const waiting = (): string[] =>
    readdirSync(LINUX).filter((number) => {
      try {
        return readlinkSync(join(LINUX, number)).startsWith(join(folder, 'tarebook-files-'));
      } catch {
        // It was closed meanwhile.
        return false;
      }
    });

  test.skipIf(!existsSync(LINUX))('a form whose sender goes away half-way', async () => {
    const port = Number(new URL(await app.listen({ host: '127.0.0.1', port: 0 })).port);
    const body = multipartBody({ requestKey: newKey() }, [good, { ...good, bytes: pictures.somePdf('b', 3_000_000) }]);
    const head = [
      `POST ${ticketPhotos()} HTTP/1.1`,
      `host: 127.0.0.1:${port}`,
      `origin: http://127.0.0.1:${port}`,
      `cookie: ${OWN_POST.cookie}`,
      `content-type: ${MULTIPART}`,
      `content-length: ${body.length}`,
    ];
    const socket = connect(port, '127.0.0.1');
    socket.write(`${head.join('\r\n')}\r\n\r\n`);
    await new Promise((sent) => socket.write(body.subarray(0, 2_000_000), sent));
    await expect.poll(() => waiting().length).toBe(1);
    socket.destroy();
    await expect.poll(waiting).toEqual([]);
    expect(readdirSync(folder)).toEqual([]);
    expect(count()).toBe(0);
    expect((await send(ticketPhotos(), [good])).statusCode).toBe(303);
  });

  test('and nothing of it is left in the folder for temporary files', async () => {
    await send(ticketPhotos(), [good, { name: 'x.jpg', bytes: pictures.svg() }]);
    await send(ticketPhotos(), [good]);
    expect(readdirSync(folder)).toEqual([]);
  });
});

describe('the same file again', () => {
  const file = { name: 'a.pdf', bytes: pictures.somePdf('same') };

  test('is not stored twice, and that is said', async () => {
    await send(ticketPhotos(), [file]);
    const again = await send(ticketPhotos(), [file], { caption: 'Typed again' });
    expect([again.statusCode, words(again.body).includes('This is kept here already')]).toEqual([422, true]);
    expect(again.body).toContain('value="Typed again"');
    const other = { name: 'b.pdf', bytes: pictures.somePdf('other') };
    const both = await send(ticketPhotos(), [file, other, other]);
    expect(both.headers.location).toContain('photosKept=1&photosKnown=2');
    expect(count()).toBe(2);
    expect(words((await get(app, String(both.headers.location).split('#')[0] ?? '')).body)).toContain(
      '1 kept. 2 were kept here already and not stored twice.',
    );
  });

  test('is another one on another document', async () => {
    await send(ticketPhotos(), [file]);
    expect((await send('/bins/CU2/photos', [file])).statusCode).toBe(303);
    expect(count()).toBe(2);
  });

  test('is put back when it had been taken off, under the new caption', async () => {
    await send(ticketPhotos(), [file], { caption: 'First' });
    await post(app, '/photos/1/removal', { requestKey: newKey() });
    const again = await send(ticketPhotos(), [file], { caption: 'Second' });
    expect(again.headers.location).toContain('photosBack=1');
    expect((await get(app, `/tickets/${ticketId}`)).body).toContain('<span>Second</span>');
    expect(count()).toBe(1);
  });

  test('by a second tap on the same form leads to the same place and does nothing', async () => {
    const fields = { requestKey: newKey(), caption: 'Once' };
    const [first, second] = [await send(ticketPhotos(), [file], fields), await send(ticketPhotos(), [file], fields)];
    expect([second.statusCode, second.headers.location]).toEqual([303, first.headers.location]);
    const other = await send(ticketPhotos(), [{ name: 'b.pdf', bytes: pictures.somePdf('other') }], fields);
    expect([other.statusCode, words(other.body).includes('This form was sent before')]).toEqual([422, true]);
    expect(count()).toBe(1);
  });
});

describe('the page of one photo', () => {
  beforeEach(() => send(ticketPhotos(), [{ name: 'a.pdf', bytes: pictures.somePdf('one') }], { caption: 'First' }));

  test('gives it another caption; the first one stays in the ledger and the trail says so', async () => {
    const response = await post(app, '/photos/1/captions', { requestKey: newKey(), caption: 'Second' });
    expect([response.statusCode, response.headers.location]).toEqual([303, `/tickets/${ticketId}#photos`]);
    expect((await get(app, `/tickets/${ticketId}`)).body).toContain('<span>Second</span>');
    const captions = ledger.db.sqlite.prepare('select caption from attachment_caption order by id').pluck().all();
    expect(captions).toEqual(['First', 'Second']);
    expect(events()).toEqual(['kept a PDF with a ticket', 'changed the caption of a PDF']);
    await post(app, '/photos/1/captions', { requestKey: newKey(), caption: '' });
    expect((await get(app, `/tickets/${ticketId}`)).body).toContain('<span>PDF, kept 20 Mar 2025</span>');
  });

  test('comes back with a caption that is too long', async () => {
    const long = 'y'.repeat(300);
    const response = await post(app, '/photos/1/captions', { requestKey: newKey(), caption: long });
    expect([response.statusCode, response.body.includes(`value="${long}"`)]).toEqual([422, true]);
  });

  test('takes it off its document and puts it back; both stay in the trail', async () => {
    const off = await post(app, '/photos/1/removal', { requestKey: newKey() });
    expect(off.headers.location).toBe(`/tickets/${ticketId}?photosOff=1#photos`);
    const page = words((await get(app, `/tickets/${ticketId}?photosOff=1`)).body);
    expect(page).toContain('Taken off. It can be put back below.');
    expect(page).toContain('Taken off (1) PDF First Put back');
    // It can still be looked at: one does so before putting it back.
    expect((await get(app, '/files/1')).statusCode).toBe(200);
    expect(words((await get(app, '/photos/1')).body)).toContain('Taken off ticket 70011. ');
    const twice = await post(app, '/photos/1/removal', { requestKey: newKey() });
    expect([twice.statusCode, words(twice.body).includes('This was taken off already.')]).toEqual([422, true]);
    const back = await post(app, '/photos/1/removal/undo', { requestKey: newKey() });
    expect(back.headers.location).toBe(`/tickets/${ticketId}?photosBack=1#photos`);
    expect(words((await get(app, `/tickets/${ticketId}?photosBack=1`)).body)).toContain('1 put back.');
    expect((await post(app, '/photos/1/removal/undo', { requestKey: newKey() })).statusCode).toBe(422);
    expect(events()).toEqual(['kept a PDF with a ticket', 'took a PDF off', 'put a PDF back']);
  });
});

describe('a ticket that took the place of another', () => {
  let newer: number;
  const file = { name: 'first.pdf', bytes: pictures.somePdf('first') };
  beforeEach(async () => {
    await send(ticketPhotos(), [file], { caption: 'On the first' });
    const second = replaceTicket(ledger, ticketId, ticketOf(ledger, sale, manifestId), 'wrong day');
    await send(`/tickets/${second}/photos`, [{ name: 'b.pdf', bytes: pictures.somePdf('second') }], {
      caption: 'On the second',
    });
    newer = replaceTicket(ledger, second, ticketOf(ledger, { ...sale, on: '2025-03-09' }, manifestId), 'wrong again');
  });

  test('shows the photos of all whose place it took', async () => {
    const page = (await get(app, `/tickets/${newer}`)).body;
    for (const caption of ['On the first', 'On the second']) expect(page).toContain(`<span>${caption}</span>`);
    const replaced = (await get(app, `/tickets/${ticketId}`)).body;
    expect([replaced.includes('On the first'), replaced.includes('On the second')]).toEqual([true, false]);
  });

  test('knows their files again, and their photos lead back to it', async () => {
    const again = await send(`/tickets/${newer}/photos`, [file]);
    expect([again.statusCode, words(again.body).includes('kept here already')]).toEqual([422, true]);
    expect((await get(app, '/photos/1')).body).toContain(`<a href="/tickets/${newer}#photos">Back to ticket 70011</a>`);
  });

  test('offers them, and those of the manifest, beside the form when it is replaced in turn', async () => {
    await send(`/manifests/${manifestId}/photos`, [{ name: 'm.pdf', bytes: pictures.somePdf('m') }], {
      caption: 'At the yard',
    });
    const form = (await get(app, `/tickets/${newer}/replacement`)).body;
    const beside = /<section class="photos-beside[\s\S]*?<\/section>/.exec(form)?.[0] ?? '';
    for (const caption of ['On the first', 'On the second', 'At the yard']) expect(words(beside)).toContain(caption);
    expect(beside.match(/target="_blank"/g)).toHaveLength(3);
  });
});

test('what is kept with a manifest stands beside the form in which its ticket is typed', async () => {
  const { manifestId: second } = sell(ledger, {
    ...sale,
    number: '70012',
    loads: [{ code: 'CU2', net: '10', price: '3' }],
  });
  const form = async () => (await get(app, `/tickets/new?manifest=${second}`)).body;
  expect(await form()).not.toContain('photos-beside');
  await send(`/manifests/${second}/photos`, [{ name: 'a.jpg', bytes: await pictures.plainJpeg(40, 30) }], {
    caption: 'Paper',
  });
  const page = await form();
  expect(page).toContain('photos-beside');
  expect(page).toMatch(/<a class="photo" href="\/files\/1\?of=[0-9a-f]+" target="_blank" rel="noopener">/);
});

test('a bin with photos has a history, and is closed and not removed', async () => {
  await send('/bins/YB2/photos', [{ name: 'a.pdf', bytes: pictures.somePdf() }]);
  const id = binId(ledger, 'YB2');
  const response = await post(app, `/setup/bins/${id}/removal`, { requestKey: newKey() });
  expect([response.statusCode, words(response.body).includes('has a history, which stays')]).toEqual([422, true]);
  expect(() => ledger.db.sqlite.prepare('delete from bin where id = ?').run(id)).toThrow('a bin with photos stays');
});

test('many photos come a page at a time, the newest form first', async () => {
  const files = (from: number) =>
    Array.from({ length: 10 }, (_, index) => ({
      name: `${from + index}.pdf`,
      bytes: pictures.somePdf(`${from + index}`),
    }));
  for (const from of [0, 10, 20]) await send('/bins/CU2/photos', files(from), { caption: `from ${from}` });
  const shown = (body: string) => body.match(/class="photo"/g)?.length;
  const first = (await get(app, '/bins/CU2')).body;
  const second = (await get(app, '/bins/CU2?photosPage=2')).body;
  expect([shown(first), shown(second)]).toEqual([24, 6]);
  expect(first).toContain('href="/bins/CU2?photosPage=2#photos"');
  expect(second).toContain('href="/bins/CU2?photosPage=1#photos"');
});

test('the ledger itself refuses photos of nothing, and that any of it is changed', async () => {
  await send(ticketPhotos(), [{ name: 'a.pdf', bytes: pictures.somePdf() }], { caption: 'x' });
  const { sqlite } = ledger.db;
  const insert = (kind: string, id: number) =>
    sqlite
      .prepare(
        `insert into attachment (document_kind, document_id, content, file_name, byte_count, sha256, kept_on, recorded_at, who)
         values (?, ?, 'pdf', '', 1, ?, '2025-03-20', '', '')`,
      )
      .run(kind, id, 'b'.repeat(64));
  expect(() => insert('ticket', 99)).toThrow('a photo is kept with a document that is there');
  expect(() => insert('item', 1)).toThrow('a photo is kept with a document that is there');
  expect(() => insert('yard', 1)).toThrow();
  for (const table of ['attachment', 'attachment_bytes', 'attachment_caption']) {
    expect(() => sqlite.exec(`delete from ${table}`)).toThrow();
    expect(() => sqlite.exec(`update ${table} set rowid = rowid`)).toThrow();
  }
});
