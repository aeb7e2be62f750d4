import { brotliDecompressSync, gunzipSync } from 'node:zlib';
import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { staticAddress, staticFileOf, staticNames } from '../../server/static-files.ts';
import { get, newApp, newLedger } from '../helper.ts';

let ledger: Ledger;
let app: FastifyInstance;
beforeEach(async () => {
  ledger = newLedger();
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const ask = (url: string, headers: Record<string, string>) =>
  app.inject({ method: 'GET', url, headers: { host: '127.0.0.1', ...headers } });

test('every file that a page names is there, and its address may be kept for a year', async () => {
  const { body } = await get(app, '/');
  const named = [...body.matchAll(/(?:href|src)="(\/static\/[^"]+)"/g)].map(([, address = '']) => address);
  expect(named).toHaveLength(3);
  for (const address of named) {
    const { statusCode, headers } = await get(app, address);
    expect([address, statusCode]).toEqual([address, 200]);
    expect(headers['cache-control']).toBe('public, max-age=31536000, immutable');
  }
});

test('an address with another version or none is asked for every time, and costs nothing while it is the same', async () => {
  for (const address of ['/static/tarebook.css', '/static/tarebook.css?v=older']) {
    const { headers } = await get(app, address);
    expect(headers['cache-control']).toBe('no-cache');
    const again = await ask(address, { 'if-none-match': String(headers.etag) });
    expect([again.statusCode, again.body]).toEqual([304, '']);
  }
});

test('files go out squeezed as the browser can take them, and come out whole', async () => {
  for (const name of staticNames) {
    const whole = staticFileOf(name).body;
    const brotli = await ask(staticAddress(name), { 'accept-encoding': 'gzip, deflate, br, zstd' });
    expect(brotli.headers['content-encoding']).toBe('br');
    expect(brotliDecompressSync(brotli.rawPayload).equals(whole)).toBe(true);
    const gzip = await ask(staticAddress(name), { 'accept-encoding': 'gzip, deflate' });
    expect(gzip.headers['content-encoding']).toBe('gzip');
    expect(gunzipSync(gzip.rawPayload).equals(whole)).toBe(true);
    const plain = await ask(staticAddress(name), { 'accept-encoding': 'br;q=0, identity' });
    expect(plain.headers['content-encoding']).toBeUndefined();
    expect(plain.rawPayload.equals(whole)).toBe(true);
  }
});

test('another content has another address', () => {
  const versions = staticNames.map((name) => staticFileOf(name).version);
  expect(new Set(versions).size).toBe(staticNames.length);
});
