import { readFileSync } from 'node:fs';
import type { FastifyInstance } from 'fastify';

/** The order matters: what is general comes first, and paper has the last word. */
const PARTS = [
  'paper',
  'forms',
  'tables',
  'bench',
  'tags',
  'set-up',
  'prices',
  'manifests',
  'tickets',
  'reports',
  'cards',
  'charts',
  'files',
  'find',
  'print',
];

/** Serves the style sheets of views/styles as one, so that a first view on a phone asks for one file and not fourteen. */
export async function styleRoutes(app: FastifyInstance): Promise<void> {
  const folder = new URL('../views/styles/', import.meta.url);
  const sheet = PARTS.map((part) => readFileSync(new URL(`${part}.css`, folder), 'utf8')).join('\n');
  app.get('/static/tarebook.css', (_request, reply) =>
    reply.type('text/css; charset=utf-8').header('cache-control', 'public, max-age=3600').send(sheet),
  );
}
