import { readFileSync } from 'node:fs';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { findExport, ledgerExports, reportExports, writeExport } from '../../server/files/exports/names.ts';
import { importKinds } from '../../server/files/imports/kinds.ts';
import { massIn, newApp, newLedger, newYard, OWN_POST, post, setUpWorkedExample, weighIn } from '../helper.ts';
import { postFiles } from '../multipart.ts';
import { sellCopper } from '../sales.ts';

let ledger: Ledger;
let app: FastifyInstance;
beforeEach(async () => {
  ledger = newLedger();
  app = await newApp(ledger.db);
});
afterEach(() => app.close());

const get = (url: string) => app.inject({ method: 'GET', url, headers: OWN_POST });

/** Posts the form as a browser does, with or without a file. */
const send = (fields: Record<string, string>, file = { name: '', content: '' as string | Buffer }) =>
  postFiles(app, '/import', fields, [{ field: 'file', name: file.name, type: 'text/csv', bytes: file.content }]);

const worked = (name: string) => readFileSync(new URL(`../published/worked/${name}.csv`, import.meta.url));
const hidden = (body: string, name: string) => new RegExp(`name="${name}" value="([^"]*)"`).exec(body)?.[1] ?? '';
/** The hidden fields of the second step, as its form would send them. */
const secondStep = (body: string) =>
  Object.fromEntries(['step', 'kind', 'content', 'requestKey'].map((name) => [name, hidden(body, name)]));
const words = (body: string) =>
  body
    .replace(/<[^>]*>/g, ' ')
    .replaceAll('&quot;', '"')
    .replaceAll('&#39;', "'")
    .replace(/\s+/g, ' ');

describe('taking files out', () => {
  beforeEach(() => {
    const { yardId } = setUpWorkedExample(ledger);
    const south = newYard(ledger, 'Demo Yard South');
    newYard(ledger, 'Demo Yard West');
    weighIn(ledger, 'YB1', '12.5');
    sellCopper(ledger, { north: yardId, south });
  });

  test('the page of files links to every export, and each is there', async () => {
    const { body, statusCode } = await get('/setup/files');
    expect(statusCode).toBe(200);
    for (const { name, sentence } of [...ledgerExports, ...reportExports]) {
      expect(body).toContain(`href="/export/${name}.csv"`);
      expect(words(body)).toContain(sentence);
      expect((await get(`/export/${name}.csv`)).statusCode).toBe(200);
    }
  });

  test('a file comes as CSV under its name, the same as from the command', async () => {
    const response = await get('/export/reconciliation.csv');
    expect(response.headers['content-type']).toBe('text/csv; charset=utf-8');
    expect(response.headers['content-disposition']).toBe('attachment; filename="reconciliation.csv"');
    const file = findExport('reconciliation');
    expect(response.body).toBe(file && writeExport(ledger, file, {}));
    expect(response.body.split('\r\n')).toHaveLength(5);
  });

  test('a unit and the filters of a report’s page are taken from the address', async () => {
    expect((await get('/export/on-hand.csv?unit=kg')).body).toContain('YB1,Yellow brass,5.6699,kg,');
    const all = await get('/export/realised-prices.csv');
    const none = await get('/export/realised-prices.csv?yard=3&split=yard');
    const year = await get('/export/realised-prices.csv?by=year');
    const rows = (response: { body: string }) => response.body.trim().split('\r\n').slice(1);
    expect(rows(all).map((row) => row.split(',').slice(0, 5).join())).toEqual([
      '2024-12,No. 2 copper,Demo Yard North,lb,100.0000',
      '2024-12,No. 2 copper,Demo Yard South,lb,50.0000',
      '2025-02,No. 2 copper,Demo Yard North,lb,20.0000',
    ]);
    expect(rows(none)).toEqual([]);
    expect(rows(year).map((row) => row.split(',').slice(0, 5).join())).toEqual([
      '2024,No. 2 copper,,lb,150.0000',
      '2025,No. 2 copper,,lb,20.0000',
    ]);
    expect((await get('/export/shrinkage.csv')).body.split('\r\n')[1]).toMatch(/,,$/);
  });

  test('what is not there, and what cannot be read, is said in a sentence', async () => {
    for (const url of ['/export/gradez.csv', '/export/grades', '/export/grades.csv.exe', '/export/..%2Fledger.csv']) {
      expect((await get(url)).statusCode).toBe(404);
    }
    for (const url of [
      '/export/on-hand.csv?unit=stone',
      '/export/shrinkage.csv?from=May',
      '/export/shrinkage.csv?yard=9',
    ]) {
      expect((await get(url)).statusCode).toBe(422);
    }
  });
});

describe('bringing a file in', () => {
  test('the page says what each file holds and how large one may be', async () => {
    const { body } = await get('/import?kind=loads');
    expect(body).toContain('<option value="loads" selected>');
    expect(words(body)).toContain('at most 2 MB');
    for (const { columns } of importKinds) expect(words(body)).toContain(columns.join(', '));
  });

  test('is checked first and stores nothing, then goes in whole, once however often it is sent', async () => {
    const checked = await send({ kind: 'grades', text: '' }, { name: 'grades.csv', content: worked('grades') });
    expect(checked.statusCode).toBe(200);
    expect(words(checked.body)).toContain('5 grades, nothing wrong. Nothing is stored yet.');
    expect(checked.body).toContain('<td>Insulated wire, low recovery</td>');
    expect((await get('/export/grades.csv')).body).toBe('name,family,quoted_per,code\r\n');
    const first = await send(secondStep(checked.body));
    expect([first.statusCode, first.headers.location]).toEqual([303, '/import?kind=grades&rows=5&trail=1']);
    expect((await get('/export/grades.csv')).body).toBe(worked('grades').toString());
    const second = await send(secondStep(checked.body));
    expect([second.statusCode, second.headers.location]).toEqual([303, '/import?kind=grades&rows=5&trail=1']);
    const content = Buffer.from('name,family,quoted_per\r\nLead,lead and zinc,lb\r\n').toString('base64url');
    const other = await send({ ...secondStep(checked.body), content });
    expect([other.statusCode, words(other.body).includes('This form was sent before')]).toEqual([422, true]);
    expect((await send(secondStep(other.body))).statusCode).toBe(303);
    expect(words((await get('/import?kind=grades&rows=5')).body)).toContain('5 grades imported.');
  });

  test('the same file again is refused with its day, at either step', async () => {
    const checked = await send({ kind: 'grades', text: '' }, { name: 'grades.csv', content: worked('grades') });
    const step = secondStep(checked.body);
    await send(step);
    const again = await send({ ...step, requestKey: 'another-key-123' });
    expect(again.statusCode).toBe(422);
    expect(words(again.body)).toContain('This file was already imported on 20 Mar 2025.');
    const checkedAgain = await send({ kind: 'grades', text: '' }, { name: 'g.csv', content: worked('grades') });
    expect(checkedAgain.statusCode).toBe(422);
    expect(words(checkedAgain.body)).toContain('already imported on 20 Mar 2025');
  });

  test('rows that are in the ledger already are noted, and the button says so', async () => {
    setUpWorkedExample(ledger);
    weighIn(ledger, 'YB1', '12.5');
    const text = (await get('/export/in-weights.csv')).body;
    const checked = await post(app, '/import', { kind: 'in-weights', text });
    expect(checked.statusCode).toBe(200);
    expect(words(checked.body)).toContain('1 in-weight, all readable, but not all new. Nothing is stored yet.');
    expect(words(checked.body)).toContain('line 2: The same weighing into YB1 on 1 Mar 2025 is in the ledger already.');
    expect(checked.body).toContain('>Import every row, those too</button>');
    expect((await send(secondStep(checked.body))).statusCode).toBe(303);
    expect(massIn(ledger, 'YB1')).toBe(2 * 5_669_904_625);
    const fresh = await post(app, '/import', { kind: 'in-weights', text: text.replace('12.5', '12.6') });
    expect(fresh.body).toContain('>Import 1 in-weight</button>');
  });

  test('the page of files says that they are not a full copy, and what is', async () => {
    const { body } = await get('/setup/files');
    expect(words(body)).toContain('They are not a full copy. Not in them are recounts and moves between bins');
    expect(words(body)).toContain('A full copy is a backup or the archive');
    expect(words(body)).toContain('The column item is the number of the item they came from; it may be empty.');
  });

  test('a pasted text with problems comes back with all of them, and the text is kept', async () => {
    const text = 'name,family,quoted_per\r\nLead,metal,lb\r\n"<b>Tin</b>",precious,parsec\r\n';
    for (const response of [
      await send({ kind: 'grades', text }),
      await post(app, '/import', { kind: 'grades', text }),
    ]) {
      expect(response.statusCode).toBe(422);
      expect(words(response.body)).toContain('2 things are wrong with this file. Nothing of it was stored.');
      expect(words(response.body)).toContain('line 2, family: Choose a family');
      expect(words(response.body)).toContain('line 3, quoted_per: Choose a unit');
      expect(response.body).toContain('&lt;b&gt;Tin&lt;/b&gt;');
      expect(response.body).not.toContain('<b>Tin</b>');
      expect(response.body).toContain('<option value="grades" selected>');
      expect(response.body).not.toContain('name="content"');
    }
    expect((await get('/export/grades.csv')).body).toBe('name,family,quoted_per,code\r\n');
  });

  test('a file with problems is put into the box, to be put right at once', async () => {
    const content = 'name,family\r\nLead,lead and zinc\r\n';
    const { body } = await send({ kind: 'grades', text: '' }, { name: 'grades.csv', content });
    expect(words(body)).toContain('Column “quoted_per” is missing.');
    expect(body).toContain('Lead,lead and zinc');
  });

  test('without a kind, or without anything in it, the form says so', async () => {
    const none = await send({ kind: 'grades', text: '' });
    expect([none.statusCode, words(none.body).includes('Choose a file, or paste its text.')]).toEqual([422, true]);
    const unknown = await send({ kind: 'gradez', text: 'name\r\n' });
    expect([unknown.statusCode, words(unknown.body).includes('Choose what is in the file.')]).toEqual([422, true]);
    expect(unknown.body).toContain('>name');
    expect((await send({ step: 'import', kind: 'gradez', content: 'bmFtZQ' })).statusCode).toBe(404);
  });

  test('a file that changed, or a ledger that did, between the steps is refused at the second', async () => {
    const checked = await send({ kind: 'grades', text: worked('grades').toString() });
    setUpWorkedExample(ledger);
    const { statusCode, body } = await send(secondStep(checked.body));
    expect(statusCode).toBe(422);
    expect(words(body)).toContain('5 things are wrong with this file.');
    expect(words(body)).toContain('line 2, name: “No. 2 copper” is already in the ledger.');
    const broken = await send({ ...secondStep(checked.body), content: '!!!not base64!!!' });
    expect(broken.statusCode).toBe(422);
  });

  test('line breaks within a note come in as they are in the file, by way of both steps', async () => {
    setUpWorkedExample(ledger);
    const content = 'occurred_on,bin,gross,tare,unit,note\n2025-03-01,CU2,5,0,lb,"one\ntwo"\n';
    const checked = await send({ kind: 'in-weights', text: '' }, { name: 'w.csv', content });
    expect((await send(secondStep(checked.body))).statusCode).toBe(303);
    expect((await get('/export/in-weights.csv')).body).toContain('"one\ntwo"');
  });

  test('notes are shown before the import', async () => {
    setUpWorkedExample(ledger);
    const text = 'yard,manifest,loaded_on,load,bin,net,unit\r\nDemo Yard North,W1,2025-03-08,A,CU2,3.2,lb\r\n';
    const { body } = await send({ kind: 'loads', text });
    expect(words(body)).toContain('line 2: 3.20 lb more than the book has in CU2: booked as a count difference.');
    expect(massIn(ledger, 'CU2')).toBe(0);
  });

  test('a file of the largest size goes through both steps; a larger one is refused in a sentence', async () => {
    setUpWorkedExample(ledger);
    const row = `2025-03-01,CU2,5.00,0,lb,"${'n'.repeat(1900)}"\r\n`;
    const head = 'occurred_on,bin,gross,tare,unit,note\r\n';
    const large = head + row.repeat(Math.floor((2_000_000 - head.length) / row.length));
    const checked = await send({ kind: 'in-weights', text: '' }, { name: 'w.csv', content: large });
    expect(words(checked.body)).toContain(`${large.split('\r\n').length - 2} in-weights, nothing wrong.`);
    expect((await send(secondStep(checked.body))).statusCode).toBe(303);
    for (const size of [2_000_001, 2_900_000]) {
      const bytes = 'x'.repeat(size);
      for (const response of [
        await send({ kind: 'grades', text: bytes }),
        await send({ kind: 'grades', text: '' }, { name: 'x.csv', content: bytes }),
      ]) {
        expect([response.statusCode, words(response.body).includes('at most 2 MB')]).toEqual([422, true]);
      }
    }
    const huge = await send({ kind: 'grades', text: '' }, { name: 'x.csv', content: 'x'.repeat(11_000_000) });
    expect([huge.statusCode, words(huge.body).includes('at most 2 MB')]).toEqual([422, true]);
    expect(huge.body).toContain('<option value="grades" selected>');
  }, 60_000);

  test.each([
    ['no boundary', 'multipart/form-data', 'x'],
    ['half a form', 'multipart/form-data; boundary=b', '--b\r\ncontent-disposition: form-data; name="kind"\r\n\r\ngra'],
    [
      'a field of another name many times',
      'multipart/form-data; boundary=b',
      `${'--b\r\ncontent-disposition: form-data; name="a"\r\n\r\nx\r\n'.repeat(40)}--b--\r\n`,
    ],
    [
      'a field that names a prototype',
      'multipart/form-data; boundary=b',
      '--b\r\ncontent-disposition: form-data; name="__proto__"\r\n\r\nx\r\n--b--\r\n',
    ],
    ['something else', 'text/plain', 'name'],
  ])('%s is refused calmly', async (_, type, payload) => {
    const response = await app.inject({
      method: 'POST',
      url: '/import',
      headers: { ...OWN_POST, 'content-type': type },
      payload,
    });
    expect(response.statusCode).toBeGreaterThanOrEqual(400);
    expect(response.statusCode).toBeLessThan(500);
  });
});
