import { inflateSync } from 'node:zlib';

// Reads back what a browser printed: how many pages, and the words on each. Only as much of the format as a browser
// writes: objects in plain sight, streams in zlib's format, text as glyphs with a table of what they stand for.
// Source: ISO 32000-1 (PDF 1.7), 7.3.8 (streams), 9.4.3 (text-showing operators), 9.10.3 (ToUnicode).

interface PdfObject {
  head: string;
  stream: string;
}

type Glyphs = ReadonlyMap<string, string>;

const reference = (head: string, name: string): number =>
  Number.parseInt(new RegExp(`/${name}\\s+(\\d+) 0 R`).exec(head)?.[1] ?? '0', 10);

function readObjects(pdf: Buffer): Map<number, PdfObject> {
  const text = pdf.toString('latin1');
  const objects = new Map<number, PdfObject>();
  for (const match of text.matchAll(/(?:^|\n)(\d+) 0 obj\r?\n([\s\S]*?)(stream\r?\n|endobj)/g)) {
    const [whole, id = '', head = '', end = ''] = match;
    const start = match.index + whole.length;
    objects.set(Number.parseInt(id, 10), { head, stream: end === 'endobj' ? '' : streamAt(pdf, start, head) });
  }
  return objects;
}

function streamAt(pdf: Buffer, start: number, head: string): string {
  const bytes = pdf.subarray(start, start + Number.parseInt(/\/Length (\d+)/.exec(head)?.[1] ?? '0', 10));
  return (head.includes('/FlateDecode') ? inflateSync(bytes) : bytes).toString('latin1');
}

const fromHex = (hex: string): string =>
  String.fromCharCode(...(hex.match(/.{4}/g) ?? []).map((unit) => Number.parseInt(unit, 16)));

/** What the glyphs of a font stand for, by their number in hexadecimal digits. */
function readGlyphs(table: string): Glyphs {
  const glyphs = new Map<string, string>();
  for (const [, block = ''] of table.matchAll(/beginbfchar([\s\S]*?)endbfchar/g)) {
    for (const [, glyph = '', hex = ''] of block.matchAll(/<(\w+)>\s*<(\w+)>/g))
      glyphs.set(glyph.toLowerCase(), fromHex(hex));
  }
  for (const [, block = ''] of table.matchAll(/beginbfrange([\s\S]*?)endbfrange/g)) {
    for (const [, first = '', last = '', hex = ''] of block.matchAll(/<(\w+)>\s*<(\w+)>\s*<(\w+)>/g)) {
      const from = Number.parseInt(first, 16);
      for (let at = from; at <= Number.parseInt(last, 16); at += 1) {
        const unit = Number.parseInt(hex, 16) + at - from;
        glyphs.set(at.toString(16).padStart(first.length, '0'), String.fromCharCode(unit));
      }
    }
  }
  return glyphs;
}

/** The fonts of a page by the names that its content calls them. */
function readFonts(objects: Map<number, PdfObject>, head: string): Map<string, Glyphs> {
  const resources = /\/Resources\s+\d/.test(head) ? (objects.get(reference(head, 'Resources'))?.head ?? '') : head;
  const listed = /\/Font\s*<<([\s\S]*?)>>/.exec(resources)?.[1] ?? '';
  return new Map(
    [...listed.matchAll(/\/(\w+)\s+(\d+) 0 R/g)].map(([, name = '', id = '']) => {
      const font = objects.get(Number.parseInt(id, 10))?.head ?? '';
      return [name, readGlyphs(objects.get(reference(font, 'ToUnicode'))?.stream ?? '')];
    }),
  );
}

function readWords(content: string, fonts: Map<string, Glyphs>): string {
  let glyphs: Glyphs = new Map();
  const words: string[] = [];
  for (const [, font, shown] of content.matchAll(/\/(\w+) [-\d.]+ Tf|(\[[^\]]*\]\s*TJ|<\w+>\s*Tj)/g)) {
    if (font !== undefined) glyphs = fonts.get(font) ?? new Map();
    const width = Math.max(2, ...[...glyphs.keys()].slice(0, 1).map((glyph) => glyph.length));
    for (const [, hex = ''] of (shown ?? '').matchAll(/<(\w+)>/g)) {
      const codes = hex.toLowerCase().match(new RegExp(`.{${width}}`, 'g')) ?? [];
      words.push(codes.map((code) => glyphs.get(code) ?? '').join(''));
    }
  }
  return words.join('');
}

/** The words on each page, without the spaces, of which some are only places on the paper. */
export function pagesOf(pdf: Buffer): string[] {
  const objects = readObjects(pdf);
  return [...objects.values()]
    .filter(({ head }) => /\/Type\s*\/Page\b/.test(head))
    .map(({ head }) => {
      const content = objects.get(reference(head, 'Contents'))?.stream ?? '';
      return readWords(content, readFonts(objects, head)).normalize('NFKC').replace(/\s/g, '');
    });
}

/** A text as it stands on a page of `pagesOf`. */
export const unspaced = (text: string): string => text.normalize('NFKC').replace(/\s/g, '');
