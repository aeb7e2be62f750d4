import type { Socket } from 'node:net';
import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';

// What never becomes a request does not come by the gate, so it is told a sentence and nothing of the ledger.

/** Node's code for a request that takes too long to arrive. */
export const TOO_SLOW = 'ERR_HTTP_REQUEST_TIMEOUT';

/** Of the same kind as those of every page, for an answer that loads nothing. */
const HEADERS = {
  'content-type': 'text/plain; charset=utf-8',
  'content-security-policy': "default-src 'none'; frame-ancestors 'none'",
  'x-content-type-options': 'nosniff',
  'x-frame-options': 'DENY',
  'referrer-policy': 'same-origin',
  'cache-control': 'no-store',
} as const;

const SLOW = [408, 'Request Timeout', 'That took too long to arrive, so nothing was done. Send it again.'] as const;
const LONG = [431, 'Request Header Fields Too Large', 'That is more than an address may hold here.'] as const;
const UNREADABLE = [400, 'Bad Request', 'The browser sent something that Tarebook cannot read.'] as const;

/** Answers an address that cannot be read, such as /%zz. */
export function answerBadAddress(_error: FastifyError, _request: FastifyRequest, reply: FastifyReply): void {
  reply.code(404).headers(HEADERS).send('There is no such page.');
}

/** Answers what is no HTTP, or comes too slowly or too long, and ends the connection. */
export function answerBadClient(error: Error & { code?: string }, socket: Socket): void {
  if (error.code === 'ECONNRESET' || socket.destroyed) return;
  const [status, reason, sentence] =
    error.code === TOO_SLOW ? SLOW : error.code === 'HPE_HEADER_OVERFLOW' ? LONG : UNREADABLE;
  const headers = { ...HEADERS, 'content-length': String(Buffer.byteLength(sentence)), connection: 'close' };
  const lines = Object.entries(headers).map(([name, value]) => `${name}: ${value}\r\n`);
  if (socket.writable) socket.write(`HTTP/1.1 ${status} ${reason}\r\n${lines.join('')}\r\n${sentence}`);
  socket.destroy();
}
