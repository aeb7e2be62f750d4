import { connect } from 'node:net';
import { COOKIE } from '../server/access/visitor.ts';

/**
 * Asks one address again and again over a few connections that stay open, each asking as soon as it has its answer, and
 * prints how many answers came in a second. A process of its own, so that the server has a core to itself; it reads no
 * more of an answer than where it ends. Arguments: port, path, milliseconds.
 */
const CONNECTIONS = 10;
/** A first part of the time is not counted. */
const WARM_UP_SHARE = 0.25;

const [, , port = '', path = '', milliseconds = ''] = process.argv;
const begun = performance.now();
const length = Number.parseInt(milliseconds, 10);
const request = Buffer.from(
  `GET ${path} HTTP/1.1\r\nhost: 127.0.0.1:${port}\r\ncookie: ${COOKIE}=${'bench-'.padEnd(43, '0')}\r\n\r\n`,
);
let answers = 0;

/** How long the whole answer is that begins with this piece. Throws on anything but a page. */
function lengthOf(piece: Buffer): number {
  const head = piece.toString('latin1', 0, piece.indexOf('\r\n\r\n') + 4);
  const body = /content-length: (\d+)/i.exec(head)?.[1];
  if (!head.startsWith('HTTP/1.1 200') || body === undefined) throw new Error(`${path} answers ${head.slice(0, 200)}`);
  return head.length + Number.parseInt(body, 10);
}

/** Asks over one connection until the time is over. */
const askOn = (): Promise<void> =>
  new Promise((resolve, reject) => {
    let missing = 0;
    const socket = connect({ host: '127.0.0.1', port: Number.parseInt(port, 10), noDelay: true });
    socket.once('connect', () => socket.write(request));
    socket.on('data', (piece) => {
      if (missing === 0) missing = lengthOf(piece);
      missing -= piece.length;
      if (missing > 0) return;
      const since = performance.now() - begun;
      if (since > length) return void socket.end(resolve);
      if (since > length * WARM_UP_SHARE) answers += 1;
      socket.write(request);
    });
    socket.once('error', reject);
  });

await Promise.all(Array.from({ length: CONNECTIONS }, askOn));
console.log((answers * 1000) / (length * (1 - WARM_UP_SHARE)));
