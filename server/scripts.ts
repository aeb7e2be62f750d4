import { readFileSync } from 'node:fs';
import type { FastifyInstance } from 'fastify';

/** By concept; each is on its own, and the order matters only where two of them look at the same event. */
const PARTS = ['till', 'bench', 'sending', 'unanswered', 'asking', 'focus', 'drafts', 'letters', 'keys', 'printing'];

/** Serves the small scripts of views/scripts as one file. Each keeps its names to itself. */
export async function scriptRoutes(app: FastifyInstance): Promise<void> {
  const folder = new URL('../views/scripts/', import.meta.url);
  const whole = PARTS.map((part) => `(() => {\n${readFileSync(new URL(`${part}.js`, folder), 'utf8')}})();\n`).join('');
  const script = `// Small conveniences; every page works without them.\n${whole}`;
  app.get('/static/tarebook.js', (_request, reply) =>
    reply.type('text/javascript; charset=utf-8').header('cache-control', 'public, max-age=3600').send(script),
  );
}
