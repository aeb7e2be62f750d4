import { accepted, type Read, refused } from '../units/result.ts';

/** What can be kept, told by the bytes: a name or a type that is sent along says nothing. */
export type SentKind = 'jpeg' | 'png' | 'pdf';

const SIGNATURES: Record<SentKind, readonly number[]> = {
  jpeg: [0xff, 0xd8, 0xff],
  png: [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a],
  pdf: [0x25, 0x50, 0x44, 0x46, 0x2d],
};
const KINDS = Object.keys(SIGNATURES) as SentKind[];

/** The brands by which a phone's high-efficiency photo names itself, after its length and the word "ftyp". */
const HEIC_BRANDS = ['heic', 'heix', 'heim', 'heis', 'hevc', 'hevx', 'mif1', 'msf1'];

/** A PDF ends with this mark; within how many bytes from its end it is looked for. */
const PDF_END = '%%EOF';
const PDF_TAIL_BYTES = 2048;

const startsWith = (bytes: Uint8Array, signature: readonly number[]): boolean =>
  signature.every((byte, index) => bytes[index] === byte);

const textAt = (bytes: Uint8Array, from: number, to: number): string =>
  Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('latin1', from, to);

/**
 * The kind of a file by its first bytes (JPEG: ITU-T T.81, SOI and a marker; PNG: W3C PNG, 5.2; PDF: ISO 32000, 7.5.2),
 * or the rest of a sentence that begins with the file's name.
 */
export function kindOf(bytes: Uint8Array): Read<SentKind> {
  if (bytes.length === 0) return refused('is empty.');
  const kind = KINDS.find((each) => startsWith(bytes, SIGNATURES[each]));
  if (kind === 'pdf' && !textAt(bytes, bytes.length - PDF_TAIL_BYTES, bytes.length).includes(PDF_END)) {
    return refused('is a PDF that did not arrive whole: its end is missing. Save it again, then send it once more.');
  }
  if (kind !== undefined) return accepted(kind);
  if (textAt(bytes, 4, 8) === 'ftyp' && HEIC_BRANDS.includes(textAt(bytes, 8, 12))) {
    return refused(
      'is a HEIC photo, which cannot be opened here. Set the phone’s camera to JPEG, which its settings often call “most compatible”, or save this photo as JPEG.',
    );
  }
  return refused('is neither a photo in JPEG or PNG nor a PDF, whatever its name says. Only these can be kept here.');
}
