import type { FastifyReply, FastifyRequest } from 'fastify';
import { resendPage } from '../../views/access/resend.ts';
import { Refusal } from '../refusal.ts';
import { ledgerOf, sendHtml, showOf } from '../web.ts';
import { ownPath, readCarried } from './carried.ts';
import { Pairing } from './pairing.ts';
import { isPassphrase, TooManyAtOnce } from './passphrase.ts';
import { passphraseHash } from './queries.ts';
import { Tries } from './tries.ts';
import { addressOf, COOKIE, cookieRules } from './visitor.ts';

/** What one server remembers of those who knock. Kept in memory: it is about minutes. */
export class Door {
  readonly tries = new Tries();
  readonly pairing = new Pairing();

  /** Throws unless this is the passphrase. Wrong ones cost the address they come from a wait. */
  async prove(request: FastifyRequest, passphrase: string, field: string): Promise<void> {
    const { db, clock } = ledgerOf(request);
    const [address, nowMs] = [addressOf(request), Date.parse(clock.now())];
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
