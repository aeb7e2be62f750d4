import type { Typed } from '../reading.ts';
import type { KeptFiles } from './acts.ts';
import type { Attachment } from './queries.ts';

/** Longest side of a preview, in pixels. */
export const PREVIEW_SIDE = 320;

/** By this code the process that decodes says that it has no decoder here. */
export const NO_DECODER_EXIT = 3;

type Named = Pick<Attachment, 'id' | 'sha256'>;

/**
 * The mark of the bytes in an address. With it an address always gives the same bytes, also after a copy of the ledger
 * was put back and numbers went to other photos, so that a browser may keep what it got.
 */
export const markOf = ({ sha256 }: Named): string => sha256.slice(0, 16);
export const fileAddress = (named: Named): string => `/files/${named.id}?of=${markOf(named)}`;
export const previewAddress = (named: Named): string => `/files/${named.id}/preview?of=${markOf(named)}`;

/** Pixels of a photo's preview, so that a page keeps its room; null for a PDF. */
export function previewSize({ width, height }: Pick<Attachment, 'width' | 'height'>): [number, number] | null {
  if (width === null || height === null) return null;
  const scale = Math.min(1, PREVIEW_SIDE / Math.max(width, height));
  return [Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale))];
}

/** What was just done with photos, as the address of the page says it. */
export const doneQuery = ({ kept, known, back }: KeptFiles): string =>
  new URLSearchParams({ photosKept: String(kept), photosKnown: String(known), photosBack: String(back) }).toString();
export const OFF_QUERY = 'photosOff=1';
export const BACK_QUERY = 'photosBack=1';

const countIn = (query: Typed, name: string): number =>
  /^\d{1,2}$/.test(query[name] ?? '') ? Number.parseInt(query[name] ?? '', 10) : 0;

/** The same in words; '' when nothing was done. */
export function doneSentence(query: Typed): string {
  const [kept, known, back] = ['photosKept', 'photosKnown', 'photosBack'].map((name) => countIn(query, name));
  return [
    kept ? `${kept} kept.` : '',
    known ? `${known} ${known === 1 ? 'was' : 'were'} kept here already and not stored twice.` : '',
    back ? `${back} put back.` : '',
    countIn(query, 'photosOff') > 0 ? 'Taken off. It can be put back below.' : '',
  ]
    .filter((sentence) => sentence !== '')
    .join(' ');
}
