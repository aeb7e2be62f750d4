import type { FastifyRequest } from 'fastify';
import { type Device, findDeviceByToken, passphraseHash } from './queries.ts';
import { FORM_TOKEN, formTokenOf, hashToken, isSameSecret, isToken, newToken } from './token.ts';

/** Who asks: the browser, the device it is signed in as, and whether it sits at this computer. */
export interface Visitor {
  /** The secret of this browser: that of its device, or one that only ties its forms to it. */
  token: string;
  device: Device | null;
  /** What it was called before it was signed out. */
  formerName: string | null;
  /** Whether it sees the ledger: a signed-in device, or this computer as long as there is no passphrase. */
  isLetIn: boolean;
  isAtThisComputer: boolean;
  hasPassphrase: boolean;
  /** Whether the answer should bring the cookie (again). */
  needsCookie: boolean;
}

export const COOKIE = 'tarebook';
/** As long as a browser keeps a cookie at most (RFC 6265bis: 400 days). It is given anew on each day it is used. */
const COOKIE_SECONDS = 400 * 24 * 60 * 60;

const LOOPBACK = new Set(['127.0.0.1', '::1', '::ffff:127.0.0.1']);
/** What this computer is called by itself. */
export const LOOPBACK_NAMES: ReadonlySet<string> = new Set(['127.0.0.1', 'localhost', '[::1]']);
const FORWARDING = ['forwarded', 'via', 'x-forwarded-for', 'x-forwarded-host', 'x-forwarded-proto', 'x-real-ip'];

/** The name in a Host header, without its port. */
export const nameOf = (host: string): string => host.replace(/:\d{1,5}$/, '').toLowerCase();

const isPassedOn = ({ headers }: FastifyRequest): boolean => FORWARDING.some((name) => headers[name] !== undefined);

const isLoopback = (request: FastifyRequest): boolean => LOOPBACK.has(request.socket.remoteAddress ?? '');

/**
 * Whether the browser runs on this computer: it comes by way of loopback, under its name, and nobody passed it on. A
 * proxy on this computer comes by way of loopback too, so that alone says nothing.
 */
const isAtThisComputer = (request: FastifyRequest): boolean =>
  isLoopback(request) && LOOPBACK_NAMES.has(nameOf(request.headers.host ?? '')) && !isPassedOn(request);

/** The device's address, for counting wrong passphrases: a proxy on this computer says whom it passes on. */
export function addressOf(request: FastifyRequest): string {
  const passedOn = request.headers['x-forwarded-for'];
  // The last one is what the proxy itself saw; what stands before it anybody may have written.
  const last = [passedOn].flat().join(',').split(',').at(-1)?.trim();
  return isLoopback(request) && last ? last : (request.socket.remoteAddress ?? '');
}

/**
 * Whether the browser speaks TLS, to a proxy that says so. Anybody can say so, but not a page from elsewhere on behalf
 * of somebody's browser, and that is all it guards against: it decides the expected Origin and the cookie's Secure.
 */
export const isOverTls = (request: FastifyRequest): boolean => request.headers['x-forwarded-proto'] === 'https';

/** The address that a page of ours has as its Origin. */
export const ownOrigin = (request: FastifyRequest): string =>
  `${isOverTls(request) ? 'https' : 'http'}://${request.headers.host}`;

export const cookieRules = (request: FastifyRequest) =>
  ({
    path: '/',
    httpOnly: true,
    sameSite: 'lax',
    secure: isOverTls(request),
    maxAge: COOKIE_SECONDS,
  }) as const;

/** Finds out who asks, from the cookie. */
export function meet(request: FastifyRequest): Visitor {
  const { db, clock } = request.server.tarebook;
  const sent = request.cookies[COOKIE] ?? '';
  const isKnown = isToken(sent);
  const token = isKnown ? sent : newToken();
  const hasPassphrase = passphraseHash(db) !== undefined;
  const found = hasPassphrase && isKnown ? (findDeviceByToken(db, hashToken(token)) ?? null) : null;
  const device = found?.signed_out_at === null ? found : null;
  return {
    token,
    device,
    formerName: device === null ? (found?.name ?? null) : null,
    isLetIn: hasPassphrase ? device !== null : isLoopback(request) && !isPassedOn(request),
    isAtThisComputer: isAtThisComputer(request),
    hasPassphrase,
    needsCookie: !isKnown || (device !== null && device.seen_on !== clock.today()),
  };
}

/** Whether a form was made for the browser that sends it. */
export const hasFormToken = ({ visitor }: FastifyRequest, typed: Readonly<Record<string, string>>): boolean =>
  visitor !== null && isSameSecret(typed[FORM_TOKEN] ?? '', formTokenOf(visitor.token));
