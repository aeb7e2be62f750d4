import type { FastifyReply, FastifyRequest } from 'fastify';
import { resendPage } from '../../views/access/resend.ts';
import { Refusal } from '../refusal.ts';
import { sendHtml, showOf } from '../web.ts';
import { ownPath, readCarried } from './carried.ts';
import { Pairing } from './pairing.ts';
import { isPassphrase, TooManyAtOnce } from './passphrase.ts';
import { passphraseHash } from './queries.ts';
import { Tries } from './tries.ts';
import { addressOf, COOKIE, cookieRules } from './visitor.ts';

/** Now, in milliseconds, by the clock that all of the ledger goes by. */
export const nowMsOf = (request: FastifyRequest): number => Date.parse(request.server.tarebook.clock.now());

/** What one server remembers of those who knock. Kept in memory: it is about minutes. */
export class Door {
  readonly tries = new Tries();
  readonly pairing = new Pairing();

  /** Throws unless this is the passphrase. Wrong ones cost the address they come from a wait. */
  async prove(request: FastifyRequest, passphrase: string, field: string): Promise<void> {
    const { db } = request.server.tarebook;
    const [address, nowMs] = [addressOf(request), nowMsOf(request)];
    const waitMs = this.tries.waitMs(address, nowMs);
    if (waitMs > 0) {
      const say = `Too many wrong tries from this device. Wait ${writeWait(waitMs)} and try again.`;
      throw new Refusal('too_many_tries', field, say);
    }
    this.tries.begin(address, nowMs);
    if (!(await isRight(passphrase, passphraseHash(db)))) {
      throw new Refusal('passphrase_wrong', field, 'This is not the passphrase. Capital letters and spaces count.');
    }
    this.tries.forget(address);
  }
}

async function isRight(passphrase: string, kept: string | undefined): Promise<boolean> {
  try {
    return kept !== undefined && (await isPassphrase(passphrase, kept));
  } catch (error) {
    if (!(error instanceof TooManyAtOnce)) throw error;
    throw new Refusal('too_many_tries', '', 'Many devices are signing in at once. Try again in a moment.');
  }
}

function writeWait(ms: number): string {
  const seconds = Math.ceil(ms / 1000);
  return seconds < 90 ? `${seconds} seconds` : `${Math.ceil(seconds / 60)} minutes`;
}

/** Gives the browser its new token: whatever it had before is worth nothing from now on. */
export function giveToken(request: FastifyRequest, reply: FastifyReply, token: string): void {
  reply.setCookie(COOKIE, token, cookieRules(request));
  if (request.visitor !== null) request.visitor = { ...request.visitor, token, isLetIn: true, needsCookie: false };
}

/** Where the device wanted to go before it was asked, or the form that waited. */
export function goOn(
  request: FastifyRequest,
  reply: FastifyReply,
  { to = '', carried = '' }: { to?: string; carried?: string },
): FastifyReply {
  const form = carried === '' ? null : readCarried(carried);
  return form === null ? reply.redirect(ownPath(to || '/'), 303) : sendHtml(reply, resendPage(showOf(request), form));
}
