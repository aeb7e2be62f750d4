import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { codeSpentPage, pairPage, signInPage } from '../../views/access/sign-in.ts';
import { statusOf } from '../errors.ts';
import { Reader, type Typed } from '../reading.ts';
import { bodyOf, ledgerOf, paramsOf, problemsOf, queryOf, sendHtml, showOf, waitForTurn } from '../web.ts';
import { letIn, signOut } from './acts.ts';
import { type Door, giveToken, goOn, nowMsOf } from './door.ts';
import { likelyName, readDeviceName, startingSignIn, withoutSecrets } from './forms.ts';
import { endSession } from './queries.ts';
import { COOKIE } from './visitor.ts';

/** The way in, for whoever is not signed in yet: by passphrase or by a pairing code; and the way out. */
export async function signInRoutes(app: FastifyInstance, { door }: { door: Door }): Promise<void> {
  app.addHook('preHandler', waitForTurn);
  app.get('/sign-in', (request, reply) => {
    const { to = '' } = queryOf(request);
    if (request.visitor?.isLetIn) return goOn(request, reply, { to });
    return signInAgain(request, reply, startingSignIn(request, { to, carried: null }));
  });

  app.post('/sign-in', async (request, reply) => {
    const typed = bodyOf(request);
    // Another tab was quicker.
    if (request.visitor?.isLetIn) return goOn(request, reply, typed);
    try {
      const name = readName(request, typed);
      await door.prove(request, (typed.passphrase ?? '').trim(), 'passphrase');
      admit(request, reply, name, 'passphrase');
      return goOn(request, reply, typed);
    } catch (error) {
      return signInAgain(request, reply, withoutSecrets(typed), error);
    }
  });

  app.get('/pair/:code', (request, reply) => {
    const { code = '' } = paramsOf(request);
    return door.pairing.isGood(code, nowMsOf(request))
      ? pairAgain(request, reply, { code, device: likelyName(request) })
      : sendHtml(reply, codeSpentPage(showOf(request)), 410);
  });

  app.post('/pairings', (request, reply) => {
    const typed = bodyOf(request);
    if (!door.pairing.isGood(typed.code ?? '', nowMsOf(request))) {
      return sendHtml(reply, codeSpentPage(showOf(request)), 410);
    }
    try {
      door.pairing.use(admit(request, reply, readName(request, typed), 'pairing'));
      return reply.redirect('/', 303);
    } catch (error) {
      return pairAgain(request, reply, typed, error);
    }
  });

  app.post('/sign-out', (request, reply) => {
    const { visitor } = request;
    if (visitor?.device) signOut(ledgerOf(request), visitor.device.id);
    return reply.clearCookie(COOKIE, { path: '/' }).redirect('/sign-in', 303);
  });
}

function readName(request: FastifyRequest, typed: Typed): string {
  const reader = new Reader(typed, ledgerOf(request).settings);
  const name = readDeviceName(reader);
  reader.done();
  return name;
}

/** Lets this browser in under a new token. @returns the name it goes by */
function admit(request: FastifyRequest, reply: FastifyReply, name: string, by: 'passphrase' | 'pairing'): string {
  const ledger = ledgerOf(request);
  const { visitor } = request;
  // A browser is one device: what it was signed in as before ends with this.
  if (visitor?.device) endSession(ledger.db, visitor.device.id, ledger.clock.now());
  const admitted = letIn(ledger, name, by);
  giveToken(request, reply, admitted.token);
  return admitted.name;
}

function signInAgain(request: FastifyRequest, reply: FastifyReply, typed: Typed, error?: unknown): FastifyReply {
  const problems = error === undefined ? {} : problemsOf(error);
  return sendHtml(reply, signInPage(showOf(request), { typed, problems }), error === undefined ? 200 : statusOf(error));
}

function pairAgain(request: FastifyRequest, reply: FastifyReply, typed: Typed, error?: unknown): FastifyReply {
  const problems = error === undefined ? {} : problemsOf(error);
  return sendHtml(
    reply,
    pairPage(showOf(request), typed.code ?? '', { typed, problems }),
    error === undefined ? 200 : statusOf(error),
  );
}
