import type { FastifyError, FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { Show } from '../views/common/show.ts';
import { errorPage } from '../views/error.ts';
import { troubleOf } from './db/trouble.ts';
import { type Problems, Unreadable } from './reading.ts';
import { Refusal, type RefusalCode } from './refusal.ts';
import { defaultSettings } from './setup/settings.ts';
import { TooLarge } from './units/too-large.ts';
import { sendHtml, showOf } from './web.ts';

/** The one place where refusals and faults become answers. A form catches its own refusals before they get here. */
export function answerErrors(app: FastifyInstance): void {
  const pageAbove = addressesOfPosts(app);
  app.setErrorHandler((error: FastifyError | Refusal | Unreadable, request, reply) => {
    if (error instanceof Refusal) return tell(request, reply, statusOf(error), error.message);
    if (error instanceof Unreadable) return tell(request, reply, 422, sentences(error.problems));
    if (error instanceof TooLarge) return tell(request, reply, 422, error.message);
    const trouble = troubleOf(error);
    if (trouble !== null) return tell(request, reply, 503, trouble);
    const status = error.statusCode ?? 500;
    if (status === 413) return tell(request, reply, 413, 'That is more than a form or file may hold here.');
    if (status < 500) return tell(request, reply, status, 'The browser sent something that Tarebook cannot read.');
    // The person gets a calm page; whoever looks after the computer gets the fault itself.
    console.error(error);
    return tell(request, reply, 500, 'Something went wrong inside Tarebook. Nothing of this last step was saved.');
  });
  app.setNotFoundHandler((request, reply) => {
    const back = request.method === 'GET' ? pageAbove(request.url) : null;
    return back === null ? tell(request, reply, 404, 'There is no such page.') : reply.redirect(back, 303);
  });
}

/** What the browser should take it for; refusals of the ledger itself are 422. */
const STATUS: Partial<Record<RefusalCode, number>> = {
  not_found: 404,
  wrong_host: 421,
  wrong_origin: 403,
  not_let_in: 403,
  too_many_tries: 429,
  not_made: 503,
};

/** The status of what a form was refused for. */
export const statusOf = (error: unknown): number => (error instanceof Refusal ? STATUS[error.code] : undefined) ?? 422;

const sentences = (problems: Problems): string => Object.values(problems).join(' ');

function tell(request: FastifyRequest, reply: FastifyReply, status: number, sentence: string): FastifyReply {
  return sendHtml(reply, errorPage(showAnyway(request), sentence), status);
}

/** A damaged ledger may not even say how it is kept, and its reader is to be told all the same. */
function showAnyway(request: FastifyRequest): Show {
  try {
    return showOf(request);
  } catch (error) {
    if (troubleOf(error) === null) throw error;
    const { clock, isDemo } = request.server.tarebook;
    return new Show({ settings: defaultSettings, today: clock.today(), isDemo, isStranger: true, path: request.url });
  }
}

/**
 * A form that came back with problems stands at the address it was posted to, and Back asks for that address as a page.
 * So a GET of an address that only takes posts leads to the nearest page above it: /manifests/3/loading to /manifests/3.
 * @returns a function that gives that page's address, or null for an address that nothing posts to
 */
function addressesOfPosts(app: FastifyInstance): (url: string) => string | null {
  const pages: RegExp[] = [];
  const posts: RegExp[] = [];
  app.addHook('onRoute', ({ method, url }) => {
    const pattern = new RegExp(`^${url.replace(/[.*]/g, '\\$&').replace(/:\w+/g, '[^/]+')}$`);
    if ([method].flat().includes('GET')) pages.push(pattern);
    if ([method].flat().includes('POST')) posts.push(pattern);
  });
  const above = (path: string): string => path.slice(0, path.lastIndexOf('/'));
  return (url) => {
    const [path = ''] = url.split('?');
    if (!posts.some((pattern) => pattern.test(path))) return null;
    let page = above(path);
    while (page !== '' && !pages.some((pattern) => pattern.test(page))) page = above(page);
    return page || '/';
  };
}
