import { brotliCompressSync, constants, gzipSync } from 'node:zlib';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { type StaticFile, staticFileOf, staticNames } from './static-files.ts';

const ENCODINGS = ['br', 'gzip'] as const;
type Encoding = (typeof ENCODINGS)[number];

const KEEP_A_YEAR = 'public, max-age=31536000, immutable';
const ASK_AGAIN = 'no-cache';

const squeeze: Record<Encoding, (body: Buffer) => Buffer> = {
  br: (body) =>
    brotliCompressSync(body, {
      params: { [constants.BROTLI_PARAM_QUALITY]: constants.BROTLI_MAX_QUALITY },
    }),
  gzip: (body) => gzipSync(body, { level: 9 }),
};

/** Serves the few files that pages are drawn with, each squeezed as far as it goes, once, when it is first asked for. */
export async function staticRoutes(app: FastifyInstance): Promise<void> {
  for (const name of staticNames) {
    const file = staticFileOf(name);
    const kept = new Map<Encoding, Buffer>();
    const squeezed = (encoding: Encoding): Buffer => {
      const body = kept.get(encoding) ?? squeeze[encoding](file.body);
      kept.set(encoding, body);
      return body;
    };
    app.get(`/static/${name}`, { compress: false }, (request, reply) => answer(request, reply, file, squeezed));
  }
}

/** The address with the version that a page names is kept for a year; any other asks every time whether it is new. */
function answer(
  request: FastifyRequest,
  reply: FastifyReply,
  file: StaticFile,
  squeezed: (encoding: Encoding) => Buffer,
): FastifyReply {
  const { v } = request.query as { v?: unknown };
  const etag = `"${file.version}"`;
  reply.type(file.type).header('vary', 'accept-encoding').header('etag', etag);
  reply.header('cache-control', v === file.version ? KEEP_A_YEAR : ASK_AGAIN);
  if (request.headers['if-none-match'] === etag) return reply.code(304).send();
  const encoding = encodingFor(request.headers['accept-encoding'] ?? '');
  return encoding === null
    ? reply.send(file.body)
    : reply.header('content-encoding', encoding).send(squeezed(encoding));
}

/** The tightest encoding that a browser names and does not refuse with "q=0". */
function encodingFor(accepted: string): Encoding | null {
  const named = accepted
    .split(',')
    .map((part) => part.trim().toLowerCase())
    .filter((part) => !/;\s*q=0(\.0*)?$/.test(part))
    .map((part) => part.split(';')[0]);
  return ENCODINGS.find((encoding) => named.includes(encoding)) ?? null;
}
