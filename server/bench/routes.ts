import type { FastifyInstance } from 'fastify';
import { benchPage } from '../../views/bench/index.ts';
import { metalPage } from '../../views/bench/metal.ts';
import { wirePage } from '../../views/bench/wire.ts';
import { recognisePage } from '../../views/items/recognise.ts';
import type { Problems, Typed } from '../reading.ts';
import { listGrades } from '../setup/queries.ts';
import { ledgerOf, queryOf, sendHtml, showOf } from '../web.ts';
import { readMetalQuestion } from './metal-question.ts';
import { readWireQuestion, WIRE_FIELDS } from './wire-question.ts';

const statusOf = ({ problems }: { problems: Problems }): number => (Object.keys(problems).length > 0 ? 422 : 200);

/** What can be found out at the bench. The questions stand in the address, so that a page can be kept as a bookmark. */
export async function benchRoutes(app: FastifyInstance): Promise<void> {
  app.get('/bench', (request, reply) => sendHtml(reply, benchPage(showOf(request))));

  app.get('/bench/grades', (request, reply) =>
    sendHtml(reply, recognisePage(showOf(request), listGrades(ledgerOf(request).db))),
  );

  app.get('/bench/wire', (request, reply) => {
    const query = queryOf(request);
    const question = readWireQuestion(ledgerOf(request), query);
    const address = (changes: Typed) => wireAddress(query, changes);
    return sendHtml(reply, wirePage(showOf(request), question, address), statusOf(question));
  });

  app.get('/bench/metal', (request, reply) => {
    const question = readMetalQuestion(ledgerOf(request), queryOf(request));
    return sendHtml(reply, metalPage(showOf(request), question), statusOf(question));
  });
}

/** The same question with some of it changed, as an address. */
function wireAddress(query: Typed, changes: Typed): string {
  const asked = new URLSearchParams();
  for (const field of WIRE_FIELDS) {
    const value = changes[field] ?? query[field] ?? '';
    if (value !== '') asked.set(field, value);
  }
  return `/bench/wire?${asked}`;
}
