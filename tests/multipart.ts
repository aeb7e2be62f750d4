import type { FastifyInstance } from 'fastify';
import { OWN_FIELDS, OWN_POST } from './helper.ts';

/** A file as a browser sends it in a form. */
export interface FormFile {
  field?: string;
  name: string;
  /** What the browser takes it for; the server does not go by it. */
  type?: string;
  bytes: Uint8Array | string;
}

const BOUNDARY = '----tarebook-form';

/** The body of a form with files: its token and its fields first, as every form of Tarebook has them. */
export function multipartBody(fields: Readonly<Record<string, string>>, files: readonly FormFile[]): Buffer {
  const part = (head: string, content: Uint8Array | string) =>
    Buffer.concat([
      Buffer.from(`--${BOUNDARY}\r\ncontent-disposition: form-data; ${head}\r\n\r\n`),
      Buffer.from(content as Uint8Array),
      Buffer.from('\r\n'),
    ]);
  return Buffer.concat([
    ...Object.entries({ ...OWN_FIELDS, ...fields }).map(([name, value]) => part(`name="${name}"`, value)),
    ...files.map(({ field = 'photos', name, type = 'application/octet-stream', bytes }) =>
      part(`name="${field}"; filename="${name}"\r\ncontent-type: ${type}`, bytes),
    ),
    Buffer.from(`--${BOUNDARY}--\r\n`),
  ]);
}

export const MULTIPART = `multipart/form-data; boundary=${BOUNDARY}`;

/** Posts a form with files as a browser does. */
export const postFiles = (
  app: FastifyInstance,
  url: string,
  fields: Readonly<Record<string, string>>,
  files: readonly FormFile[],
) => postBody(app, url, multipartBody(fields, files));

/** Posts a body that says it is a form with files, whole or not. */
export const postBody = (app: FastifyInstance, url: string, payload: Buffer) =>
  app.inject({ method: 'POST', url, headers: { ...OWN_POST, 'content-type': MULTIPART }, payload });

/** The same to a server in another process. */
export async function sendFiles(
  address: string,
  path: string,
  fields: Readonly<Record<string, string>>,
  files: readonly FormFile[],
): Promise<{ status: number; body: string }> {
  const body = new Uint8Array(multipartBody(fields, files));
  const headers = { 'content-type': MULTIPART, origin: address, cookie: OWN_POST.cookie };
  const response = await fetch(address + path, { method: 'POST', headers, body, redirect: 'manual' });
  return { status: response.status, body: await response.text() };
}
