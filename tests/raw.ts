import { createConnection, type Socket } from 'node:net';
import type { FastifyInstance } from 'fastify';

// A client that sends bytes as they are: browsers and clients put addresses and headers right before they send them.

/** Where a server that listens can be spoken to. */
export interface Listening {
  host: string;
  port: number;
}

/** Listens on loopback, on a free port. */
export async function listen(app: FastifyInstance): Promise<Listening> {
  const { port } = new URL(await app.listen({ host: '127.0.0.1', port: 0 }));
  return { host: '127.0.0.1', port: Number(port) };
}

export const connect = (server: Listening): Promise<Socket> =>
  new Promise((resolve, reject) => {
    const socket = createConnection(server, () => resolve(socket)).once('error', reject);
  });

/** All that comes until the other side ends the connection, and after how many milliseconds it does. */
export function untilClosed(socket: Socket): Promise<{ said: string; afterMs: number }> {
  const begun = performance.now();
  const chunks: Buffer[] = [];
  socket.on('data', (chunk: Buffer) => chunks.push(chunk));
  socket.on('error', () => undefined);
  return new Promise((resolve) => {
    socket.once('close', () =>
      resolve({ said: Buffer.concat(chunks).toString('latin1'), afterMs: performance.now() - begun }),
    );
  });
}

export interface RawAnswer {
  /** 0 when the connection was ended without an answer. */
  status: number;
  /** By lower-case name; a header that is there twice is joined by a comma. */
  headers: Readonly<Record<string, string>>;
  body: string;
}

function readAnswer(said: string): RawAnswer {
  const [head = '', ...rest] = said.split('\r\n\r\n');
  const [first = '', ...lines] = head.split('\r\n');
  const headers: Record<string, string> = {};
  for (const line of lines) {
    const name = line.slice(0, line.indexOf(':')).toLowerCase();
    const value = line.slice(line.indexOf(':') + 1).trim();
    headers[name] = headers[name] === undefined ? value : `${headers[name]}, ${value}`;
  }
  return { status: Number(/^HTTP\/1\.1 (\d{3})/.exec(first)?.[1] ?? 0), headers, body: rest.join('\r\n\r\n') };
}

/**
 * Sends one request just as it is written, with "Connection: close", and reads its answer.
 * @param line the request line without its version, for example "GET /../x"
 */
export async function sendRaw(
  server: Listening,
  line: string,
  headers: readonly string[],
  body = '',
): Promise<RawAnswer> {
  const socket = await connect(server);
  const answer = untilClosed(socket);
  const head = [`${line} HTTP/1.1`, ...headers, 'Connection: close'].join('\r\n');
  socket.write(Buffer.from(`${head}\r\n\r\n${body}`, 'latin1'));
  return readAnswer((await answer).said);
}
