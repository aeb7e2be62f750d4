import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { resendPage } from '../../views/access/resend.ts';
import { signInPage } from '../../views/access/sign-in.ts';
import { troubleOf } from '../db/trouble.ts';
import { ifFree } from '../db/turn.ts';
import { Refusal } from '../refusal.ts';
import { staticNames } from '../static-files.ts';
import { bodyOf, sendHtml, showOf } from '../web.ts';
import { carriedBy } from './carried.ts';
import { goOn } from './door.ts';
import { startingSignIn, withoutSecrets } from './forms.ts';
import { homeNames } from './network.ts';
import { noteSeen } from './queries.ts';
import { FORM_TOKEN } from './token.ts';
import { hasFormToken, LOOPBACK_NAMES, meet, nameOf, ownOrigin } from './visitor.ts';

/** What a browser gets before it is let in: the way in, and what the look of that page needs. */
const PUBLIC: ReadonlySet<string> = new Set([
  '/sign-in',
  '/pair/:code',
  '/pairings',
  '/health',
  ...staticNames.map((name) => `/static/${name}`),
]);

const isReading = ({ method }: FastifyRequest): boolean => method === 'GET' || method === 'HEAD';
/** A part of a page that is asked for while typing: its answer must not take the place of what was typed. */
const isFragment = (request: FastifyRequest): boolean => request.headers['hx-request'] !== undefined;

/**
 * The one gate. In order: the name that is asked for, the network, where a form comes from, whether the device is signed
 * in, and whether the form was made for this browser. Everything that is not listed as public is behind it.
 * @param hosts further names to answer to
 */
export function guard(app: FastifyInstance, hosts: readonly string[]): void {
  const known = new Set([...LOOPBACK_NAMES, ...homeNames(), ...hosts.map((host) => host.toLowerCase())]);
  app.decorateRequest('visitor', null);

  app.addHook('onRequest', async (request, reply) => {
    refuseOtherNames(request, known);
    request.visitor = meet(request);
    refuseNetworkWithoutPassphrase(request);
    noteVisit(request);
    if (isReading(request)) return isStranger(request) ? askWho(request, reply) : undefined;
    // Browsers send Origin with every post, over plain HTTP too.
    if (request.headers.origin === ownOrigin(request)) return undefined;
    throw new Refusal('wrong_origin', '', 'This form did not come from a page of Tarebook, so nothing was done.');
  });

  // By now the form is read, so that what was typed is not lost where the device has to sign in first.
  app.addHook('preValidation', async (request, reply) => {
    if (isReading(request)) return undefined;
    if (isStranger(request)) return askWho(request, reply);
    // Read part by part by its own route, which asks for the token before it takes the first file.
    if (request.isMultipart() && request.routeOptions.config.takesFiles) return undefined;
    if (!hasFormToken(request, bodyOf(request))) return askAgain(request, reply);
    // It is no part of what was typed, and the next page has its own.
    delete (request.body as Record<string, unknown>)[FORM_TOKEN];
    return undefined;
  });
}

/** A page elsewhere may point a name of its own at this address; under that name nothing is answered. */
function refuseOtherNames({ headers, server, url }: FastifyRequest, known: ReadonlySet<string>): void {
  // An address with a name of its own goes by that one, whatever Host says (RFC 9112, 3.2.2). No browser sends it here.
  const name = url.startsWith('/') ? nameOf(headers.host ?? '') : '';
  if (known.has(name) || server.tarebook.homeUrls().some((url) => new URL(url).hostname === name)) return;
  const say = 'Tarebook does not answer to this name. Use the address it printed when it started.';
  throw new Refusal('wrong_host', '', say);
}

function refuseNetworkWithoutPassphrase({ visitor }: FastifyRequest): void {
  if (visitor === null || visitor.isLetIn || visitor.hasPassphrase) return;
  throw new Refusal('not_let_in', '', 'Tarebook answers only the computer it runs on until a passphrase is set there.');
}

function noteVisit({ visitor, server }: FastifyRequest): void {
  const { db, clock } = server.tarebook;
  const { device } = visitor ?? {};
  if (!device || device.seen_on === clock.today()) return;
  try {
    // A page is not kept waiting for this: the next one notes it as well.
    ifFree(db, () => noteSeen(db, device.id, clock.today()));
  } catch (error) {
    // A full disk keeps nobody from reading.
    if (troubleOf(error) === null) throw error;
  }
}

const isStranger = ({ visitor, routeOptions }: FastifyRequest): boolean =>
  visitor?.isLetIn !== true && !PUBLIC.has(routeOptions.url ?? '');

/** Asks for the passphrase, and keeps the page that was wanted or the form that was sent until it is given. */
function askWho(request: FastifyRequest, reply: FastifyReply): FastifyReply {
  if (isFragment(request)) return reply.code(401).header('hx-reswap', 'none').send();
  if (isReading(request)) return reply.redirect(`/sign-in?${new URLSearchParams({ to: request.url })}`, 303);
  const typed = startingSignIn(request, { to: '', carried: carriedBy(request) });
  return sendHtml(reply, signInPage(showOf(request), { typed, problems: {} }), 401);
}

/** The form is of ours and from before this browser signed in: it is shown as it is, to be sent once more. */
function askAgain(request: FastifyRequest, reply: FastifyReply): FastifyReply {
  if (isFragment(request)) return reply.code(403).header('hx-reswap', 'none').send();
  if (request.routeOptions.url === '/sign-in') return signInAgain(request, reply);
  return sendHtml(reply, resendPage(showOf(request), carriedBy(request)), 403);
}

/** A sign-in page from before another tab let this device in, or took a cookie of its own: what waits behind it stays. */
function signInAgain(request: FastifyRequest, reply: FastifyReply): FastifyReply {
  const typed = bodyOf(request);
  if (request.visitor?.isLetIn) return goOn(request, reply, typed);
  const problems = { '': 'This page was older than the last one. Give the passphrase once more.' };
  return sendHtml(reply, signInPage(showOf(request), { typed: withoutSecrets(typed), problems }), 403);
}
