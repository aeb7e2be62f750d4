import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';

/**
 * Cost of one hash: N = 2^17, r = 8, p = 1, the least that OWASP asks for with scrypt (Password Storage Cheat Sheet).
 * It takes 128 MiB and about a third of a second here, which is what slows a guesser down.
 */
const COST = { N: 2 ** 17, r: 8, p: 1 } as const;
const KEY_BYTES = 32;
const SALT_BYTES = 16;
/** Node refuses a cost above 32 MiB unless it is told how much it may take: 128 N r, and a little. */
const MOST_MEMORY = 128 * COST.N * COST.r + 2 ** 20;

/** Shortest and longest passphrase, in characters. NIST SP 800-63B-4 asks for at least 8, and 15 where nothing else guards. */
export const SHORTEST_PASSPHRASE = 12;
export const LONGEST_PASSPHRASE = 200;

const AT_ONCE = 2;
const MOST_WAITING = 20;

/** Lets two hashes run at a time and the others wait: each holds 128 MiB, and a household types one now and then. */
class Places {
  #free = AT_ONCE;
  readonly #waiting: (() => void)[] = [];

  async take(): Promise<void> {
    if (this.#free > 0) {
      this.#free -= 1;
      return;
    }
    if (this.#waiting.length >= MOST_WAITING) throw new TooManyAtOnce();
    await new Promise<void>((go) => this.#waiting.push(go));
  }

  giveBack(): void {
    const next = this.#waiting.shift();
    if (next === undefined) this.#free += 1;
    else next();
  }
}

/** More passphrases were sent at once than a household ever does. */
export class TooManyAtOnce extends Error {}

const places = new Places();

async function derive(passphrase: string, salt: Buffer): Promise<Buffer> {
  await places.take();
  try {
    return await new Promise((resolve, reject) => {
      // One passphrase may be typed on several keyboards, which compose the same letter in different ways.
      scrypt(passphrase.normalize('NFKC'), salt, KEY_BYTES, { ...COST, maxmem: MOST_MEMORY }, (error, key) =>
        error === null ? resolve(key) : reject(error),
      );
    });
  } finally {
    places.giveBack();
  }
}

/** A passphrase as it is kept: "scrypt$salt$key", both in base64url, with a salt of its own. */
export async function hashPassphrase(passphrase: string): Promise<string> {
  const salt = randomBytes(SALT_BYTES);
  const key = await derive(passphrase, salt);
  return `scrypt$${salt.toString('base64url')}$${key.toString('base64url')}`;
}

/** Whether a passphrase is the one that was kept. Takes as long for a wrong one. @throws TooManyAtOnce */
export async function isPassphrase(passphrase: string, kept: string): Promise<boolean> {
  const [, salt = '', key = ''] = kept.split('$');
  const expected = Buffer.from(key, 'base64url');
  const found = await derive(passphrase, Buffer.from(salt, 'base64url'));
  return expected.length === found.length && timingSafeEqual(expected, found);
}
