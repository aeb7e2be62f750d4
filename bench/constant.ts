import Fastify from 'fastify';

/**
 * A bare server that sends a constant: what any server on this machine can do at most. Prints its port.
 * Run as a process of its own with the number of characters to send.
 */
const body = 'x'.repeat(Number.parseInt(process.argv[2] ?? '', 10));
const app = Fastify();
app.get('/', async (_request, reply) => {
  reply.type('text/html; charset=utf-8');
  return body;
});
console.log(new URL(await app.listen({ host: '127.0.0.1', port: 0 })).port);
