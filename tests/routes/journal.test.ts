import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { journalPieces } from '../../server/files/journal/journal.ts';
import { get, newApp, newLedger, setUpWorkedExample, weighIn } from '../helper.ts';
import { sellCopper } from '../sales.ts';

let ledger: Ledger;
let app: FastifyInstance;
beforeEach(async () => {
  ledger = newLedger();
  const { yardId } = setUpWorkedExample(ledger);
  weighIn(ledger, 'CU2', '300', '2024-12-01', { note: 'a; note' });
  sellCopper(ledger, { north: yardId, south: yardId });
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const ADDRESS = '/export/tarebook.journal';

test('the page of files links to the journal, which comes whole, as plain text under its own name', async () => {
  expect((await get(app, '/setup/files')).body).toContain(`href="${ADDRESS}" download`);
  const { statusCode, headers, body } = await get(app, ADDRESS);
  expect(statusCode).toBe(200);
  expect(headers['content-type']).toBe('text/plain; charset=utf-8');
  expect(headers['content-disposition']).toBe('attachment; filename="tarebook.journal"');
  expect(body).toBe([...journalPieces(ledger, {})].join(''));
  expect(body).toContain('a%3B note');
});

test('it can be asked for in grams and in tonnes; in pounds it is refused with what to choose instead', async () => {
  expect((await get(app, `${ADDRESS}?unit=g`)).body).toContain('"g No. 2 copper"');
  const { statusCode, body } = await get(app, `${ADDRESS}?unit=lb`);
  expect(statusCode).toBe(422);
  expect(body).toContain('Choose g, kg or tonne for a journal.');
});
