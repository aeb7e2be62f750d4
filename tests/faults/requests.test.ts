import { createConnection } from 'node:net';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { COOKIE } from '../../server/access/visitor.ts';
import { fillWithDemo, formFields, TOKENS } from './demo-site.ts';
import { encoded, hostileText } from './hostile.ts';
import { ask, brokenIn, type RealServer, startServer } from './real-server.ts';
import { measured, trials } from './trials.ts';

// What no browser sends, over real sockets to the server as it is started: it answers, and it goes on.

let server: RealServer;
beforeAll(async () => {
  server = await startServer(fillWithDemo);
}, 60_000);
afterAll(() => server.stop());

const ADDRESSES = [
  ...[
    '/in-weights',
    '/bins/CU2/recounts',
    '/bins/CU2/photos',
    '/tickets/6/photos',
    '/import',
    '/prices/boards',
    '/tickets',
    '/tickets/lines',
  ],
  ...[
    '/tickets/check',
    '/tickets/audit',
    '/manifests',
    '/manifests/25/weights',
    '/setup/grades',
    '/setup/yards/1/grade-names',
    '/sign-in',
  ],
  ...[
    '/setup/devices/passphrase',
    '/health',
    '/',
    '/static/tarebook.css',
    '/no-such-page',
    '/starter-list',
    '/trail/3/put-back',
  ],
];
const BOUNDARY = 'odd';
const TYPES = [
  ...[
    'application/x-www-form-urlencoded',
    'application/x-www-form-urlencoded; charset=utf-16',
    'application/x-www-form-urlencoded;;',
  ],
  ...[
    `multipart/form-data; boundary=${BOUNDARY}`,
    `multipart/form-data; boundary="${BOUNDARY}"`,
    'multipart/form-data; boundary=',
  ],
  ...[
    'multipart/form-data',
    `multipart/form-data; boundary=${'x'.repeat(3000)}`,
    `multipart/mixed; boundary=${BOUNDARY}`,
    'application/json',
  ],
  ...['text/plain', 'text/xml', 'image/jpeg', '', ';', 'a/b/c', '*/*', `MULTIPART/FORM-DATA; BOUNDARY=${BOUNDARY}`],
];

const token = encoded(formFields('own'));
const [tokenName = '', tokenValue = ''] = formFields('own')[0] ?? [];

const plainBodies: fc.Arbitrary<string> = fc.oneof(
  fc.constantFrom(
    ...[
      '',
      '%',
      '%zz=%zz',
      '&&&',
      '=',
      '=&=',
      'bin',
      'bin=CU2&gross=%',
      'bin=%ED%A0%80',
      'bin=%FF%FE&gross=5',
      '%00=%00',
      '+=+',
    ],
    ...[
      '__proto__=1',
      '__proto__[a]=1',
      'constructor[prototype][a]=1',
      'bin[]=1&bin[]=2',
      'toString=1&valueOf=2&hasOwnProperty=3',
    ],
    ...['bin=CU2&'.repeat(5000), 'gross=5&'.repeat(10_000), `${'x'.repeat(100_000)}=1`, `bin=${'x'.repeat(1_900_000)}`],
    ...['{"bin":"CU2"}', '<bin>CU2</bin>', '\0\0\0', '--odd--', `${'%'.repeat(20_000)}=1`, `a${'['.repeat(20_000)}=1`],
    Array.from({ length: 10_000 }, (_, index) => `field${index}=${index}`).join('&'),
    Array.from({ length: 2000 }, (_, index) => `gross-${index}=1&loads-${index}=A&price-${index}=2`).join('&'),
    `lineCount=${'9'.repeat(30)}&change=split:${'9'.repeat(30)}`,
  ),
  fc
    .array(fc.tuple(hostileText, hostileText), { maxLength: 6 })
    .map((pairs) => encoded(pairs.map(([a, b]) => [a.slice(0, 3000), b] as const))),
);

const dispositions = fc.constantFrom(
  ...[
    'form-data; name="bin"',
    'form-data; name="photos"; filename="a.jpg"',
    'form-data; name="file"; filename="a.csv"',
    'form-data',
  ],
  ...[
    'form-data; name=""',
    'form-data; name="__proto__"',
    'form-data; name="a"; name="b"',
    'form-data; name=bin',
    'attachment',
    '',
  ],
  ...[
    'form-data; name="photos"; filename*=UTF-8\'\'%e2%82%zz',
    'form-data; name="photos"; filename="../../../x"',
    `form-data; name="${'x'.repeat(5000)}"`,
  ],
  ...['form-data; name="photos"; filename="\\"', 'form-data; name="photos"; filename="a\0b"', 'form-data; name="text"'],
);
const part = fc
  .tuple(
    dispositions,
    fc.constantFrom(
      '',
      'content-type: text/plain',
      'content-type: multipart/mixed; boundary=in',
      'content-transfer-encoding: base64',
      `x: ${'y'.repeat(20_000)}`,
      'no colon',
    ),
    fc.constantFrom(
      '',
      'CU2',
      '%PDF-1.4\n%%EOF',
      '\xff\xd8\xff\xe0',
      'name,family,quoted_per\r\nTin,precious,lb\r\n',
      '--odd',
      'x'.repeat(300_000),
    ),
  )
  .map(
    ([disposition, more, content]) =>
      `--${BOUNDARY}\r\ncontent-disposition: ${disposition}\r\n${more}${more === '' ? '' : '\r\n'}\r\n${content}\r\n`,
  );
const tokenPart = `--${BOUNDARY}\r\ncontent-disposition: form-data; name="${tokenName}"\r\n\r\n${tokenValue}\r\n`;
const partedBodies = fc
  .tuple(
    fc.array(part, { maxLength: 12 }),
    fc.boolean(),
    fc.constantFrom(`--${BOUNDARY}--\r\n`, `--${BOUNDARY}`, '', `--${BOUNDARY}--`, '--other--\r\n', '\r\n'),
    fc.constantFrom(1, 1, 1, 1, 400),
  )
  .map(
    ([parts, hasToken, end, times]) =>
      (hasToken ? tokenPart : '') + parts.join('').repeat(parts.join('').length * times > 1_500_000 ? 1 : times) + end,
  );

interface RawRequest {
  method: string;
  path: string;
  type: string;
  body: string;
  headers: readonly string[];
  /** What is said of the body's length, against what it is. */
  length: 'right' | 'less' | 'more' | 'none' | 'twice' | 'nonsense' | 'chunked' | 'broken chunks';
}

const rawRequest: fc.Arbitrary<RawRequest> = fc.record({
  method: fc.oneof(
    { arbitrary: fc.constant('POST'), weight: 8 },
    {
      arbitrary: fc.constantFrom('GET', 'HEAD', 'PUT', 'DELETE', 'OPTIONS', 'TRACE', 'PATCH', 'PURGE', 'NONE', ''),
      weight: 1,
    },
  ),
  path: fc.oneof(
    { arbitrary: fc.constantFrom(...ADDRESSES), weight: 8 },
    {
      arbitrary: fc.constantFrom(
        '//',
        '/%',
        '/%zz',
        '/..%2f..',
        'http://elsewhere.example/',
        '*',
        '/bins/%00',
        `/${'x'.repeat(12_000)}`,
        '/bins/CU2?%',
        '/a b',
        '/in-weights#x',
        '/\xff',
      ),
      weight: 1,
    },
  ),
  type: fc.constantFrom(...TYPES),
  body: fc.oneof(
    plainBodies,
    plainBodies.map((body) => `${token}&${body}`),
    partedBodies,
  ),
  headers: fc.array(
    fc.constantFrom(
      ...[
        'Cookie: tarebook=x',
        'Cookie: ;;;=;',
        `Cookie: ${'a=b; '.repeat(1000)}`,
        'Host: elsewhere.example',
        'Host:',
        'Origin: null',
        'Origin: %',
      ],
      ...[
        'X-Forwarded-For: 1.2.3.4',
        'X-Forwarded-Proto: https',
        'Accept-Encoding: br;q=nan',
        'If-None-Match: "',
        'Range: bytes=-1',
        'Expect: 100-continue',
      ],
      ...[
        'Content-Encoding: gzip',
        'HX-Request: true',
        'Upgrade: websocket',
        'Connection: upgrade',
        `X-Long: ${'x'.repeat(20_000)}`,
        'X-Nul: a\0b',
        'No colon here',
      ],
    ),
    { maxLength: 2 },
  ),
  length: fc.constantFrom(
    'right',
    'right',
    'right',
    'right',
    'right',
    'less',
    'more',
    'none',
    'twice',
    'nonsense',
    'chunked',
    'broken chunks',
  ),
});

const chunked = (body: Buffer): Buffer =>
  Buffer.concat([Buffer.from(`${body.length.toString(16)}\r\n`), body, Buffer.from('\r\n0\r\n\r\n')]);

function bytesOf({ method, path, type, body, headers, length }: RawRequest): Buffer {
  const content = Buffer.from(body, 'latin1');
  const said: Readonly<Record<RawRequest['length'], string[]>> = {
    right: [`Content-Length: ${content.length}`],
    less: [`Content-Length: ${Math.floor(content.length / 2)}`],
    more: [`Content-Length: ${content.length + 1000}`],
    none: [],
    twice: [`Content-Length: ${content.length}`, 'Content-Length: 1'],
    nonsense: ['Content-Length: -5'],
    chunked: ['Transfer-Encoding: chunked'],
    'broken chunks': ['Transfer-Encoding: chunked'],
  };
  const own = [
    `Host: 127.0.0.1:${server.port}`,
    `Origin: ${server.origin}`,
    `Cookie: ${COOKIE}=${TOKENS.own}`,
    `Content-Type: ${type}`,
  ];
  const given = headers.map((line) => line.split(':')[0]?.toLowerCase());
  const kept = own.filter((line) => !given.includes(line.split(':')[0]?.toLowerCase()));
  const head = [`${method} ${path} HTTP/1.1`, ...kept, ...headers, ...said[length], '', ''].join('\r\n');
  const sent = length === 'chunked' ? chunked(content) : length === 'broken chunks' ? Buffer.from('zz\r\n') : content;
  return Buffer.concat([Buffer.from(head, 'latin1'), sent]);
}

/** What waits for more than it gets is let go: that it is cut off in time is tried elsewhere. */
const PATIENCE_MS = 400;

/** Sends bytes and waits for the head of an answer. @returns its status, 0 for none, and how long it took */
function sendBytes(bytes: Buffer, patienceMs: number): Promise<{ status: number; ms: number }> {
  return new Promise((resolve) => {
    const from = performance.now();
    const socket = createConnection({ host: '127.0.0.1', port: server.port });
    let said = '';
    const end = () => {
      clearTimeout(timer);
      socket.destroy();
      resolve({ status: Number(/^HTTP\/1\.1 (\d{3})/.exec(said)?.[1] ?? 0), ms: performance.now() - from });
    };
    const timer = setTimeout(end, patienceMs);
    socket.on('error', end);
    socket.on('close', end);
    socket.on('data', (data) => {
      said += data.toString('latin1', 0, 40);
      // "Go on" is no answer yet.
      if (/^HTTP\/1\.1 [2-5]/.test(said)) end();
      else said = said.replace(/^HTTP\/1\.1 100 Continue\r\n\r\n/, '');
    });
    socket.write(bytes);
  });
}

const isWhole = ({ length, headers }: RawRequest): boolean =>
  ['right', 'chunked', 'less'].includes(length) && !headers.includes('Expect: 100-continue');

/** Another may have the processor just then: what is slow once is tried again before it is called slow. */
const MOST_MS = 200;
const TRIES = 4;

test('whatever is sent over a socket', async () => {
  let [sent, answered, longest] = [0, 0, 0];
  await fc.assert(
    fc.asyncProperty(rawRequest, async (request) => {
      sent += 1;
      const bytes = bytesOf(request);
      const patienceMs = isWhole(request) ? 10_000 : PATIENCE_MS;
      let answer = await sendBytes(bytes, patienceMs);
      for (let tries = 0; isWhole(request) && answer.ms > MOST_MS && tries < TRIES; tries++) {
        const again = await sendBytes(bytes, patienceMs);
        answer = again.ms < answer.ms ? again : answer;
      }
      expect(answer.status).toBeLessThan(500);
      if (isWhole(request)) expect(Math.round(answer.ms)).toBeLessThan(MOST_MS);
      if (isWhole(request)) longest = Math.max(longest, answer.ms);
      if (answer.status > 0) answered += 1;
      expect([server.process.exitCode, server.complained()]).toEqual([null, '']);
    }),
    { numRuns: trials(50, 1000), seed: 20251125 },
  );
  expect((await ask(server, '/health')).status).toBe(200);
  expect((await ask(server, '/')).status).toBeLessThan(400);
  expect(brokenIn(server)).toEqual([]);
  measured(
    'Requests that no browser sends',
    `${sent} sent, ${answered} answered, the longest after ${Math.round(longest)} ms`,
  );
});
