import type { MultipartFile } from '@fastify/multipart';
import type { FastifyRequest } from 'fastify';
import { FORM_TOKEN } from './access/token.ts';
import { hasFormToken } from './access/visitor.ts';
import { troubleOf } from './db/trouble.ts';
import { Unreadable } from './reading.ts';
import { Refusal } from './refusal.ts';
import { typedOf } from './web.ts';

/** What one form may send, and how it says that it was too much. */
export interface UploadRules {
  /** Name of the form's file field, beside which a problem is said. */
  field: string;
  files: number;
  tooMany: string;
  /** The largest single file. */
  fileBytes: number;
  tooLarge: string;
  /** All files together. */
  totalBytes: number;
  tooMuch: string;
  /** The largest field beside the files. */
  fieldBytes: number;
}

export interface SentFile {
  /** As the browser sent it; '' when it sent none. */
  name: string;
  bytes: Uint8Array;
}

/** A form that was read. Its fields are the request's body, whether or not its files could be taken. */
export interface Upload<Taken> {
  /** What was made of each file, in the order sent; empty when anything was refused. */
  files: Taken[];
  /** Why nothing of the form may be done, or null: thrown from its act, it brings the form back with the reason. */
  refused: Error | null;
}

type Take<Taken> = (file: SentFile) => Taken | Promise<Taken>;

const MOST_FIELDS = 20;

/**
 * Reads a form with files, sent in parts or, without files, in the plain way. Each file goes whole through `take` before
 * the next one is read, so that no more than one is in memory. The first refusal ends the reading; what is still on its
 * way is let pass by.
 * @param take makes of a file what is needed of it, and throws Unreadable or Refusal for one that cannot be used, or what the disk says
 */
export async function readUpload<Taken>(
  request: FastifyRequest,
  rules: UploadRules,
  take: Take<Taken>,
): Promise<Upload<Taken>> {
  if (!request.isMultipart()) return { files: [], refused: null };
  try {
    return { files: await readParts(request, rules, take), refused: null };
  } catch (error) {
    letPass(request);
    if (isTold(error)) return { files: [], refused: error };
    throw error;
  }
}

/** Errors that a form comes back with: its own, and a disk that did not take a file. */
const isTold = (error: unknown): error is Error =>
  error instanceof Unreadable || error instanceof Refusal || (error instanceof Error && troubleOf(error) !== null);

async function readParts<Taken>(request: FastifyRequest, rules: UploadRules, take: Take<Taken>): Promise<Taken[]> {
  const fields: Record<string, unknown[]> = Object.create(null);
  const files: Taken[] = [];
  let room = rules.totalBytes;
  let hasFiles = false;
  for await (const part of partsOf(request, rules)) {
    if (part.type === 'field') {
      fields[part.fieldname] = [...(fields[part.fieldname] ?? []), part.value];
      continue;
    }
    if (!hasFiles) fieldsAreIn(request, fields);
    hasFiles = true;
    const bytes = await readFile(part, rules, room);
    room -= bytes.length;
    // A file field that was left empty comes as a file without name and bytes.
    if (bytes.length > 0 || part.filename) files.push(await take({ name: part.filename ?? '', bytes }));
  }
  if (!hasFiles) fieldsAreIn(request, fields);
  return files;
}

/**
 * The fields of a form become the request's body before the first byte of a file is read; in every form they stand before
 * the files. What must be right before files are worth reading is checked here: Unreadable or Refusal ends the reading.
 */
function fieldsAreIn(request: FastifyRequest, fields: Readonly<Record<string, unknown[]>>): void {
  const sent = typedOf(fields);
  const { [FORM_TOKEN]: _, ...typed } = sent;
  request.body = typed;
  if (hasFormToken(request, sent)) return;
  const say =
    'This page was older than this device’s sign-in, so nothing was done. Choose the files again and send it.';
  throw new Refusal('form_old', '', say);
}

/** The parts of a form in the order sent. What is wrong with its shape comes out as the form's own problem. */
async function* partsOf(request: FastifyRequest, rules: UploadRules) {
  const limits = {
    files: rules.files,
    fileSize: rules.fileBytes,
    fieldSize: rules.fieldBytes,
    fields: MOST_FIELDS,
    parts: rules.files + MOST_FIELDS + 1,
  };
  try {
    yield* request.parts({ limits });
  } catch (error) {
    throw whyBroken(error, rules);
  }
}

/** @param room bytes that may still come */
async function readFile(part: MultipartFile, rules: UploadRules, room: number): Promise<Uint8Array> {
  const chunks: Uint8Array[] = [];
  let size = 0;
  try {
    for await (const chunk of part.file as AsyncIterable<Uint8Array>) {
      chunks.push(chunk);
      size += chunk.length;
      if (size > room) break;
    }
  } catch (error) {
    throw whyBroken(error, rules);
  }
  if (size > room) throw new Unreadable({ [rules.field]: rules.tooMuch });
  if (part.file.truncated) throw new Unreadable({ [rules.field]: rules.tooLarge });
  return Buffer.concat(chunks);
}

/** A form that was cut off or holds too many files, in words; another fault as it is. */
function whyBroken(error: unknown, rules: UploadRules): unknown {
  if (!(error instanceof Error)) return error;
  const code = 'code' in error ? error.code : '';
  if (code === 'FST_FILES_LIMIT') return new Unreadable({ [rules.field]: rules.tooMany });
  if ('statusCode' in error && code !== 'FST_MP_PREMATURE_CLOSE') return error;
  return new Unreadable({ [rules.field]: 'The form did not arrive whole, so nothing was done. Send it again.' });
}

/** A browser reads the answer once all it sends is taken, so what nobody needs any more goes by without being kept. */
function letPass({ raw }: FastifyRequest): void {
  raw.unpipe();
  raw.resume();
}
