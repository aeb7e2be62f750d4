import type { FastifyInstance } from 'fastify';
import { Refusal } from './refusal.ts';

const OWN_NAMES = ['127.0.0.1', 'localhost', '[::1]'];

/** The name in a Host header, without its port. */
const nameOf = (host: string): string => host.replace(/:\d+$/, '').toLowerCase();

/**
 * Answers only to names this computer goes by, so that a page elsewhere that points its own name at this address gets
 * nothing, and takes posts only from its own pages. Over plain HTTP browsers send Origin with every post.
 */
export function guardOrigin(app: FastifyInstance, hosts: readonly string[]): void {
  const known = new Set([...OWN_NAMES, ...hosts.map((host) => host.toLowerCase())]);
  app.addHook('onRequest', async (request) => {
    const host = request.headers.host ?? '';
    if (!known.has(nameOf(host))) {
      throw new Refusal(
        'not_found',
        '',
        'Tarebook does not answer to this name. Use the address it printed when it started.',
      );
    }
    const { origin } = request.headers;
    if (request.method === 'GET' || request.method === 'HEAD' || origin === undefined) return;
    if (origin !== `http://${host}`) {
      throw new Refusal('not_found', '', 'This form did not come from a page of Tarebook, so nothing was done.');
    }
  });
}
