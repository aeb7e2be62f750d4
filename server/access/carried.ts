import type { FastifyRequest } from 'fastify';
import type { Typed } from '../reading.ts';
import { bodyOf } from '../web.ts';

/** A form that could not be taken because the device was not signed in, with everything typed into it. */
export interface CarriedForm {
  url: string;
  typed: Typed;
}

/** Fields that belong to the page they were in, and passphrases, which never come back in a page. */
const NOT_CARRIED = ['formToken', 'carried', 'passphrase', 'again', 'old'];

/** The form as it was sent; null where there is nothing to carry, such as a form with a file. */
export function carriedBy(request: FastifyRequest): CarriedForm | null {
  const typed = Object.entries(bodyOf(request)).filter(([name]) => !NOT_CARRIED.includes(name));
  return typed.length === 0 ? null : { url: ownPath(request.url), typed: Object.fromEntries(typed) };
}

export const writeCarried = (form: CarriedForm): string => Buffer.from(JSON.stringify(form)).toString('base64url');

/** Reads what `writeCarried` wrote; null for anything else. The form leads to a page of ours, whatever it says. */
export function readCarried(text: string): CarriedForm | null {
  try {
    const { url, typed } = JSON.parse(Buffer.from(text, 'base64url').toString('utf8')) as Partial<CarriedForm>;
    if (typeof url !== 'string' || typeof typed !== 'object' || typed === null) return null;
    const fields = Object.entries(typed).map(([name, value]) => [name, String(value)] as const);
    return { url: ownPath(url), typed: Object.fromEntries(fields) };
  } catch {
    return null;
  }
}

/** An address of ours, such as /bins/CU2?done=1; '/' for whatever would lead elsewhere. */
export function ownPath(text: string): string {
  const here = 'http://tarebook.invalid';
  try {
    const { origin, pathname, search } = new URL(text, here);
    // What begins with two slashes is another host to a browser, wherever the second one came from.
    return text.startsWith('/') && origin === here && !pathname.startsWith('//') ? pathname + search : '/';
  } catch {
    return '/';
  }
}
