import { createHash } from 'node:crypto';
import { Unreadable } from '../reading.ts';
import type { SentFile, UploadRules } from '../uploads.ts';
import type { ReadFile } from './acts.ts';
import type { Aside } from './aside.ts';
import { kindOf } from './kinds.ts';
import { cleanName } from './names.ts';
import { readPhoto } from './photo.ts';

/** Name of the file field. */
const FIELD = 'photos';

/** Ten photos of a phone at a time, as large as phones make them. */
export const PHOTO_RULES: UploadRules = {
  field: FIELD,
  files: 10,
  tooMany: 'At most 10 files at a time. Send the rest afterwards.',
  fileBytes: 12_000_000,
  tooLarge: 'One of the files is larger than 12 MB. Make it smaller, or take the photo with fewer points.',
  totalBytes: 60_000_000,
  tooMuch: 'The files of one form may have 60 MB together. Send them in several goes.',
  fieldBytes: 20_000,
};

/**
 * Makes of a sent file what is kept of it: of a photo an upright JPEG without what the camera wrote into it, of a PDF
 * the file as it came. Throws Unreadable with a sentence that names the file when it is neither or cannot be opened.
 */
export async function readSentFile({ name, bytes }: SentFile, aside: Aside): Promise<ReadFile> {
  const file = { name: cleanName(name), sha256: createHash('sha256').update(bytes).digest('hex') };
  const kind = kindOf(bytes);
  if (!kind.ok) throw unusable(file.name, kind.refusal);
  if (kind.value === 'pdf') {
    return { ...file, content: 'pdf', width: null, height: null, whole: aside.put(bytes), preview: null };
  }
  const photo = await readPhoto(bytes, kind.value);
  if (!photo.ok) throw unusable(file.name, photo.refusal);
  const { whole, preview, width, height } = photo.value;
  return { ...file, content: 'photo', width, height, whole: aside.put(whole), preview };
}

const unusable = (name: string, rest: string): Unreadable =>
  new Unreadable({ [FIELD]: `${name === '' ? 'One of the files' : `“${name}”`} ${rest}` });
