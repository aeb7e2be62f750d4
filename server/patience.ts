import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { TOO_SLOW } from './bare-answers.ts';

/** How long the server waits for those who send, in milliseconds, and how much they have to send in that time. */
export interface Patience {
  /** For a connection that says nothing, for the head of a request, and for an ordinary form to be there whole. */
  waitMs: number;
  /** For a form with files to be there whole: ten photos over a weak signal at the far end of the garage. */
  filesMs: number;
  /** So many bytes of a form with files have to come in each `waitMs`. */
  leastBytes: number;
}

/**
 * A photo of 1 MB that is to be there within three minutes needs 5.8 kB a second. Less than one of them a second is
 * nobody's Wi-Fi, and holds back a client that keeps a connection by a byte now and then.
 */
export const PATIENCE: Patience = { waitMs: 20_000, filesMs: 180_000, leastBytes: 16_384 };
/** How often the server looks for heads that are late. Node's own 30 s would let them have up to 50. */
const MOST_BETWEEN_LOOKS_MS = 1_000;

/** The part of it that Node's server holds to by itself, as Fastify takes it. */
export const nodeLimits = ({ waitMs, filesMs }: Patience) => ({
  connectionTimeout: waitMs,
  requestTimeout: filesMs,
  http: { headersTimeout: waitMs, connectionsCheckingInterval: Math.min(MOST_BETWEEN_LOOKS_MS, waitMs / 4) },
});

/** Cuts off whoever sends a form too slowly. Stands before the gate, so that it holds for strangers as well. */
export function cutSlowForms(app: FastifyInstance, patience: Patience): void {
  app.addHook('onRequest', async (request, reply) => {
    if (hasBody(request)) watch(request, reply, patience);
  });
}

const hasBody = ({ headers }: FastifyRequest): boolean =>
  headers['transfer-encoding'] !== undefined || Number.parseInt(headers['content-length'] ?? '0', 10) > 0;

function watch(request: FastifyRequest, reply: FastifyReply, { waitMs, leastBytes }: Patience): void {
  const { raw, routeOptions } = request;
  const { socket } = raw;
  let seenBytes = socket.bytesRead;
  const stop = () => clearInterval(timer);
  const timer = setInterval(() => {
    if (raw.complete) return stop();
    const arrived = socket.bytesRead - seenBytes;
    seenBytes = socket.bytesRead;
    // What waits here to be read, while a photo is decoded, is not what the client is slow about.
    const isQuickEnough = arrived >= leastBytes || raw.readableLength > 0;
    if (routeOptions.config.takesFiles && isQuickEnough) return undefined;
    return cut(reply);
  }, waitMs).unref();
  raw.once('end', stop).once('close', stop);
}

/** As Node cuts off a head that is late; whoever has an answer already gets no second one. */
function cut({ raw, server, request }: FastifyReply): void {
  if (raw.headersSent) request.raw.destroy();
  else server.server.emit('clientError', Object.assign(new Error('too slow'), { code: TOO_SLOW }), request.raw.socket);
}
