import { createHash } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { Show } from '../views/common/show.ts';
import type { SafeHtml } from '../views/html.ts';
import { FORM_TOKEN, formTokenOf } from './access/token.ts';
import { COOKIE, cookieRules, type Visitor } from './access/visitor.ts';
import type { Keeper } from './backups/keeper.ts';
import type { Clock } from './clock.ts';
import { type Ledger, openLedger } from './context.ts';
import type { Db } from './db/database.ts';
import { troubleOf } from './db/trouble.ts';
import { inTurn, untilFree } from './db/turn.ts';
import { KEY_AT_SENDING, type KeptPages, TOKEN_AT_SENDING } from './kept-pages.ts';
import type { LastEntry } from './last-entry.ts';
import { type Problems, Reader, type Typed, Unreadable } from './reading.ts';
import { Refusal } from './refusal.ts';
import { newRequestKey } from './request-key.ts';
import { once } from './trail.ts';
import type { Day } from './units/day.ts';
import { TooLarge } from './units/too-large.ts';

declare module 'fastify' {
  interface FastifyInstance {
    tarebook: {
      db: Db;
      clock: Clock;
      isDemo: boolean;
      openDemo: (() => Promise<string>) | null;
      lastEntry: LastEntry | null;
      /** Looks after the backups; null where the ledger is not kept, as of the demo. */
      backups: Keeper | null;
      homeUrls: () => readonly string[];
      refreshNetwork: () => Promise<void>;
      kept: KeptPages;
    };
  }
  interface FastifyContextConfig {
    /** Set on routes whose form may bring files: they read it with readUpload. */
    takesFiles?: boolean;
  }
  interface FastifyRequest {
    /** Who asks; null until the guard has met them. */
    visitor: Visitor | null;
  }
}

/** How many rows of a list stand on one page. */
export const ROWS_PER_PAGE = 100;

/** The ledger as this request sees it. */
export const ledgerOf = ({ server, visitor }: FastifyRequest): Ledger =>
  openLedger(server.tarebook.db, server.tarebook.clock, visitor?.device?.name);

/** How this ledger's figures are written, and what the frame of a page needs. */
export function showOf(request: FastifyRequest): Show {
  const { clock, isDemo } = request.server.tarebook;
  const { settings } = ledgerOf(request);
  const isStranger = request.visitor?.isLetIn !== true;
  return new Show({ settings, today: clock.today(), isDemo, isStranger, path: request.url });
}

const FORM = /<form method="post"[^>]*>/g;

/** Puts the browser's token into every form of a page, so that no view can forget it. */
function withFormTokens(page: string, formToken: string): string {
  const field = `<input type="hidden" name="${FORM_TOKEN}" value="${formToken}">`;
  return page.replace(FORM, (form) => form + field);
}

function sendText(reply: FastifyReply, text: string, status: number): FastifyReply {
  const { visitor } = reply.request;
  if (visitor?.needsCookie) reply.setCookie(COOKIE, visitor.token, cookieRules(reply.request));
  return reply.code(status).type('text/html; charset=utf-8').send(text);
}

export function sendHtml(reply: FastifyReply, body: SafeHtml, status = 200): FastifyReply {
  const { visitor } = reply.request;
  const text = String(body);
  return sendText(reply, visitor === null ? text : withFormTokens(text, formTokenOf(visitor.token)), status);
}

/**
 * Sends a page that whoever is let in sees alike until something is written, and makes it only when that happened. The
 * form token and a request key, which is never given out twice, are put in at each sending.
 * @param make writes the page, with the request key it is given in its form
 * @param beside what the page says that is in neither ledger, day nor address
 */
export function sendKept(
  request: FastifyRequest,
  reply: FastifyReply,
  make: (requestKey: string) => SafeHtml,
  beside: object = {},
): FastifyReply {
  const { db, clock, kept } = request.server.tarebook;
  if (request.visitor?.isLetIn !== true) return sendHtml(reply, make(newRequestKey()));
  const formToken = formTokenOf(request.visitor.token);
  const seen = `${request.url} ${JSON.stringify(beside)}`;
  const page = kept.page(`${db.version()} ${clock.today()}`, seen, () =>
    withFormTokens(String(make(KEY_AT_SENDING)), TOKEN_AT_SENDING),
  );
  return sendText(reply, page.replaceAll(KEY_AT_SENDING, newRequestKey).replaceAll(TOKEN_AT_SENDING, formToken), 200);
}

export const paramsOf = (request: FastifyRequest): Typed => request.params as Typed;

/** The id that a text is; 0, which no row has, when it is none. */
export const idIn = (text: string | undefined): number =>
  /^\d{1,15}$/.test(text ?? '') ? Number.parseInt(text ?? '', 10) : 0;

/** The id in an address such as /setup/bins/:id. */
export const paramId = (request: FastifyRequest): number => idIn(paramsOf(request).id);

/**
 * The fields of a form or address. A field that is there more than once is a list (ids, labels), joined by comma and
 * space: 123 sent twice must not be read as 123,123.
 */
export function typedOf(source: unknown): Typed {
  const fields: Record<string, string> = Object.create(null);
  for (const [name, value] of Object.entries((source ?? {}) as Record<string, unknown>)) {
    fields[name] = Array.isArray(value) ? value.map(String).join(', ') : String(value ?? '');
  }
  return fields;
}
export const bodyOf = (request: FastifyRequest): Typed => typedOf(request.body);
export const queryOf = (request: FastifyRequest): Typed => typedOf(request.query);

/** The ids of a field that joined several values. */
export const idsOf = (joined: string): number[] =>
  joined
    .split(',')
    .map((id) => idIn(id.trim()))
    .filter((id) => id > 0);

/** Page number from an address, from 1. */
export const pageNumber = (query: Typed): number => {
  const page = query.page ?? '';
  return /^[1-9]\d{0,5}$/.test(page) ? Number.parseInt(page, 10) : 1;
};

/** The first and the last day of a list's filter, '' for none; what is no day is noted in the reader and filters nothing. */
export function readPeriod(reader: Reader): { from: Day | null; to: Day | null } {
  const dayOrNull = (field: string): Day | null => (reader.raw(field) === '' ? null : (reader.day(field) ?? null));
  return { from: dayOrNull('from'), to: dayOrNull('to') };
}

/** Whether a list is filtered, and the addresses of the pages beside this one with the same filters; null for none. */
export interface ListAddresses {
  isFiltered: boolean;
  newer: string | null;
  older: string | null;
}

/**
 * The page of a long list that an address asks for, and the addresses of those beside it.
 * @param fields names of the filters, which every page keeps
 * @param read reads so many rows from a place on; one more than fit tells whether there is another page
 */
export function pageOfList<Row>(
  path: string,
  query: Typed,
  fields: readonly string[],
  read: (offset: number, count: number) => readonly Row[],
): { rows: Row[]; addresses: ListAddresses } {
  const found = read((pageNumber(query) - 1) * ROWS_PER_PAGE, ROWS_PER_PAGE + 1);
  const addresses = listAddresses(path, query, { fields, hasMore: found.length > ROWS_PER_PAGE });
  return { rows: found.slice(0, ROWS_PER_PAGE), addresses };
}

/** The pages beside the one that an address asks for. */
export function listAddresses(
  path: string,
  query: Typed,
  { fields, hasMore }: { fields: readonly string[]; hasMore: boolean },
): ListAddresses {
  const page = pageNumber(query);
  const filled = fields.flatMap((name): [string, string][] => {
    const value = (query[name] ?? '').trim();
    return value === '' ? [] : [[name, value]];
  });
  const address = (number: number): string =>
    `${path}?${new URLSearchParams(number === 1 ? filled : [...filled, ['page', String(number)]])}`;
  return {
    isFiltered: filled.length > 0,
    newer: page > 1 ? address(page - 1) : null,
    older: hasMore ? address(page + 1) : null,
  };
}

export interface FormPost {
  /** Reads and does; returns the address to show next. Throws Unreadable or Refusal to come back to the form. */
  act(ledger: Ledger, reader: Reader): string;
  /** The form again, with all that was typed and what was wrong. */
  again(show: Show, typed: Typed, problems: Problems): SafeHtml;
}

/**
 * Takes one form post: does it once for its key and redirects (303), or answers 422 with the form as it was typed.
 * Nothing of a refused post stays in the ledger.
 */
export async function submit(
  request: FastifyRequest,
  reply: FastifyReply,
  { act, again }: FormPost,
): Promise<FastifyReply> {
  const typed = bodyOf(request);
  const key = /^[\w-]{8,80}$/.test(typed.requestKey ?? '') ? (typed.requestKey as string) : newRequestKey();
  try {
    const fingerprint = fingerprintOf(request.url, typed);
    const location = await inTurn(request.server.tarebook.db, () => {
      const ledger = ledgerOf(request);
      return once(ledger, key, () => act(ledger, new Reader(typed, ledger.settings)), fingerprint);
    });
    return reply.redirect(location, 303);
  } catch (error) {
    const isUsed = error instanceof Refusal && error.code === 'form_used';
    const requestKey = isUsed ? newRequestKey() : key;
    const problems = problemsOf(error);
    const status = troubleOf(error) === null ? 422 : 503;
    return sendHtml(reply, again(showOf(request), { ...typed, requestKey }, problems), status);
  }
}

/** Lets a post that writes by itself, without `submit`, wait until no other program writes; a page waits for nobody. */
export async function waitForTurn({ method, server }: FastifyRequest): Promise<void> {
  if (method === 'POST') await untilFree(server.tarebook.db);
}

/** The same for two posts that say the same, whatever the order of their fields. */
function fingerprintOf(url: string, typed: Typed): string {
  const fields = Object.entries(typed).sort(([a], [b]) => (a < b ? -1 : 1));
  return createHash('sha256')
    .update(JSON.stringify([url, fields]))
    .digest('hex');
}

/** What the person should be told; anything that is not meant for them is thrown on. */
export function problemsOf(error: unknown): Problems {
  if (error instanceof Unreadable) return error.problems;
  if (error instanceof Refusal) return { [error.field]: error.message };
  if (error instanceof TooLarge) return { '': error.message };
  const trouble = troubleOf(error);
  if (trouble !== null) return { '': trouble };
  throw error;
}

/** Throws the refusal that the error handler shows as "not found". */
export function mustFind<T>(found: T | undefined, what: string): T {
  if (found === undefined)
    throw new Refusal('not_found', '', `There is no such ${what}. It may have another code or number.`);
  return found;
}
