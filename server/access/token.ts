import { createHash, createHmac, randomBytes, timingSafeEqual } from 'node:crypto';

const TOKEN_BYTES = 32;
const TOKEN = /^[\w-]{43}$/;

/** A new secret for one browser or one pairing: 256 bits in 43 characters. */
export const newToken = (): string => randomBytes(TOKEN_BYTES).toString('base64url');

export const isToken = (text: string): boolean => TOKEN.test(text);

/** What is kept of a token: whoever reads the ledger's file cannot sign in with it. */
export const hashToken = (token: string): string => createHash('sha256').update(token).digest('hex');

/** The field of every form that ties it to the browser it was made for. */
export const FORM_TOKEN = 'formToken';

/**
 * What the forms of one browser carry: only a page that Tarebook made for that browser can know it. It says nothing
 * about the token itself.
 */
export const formTokenOf = (token: string): string =>
  createHmac('sha256', token).update('tarebook form').digest('base64url');

/** Whether two texts are the same, without telling by the time it takes how far they agree. */
export function isSameSecret(a: string, b: string): boolean {
  const [first, second] = [Buffer.from(hashToken(a)), Buffer.from(hashToken(b))];
  return timingSafeEqual(first, second);
}
