import type { FastifyRequest } from 'fastify';
import type { Reader, Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { type CarriedForm, ownPath, writeCarried } from './carried.ts';
import { LONGEST_PASSPHRASE, SHORTEST_PASSPHRASE } from './passphrase.ts';

const KINDS: readonly (readonly [RegExp, string])[] = [
  [/iPhone/, 'iPhone'],
  [/iPad/, 'iPad'],
  [/Android.*Mobile/, 'Android phone'],
  [/Android/, 'Android tablet'],
  [/Windows/, 'Windows computer'],
  [/Macintosh/, 'Mac'],
  [/Linux|CrOS/, 'Computer'],
];

/** What a device may be called: as it was before, else from what its browser says of itself. */
export const likelyName = (request: FastifyRequest): string =>
  request.visitor?.formerName ??
  KINDS.find(([pattern]) => pattern.test(request.headers['user-agent'] ?? ''))?.[1] ??
  'Device';

/** The sign-in form as it opens: where it leads to, or the form that waits behind it. */
export const startingSignIn = (
  request: FastifyRequest,
  { to, carried }: { to: string; carried: CarriedForm | null },
): Typed => ({
  to: ownPath(to),
  carried: carried === null ? '' : writeCarried(carried),
  device: likelyName(request),
});

export const LONGEST_DEVICE_NAME = 40;

export const readDeviceName = (reader: Reader): string =>
  reader.text('device', 'a name for this device', { required: true, longest: LONGEST_DEVICE_NAME });

/** Reads a new passphrase, typed twice, because nobody sees what they type. */
export function readNewPassphrase(reader: Reader): string {
  const passphrase = reader.raw('passphrase');
  const problem = problemOfPassphrase(passphrase);
  if (problem !== null) reader.problem('passphrase', problem);
  else if (passphrase !== reader.raw('again')) {
    reader.problem('again', 'The two are not the same. Type both once more.');
  }
  return passphrase;
}

/** Why a passphrase cannot be taken, or null. Length is all that is asked for (NIST SP 800-63B-4, 3.1.1.2). */
export function problemOfPassphrase(passphrase: string): string | null {
  const { length } = [...passphrase];
  if (length < SHORTEST_PASSPHRASE) {
    return `A passphrase has at least ${SHORTEST_PASSPHRASE} characters. Four or five words are easy to type and hard to guess.`;
  }
  return length > LONGEST_PASSPHRASE ? `A passphrase has at most ${LONGEST_PASSPHRASE} characters.` : null;
}

/** Fields that never come back into a page. */
export const withoutSecrets = ({ passphrase: _, again: __, old: ___, ...rest }: Typed): Typed => ({
  ...rest,
  requestKey: newRequestKey(),
});
