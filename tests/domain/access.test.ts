import { createHook } from 'node:async_hooks';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { ownPath, readCarried, writeCarried } from '../../server/access/carried.ts';
import { Pairing } from '../../server/access/pairing.ts';
import { hashPassphrase, isPassphrase, TooManyAtOnce } from '../../server/access/passphrase.ts';
import { formTokenOf, isToken, newToken } from '../../server/access/token.ts';
import { Tries } from '../../server/access/tries.ts';

const KEPT = 'scrypt$AAAA$AAAA';

describe('the passphrase', () => {
  test('is known again, however a keyboard composes its letters, and no other is', async () => {
    const kept = await hashPassphrase('Käse und Brücke');
    expect(await isPassphrase('Käse und Brücke'.normalize('NFD'), kept)).toBe(true);
    expect(await isPassphrase('Kase und Brucke', kept)).toBe(false);
    expect(kept).toMatch(/^scrypt\$[\w-]{22}\$[\w-]{43}$/);
    expect(await hashPassphrase('Käse und Brücke')).not.toBe(kept);
  });

  test('is hashed twice at a time at most, and a crowd is sent away', async () => {
    const running = new Set<number>();
    let most = 0;
    const hook = createHook({
      init(id, type) {
        if (type === 'SCRYPTREQUEST') running.add(id);
        most = Math.max(most, running.size);
      },
      before: (id) => void running.delete(id),
    }).enable();
    const results = await Promise.allSettled(Array.from({ length: 24 }, () => isPassphrase('x', KEPT)));
    hook.disable();
    expect(most).toBe(2);
    const sentAway = results.filter((each) => each.status === 'rejected');
    expect(sentAway.map(({ reason }) => reason instanceof TooManyAtOnce)).toEqual([true, true]);
  }, 60_000);
});

describe('tokens', () => {
  test('have 256 bits, and a form token tells nothing of the token', () => {
    const tokens = Array.from({ length: 1000 }, newToken);
    expect(new Set(tokens).size).toBe(1000);
    expect(tokens.every(isToken)).toBe(true);
    expect(Buffer.from(tokens[0] ?? '', 'base64url').length).toBe(32);
    expect(formTokenOf(tokens[0] ?? '')).not.toBe(formTokenOf(tokens[1] ?? ''));
  });
});

describe('wrong tries', () => {
  test('five are free, then each wait is twice the last, up to a quarter of an hour', () => {
    const tries = new Tries();
    let nowMs = 0;
    const waits: number[] = [];
    for (let count = 0; count < 16; count += 1) {
      tries.begin('a', nowMs);
      const wait = tries.waitMs('a', nowMs);
      waits.push(wait / 1000);
      nowMs += wait;
    }
    expect(waits).toEqual([0, 0, 0, 0, 5, 10, 20, 40, 80, 160, 320, 640, 900, 900, 900, 900]);
  });

  test('no address ever waits for what another did, and a right one clears its own', () => {
    const step = fc.record({
      address: fc.constantFrom('a', 'b', 'c'),
      isRight: fc.boolean(),
      afterMs: fc.nat(100_000),
    });
    fc.assert(
      fc.property(fc.array(step, { maxLength: 60 }), (steps) => {
        const [all, alone] = [new Tries(), new Tries()];
        let nowMs = 0;
        for (const { address, isRight, afterMs } of steps) {
          nowMs += afterMs;
          for (const tries of address === 'a' ? [all, alone] : [all]) {
            tries.begin(address, nowMs);
            if (isRight) tries.forget(address);
          }
          expect(all.waitMs('a', nowMs)).toBe(alone.waitMs('a', nowMs));
        }
      }),
    );
  });

  test('many addresses do not fill the memory, and the newest are still counted', () => {
    const tries = new Tries();
    for (let count = 0; count < 5000; count += 1) tries.begin(`10.0.${count >> 8}.${count & 255}`, count);
    for (let count = 0; count < 5; count += 1) tries.begin('b', 5000 + count);
    expect(tries.waitMs('b', 5004)).toBe(5000);
    expect(tries.waitMs('10.0.0.0', 5004)).toBe(0);
  });
});

describe('a pairing code', () => {
  test('is good once, for five minutes, and until the next one is made', () => {
    const pairing = new Pairing();
    expect(pairing.isGood('', 0)).toBe(false);
    const first = pairing.offer(0);
    expect(pairing.isGood(first, 299_999)).toBe(true);
    expect(pairing.isGood(first, 300_000)).toBe(false);
    const second = pairing.offer(0);
    expect([pairing.isGood(first, 1), pairing.isGood(second, 1)]).toEqual([false, true]);
    pairing.use('Garage phone');
    expect([pairing.isGood(second, 1), pairing.letIn]).toEqual([false, 'Garage phone']);
  });
});

describe('addresses to go on to', () => {
  test('whatever is typed leads to this server', () => {
    fc.assert(
      fc.property(
        fc.oneof(fc.webUrl(), fc.string(), fc.webPath(), fc.constantFrom('//a.example', '/\\a.example')),
        (text) => {
          const path = ownPath(text);
          expect(path).toMatch(/^\/(?![/\\])/);
          expect(new URL(path, 'http://127.0.0.1:4870').host).toBe('127.0.0.1:4870');
        },
      ),
    );
    expect(ownPath('/bins/CU2?done=1')).toBe('/bins/CU2?done=1');
  });

  test('a form that waits comes back as it was, and nothing else is read as one', () => {
    const form = { url: '/bins/CU2/recounts', typed: { net: '10', note: '“dirt” <b>' } };
    expect(readCarried(writeCarried(form))).toEqual(form);
    expect(readCarried(writeCarried({ url: 'http://elsewhere.example/x', typed: {} }))?.url).toBe('/');
    fc.assert(fc.property(fc.string(), (text) => void readCarried(text)));
    expect(readCarried('')).toBeNull();
  });
});
