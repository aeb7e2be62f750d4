import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { FastifyInstance } from 'fastify';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { buildApp } from '../../server/app.ts';
import type { Ledger } from '../../server/context.ts';
import { openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { importKinds } from '../../server/files/imports/kinds.ts';
import { staticFileOf, staticNames } from '../../server/static-files.ts';
import { clock, OWN_POST, post, setUpWorkedExample } from '../helper.ts';
import { postFiles } from '../multipart.ts';
import { type Listening, listen, type RawAnswer, sendRaw } from '../raw.ts';
import { PLACES, SECRETS, TRAVERSALS } from '../traversal.ts';

// Everything that is asked here is asked by a browser that is let in: who is not gets nowhere at all.

let folder: string;
let ledger: Ledger;
let app: FastifyInstance;
let server: Listening;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'tarebook-traversal-'));
  ledger = openLedger(openDb(join(folder, 'data', 'ledger.sqlite')), clock);
  setUpWorkedExample(ledger);
  app = await buildApp({ db: ledger.db, clock });
  server = await listen(app);
});
afterAll(async () => {
  await app.close();
  ledger.db.close();
  rmSync(folder, { recursive: true, force: true });
});

/** Bodies that are handed out under their own names, and by none of these. */
const statics = staticNames.map((name) => staticFileOf(name).body.toString());

const OURS = new Set(staticNames.map((name) => `/static/${name}`));

/** What is wrong with an answer, or null: a page of the ledger, a refusal or the way to a page here is right. */
function whyWrong({ status, headers, body }: RawAnswer): string | null {
  const secret = SECRETS.find((pattern) => pattern.test(body));
  if (secret !== undefined) return `shows ${secret}`;
  if (status >= 500) return `answers ${status}`;
  if (statics.includes(body)) return 'shows a file of ours by another name';
  const type = headers['content-type'] ?? '';
  const isPage = type.startsWith('text/html') || type.startsWith('text/plain');
  if (status === 200 && !isPage) return `hands out ${type}`;
  if (status === 303) return /^\/(?![/\\])/.test(headers.location ?? '') ? null : `leads to ${headers.location}`;
  return [0, 200, 400, 404, 414, 421, 431].includes(status) ? null : `answers ${status}`;
}

test('there are more than two hundred of them, and the list finds what it looks for', () => {
  expect(TRAVERSALS.length).toBeGreaterThan(200);
  expect(new Set(TRAVERSALS).size).toBe(TRAVERSALS.length);
  const answer = { status: 200, headers: { 'content-type': 'text/html' } };
  expect(whyWrong({ ...answer, body: 'root:x:0:0:root:/:/bin/sh' })).toContain('shows');
  expect(whyWrong({ ...answer, body: statics[0] ?? '' })).toContain('by another name');
});

describe.each(PLACES)('at %s nothing is found', { timeout: 120_000 }, (place) => {
  test('by a client that puts addresses right', async () => {
    const wrong: string[] = [];
    for (const payload of TRAVERSALS) {
      const url = place.replace('*', () => payload);
      // Some it sends to another computer, or not at all; some it turns into the address of a file of ours.
      const right = URL.parse(url, OWN_POST.origin);
      if (right?.origin !== OWN_POST.origin || OURS.has(right.pathname)) continue;
      const { statusCode, headers, body } = await app.inject({ method: 'GET', url, headers: OWN_POST });
      const why = whyWrong({ status: statusCode, headers: headers as Record<string, string>, body });
      if (why !== null) wrong.push(`${url.slice(0, 80)} ${why}`);
    }
    expect(wrong).toEqual([]);
  });

  test('over a raw socket, byte by byte as written', async () => {
    const wrong: string[] = [];
    const headers = ['Host: 127.0.0.1', `Cookie: ${OWN_POST.cookie}`];
    const asked = TRAVERSALS.map(async (payload) => {
      const line = `GET ${Buffer.from(
        place.replace('*', () => payload),
        'utf8',
      ).toString('latin1')}`;
      const why = whyWrong(await sendRaw(server, line, headers));
      if (why !== null) wrong.push(`${line.slice(0, 80)} ${why}`);
    });
    await Promise.all(asked);
    expect(wrong).toEqual([]);
  });
});

describe('in what is sent along', { timeout: 120_000 }, () => {
  const kept = () =>
    ledger.db.sqlite.prepare('select id, file_name from attachment').all() as { id: number; file_name: string }[];

  test('a name of a paper is a name, and no path', async () => {
    const before = readdirSync(tmpdir()).filter((name) => name.startsWith('tarebook-files-'));
    for (const [index, payload] of TRAVERSALS.entries()) {
      // A quote or a line end would end the header that the name stands in.
      const name = payload.replace(/["\r\n\0]/g, '');
      const bytes = `%PDF-1.7\n${index}\n%%EOF\n`;
      const { statusCode } = await postFiles(app, '/bins/CU2/photos', {}, [{ name, bytes }]);
      expect([payload, statusCode]).toEqual([payload, 303]);
    }
    expect(kept().length).toBe(TRAVERSALS.length);
    for (const { id, file_name: name } of kept()) {
      expect(name).not.toMatch(/[/\\\p{C}]/u);
      const { headers, statusCode } = await app.inject({ method: 'GET', url: `/files/${id}`, headers: OWN_POST });
      expect(statusCode).toBe(200);
      const disposition = String(headers['content-disposition']);
      expect(disposition).toMatch(/^attachment; filename="[\w .-]*\.pdf"; filename\*=UTF-8''[\w.~%!$&+^`|#-]*$/);
      expect(decodeURIComponent(disposition.split("''")[1] ?? '')).not.toMatch(/[/\\]/);
    }
    expect(readdirSync(tmpdir()).filter((name) => name.startsWith('tarebook-files-'))).toEqual(before);
  });

  test('a kind of file to bring in is one of the list', async () => {
    expect(importKinds.length).toBeGreaterThan(5);
    for (const kind of TRAVERSALS) {
      const answer = await post(app, '/import', { kind, text: 'code,grade,place\r\nX,Yellow brass,\r\n' });
      expect([kind, answer.statusCode]).toEqual([kind, 422]);
      for (const secret of SECRETS) expect(answer.body).not.toMatch(secret);
    }
  });

  test('a document that a form names is found by its number or not at all', async () => {
    for (const id of TRAVERSALS) {
      for (const [url, fields] of [
        ['/manifests', { yard: id, bins: id }],
        ['/in-weights', { bin: id, gross: '1', scale: id, container: id }],
        ['/trail/1/put-back', { id }],
      ] as const) {
        const { statusCode, body } = await post(app, url, fields);
        expect([id, url, statusCode < 500]).toEqual([id, url, true]);
        for (const secret of SECRETS) expect(body).not.toMatch(secret);
      }
    }
  });

  test('and nothing was written beside the ledger', () => {
    expect(readdirSync(folder)).toEqual(['data']);
    expect(
      readdirSync(join(folder, 'data')).filter((name) => !/^(ledger\.sqlite(-wal|-shm)?|backups|.*lock.*)$/.test(name)),
    ).toEqual([]);
  });
});
