import type { FastifyInstance } from 'fastify';
import { lastEntryPage } from '../../views/home/last-entry.ts';
import { newRequestKey } from '../request-key.ts';
import { noteEvent } from '../trail.ts';
import { sendHtml, showOf, submit } from '../web.ts';

/** Whether the ledger holds what was written into it last, and going on with it where it does not. */
export async function lastEntryRoutes(app: FastifyInstance): Promise<void> {
  const { lastEntry } = app.tarebook;
  const missing = () => lastEntry?.missing ?? null;

  app.get('/last-entry', async (request, reply) =>
    sendHtml(
      reply,
      lastEntryPage(showOf(request), missing(), { typed: { requestKey: newRequestKey() }, problems: {} }),
    ),
  );

  app.post('/last-entry/acceptance', async (request, reply) => {
    const expected = missing()?.expected;
    await submit(request, reply, {
      act(ledger) {
        if (expected !== undefined) {
          noteEvent(ledger, 'went on with a ledger that lacks its newest entries', 'setting', 0, {
            detail: `the last one was of ${expected.recordedAt}`,
          });
        }
        return '/';
      },
      again: (show, typed, problems) => lastEntryPage(show, missing(), { typed, problems }),
    });
    // Only now that it is written down: a ledger that could not even take that is not to be gone on with.
    if (reply.statusCode === 303) lastEntry?.accept();
    return reply;
  });
}
